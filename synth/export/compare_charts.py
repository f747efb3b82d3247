"""Pictures of a comparison: what more buys, who wins where, what binds."""

from typing import Any

import matplotlib
import numpy as np
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from synth.export.compare_style import WIDTH, Document, family_styles, legend, plain, scale, title, values
from synth.export.engineering import shown
from synth.export.rates import amount, resource_name, resource_unit
from synth.export.sheet import FAINT, INK, sheet

HATCHES = ("", "////", "....", "xxxx", "----", "||||", "++++", "oo", "**", "OO", "..//")
"""Told apart in grey too."""


def chains(document: Document) -> list[dict[str, Any]]:
    """Series of entries, each allowed more of the same thing than the one before: {resource, unit, entries, amounts}.

    Steps that differ in more than one thing but volume count as steps in volume.
    """
    found: dict[tuple[str, str], list[tuple[str, str, float, float]]] = {}
    for c in document["exchange"]["between"]:
        key = (c["resource"], c["resource_unit"])
        step = (*c["entries"], *c["amount"])
        if step not in found.setdefault(key, []):
            found[key].append(step)
    made = []
    for (resource, unit), steps in sorted(found.items(), key=lambda kv: kv[0][0] == "envelope.volume"):
        amounts: dict[str, float] = {}
        for a, b, before, after in steps:
            amounts[a], amounts[b] = before, after
        follows = {a: b for a, b, *_ in steps}
        for first in [a for a in follows if a not in follows.values()]:
            names = [first]
            while names[-1] in follows:
                names.append(follows[names[-1]])
            made.append({"resource": resource, "unit": unit, "entries": names, "amounts": [amounts[n] for n in names]})
    longest = max((len(m["entries"]) for m in made), default=0)
    return [m for m in made if len(m["entries"]) == longest or m["resource"] != "envelope.volume"][:3]


def gains_figure(document: Document, chain: dict[str, Any]) -> Figure:
    """Best and knee value of each objective over what is allowed."""
    objectives = document["objectives"]
    entries = {e["label"]: e for e in document["entries"]}
    unit, factor = resource_unit(chain["resource"], chain["unit"])
    x = np.array(chain["amounts"]) * factor
    height = 64.0
    figure = sheet(WIDTH, height)
    axes = figure.subplots(1, len(objectives), squeeze=False)[0]
    figure.subplots_adjust(left=14.0 / WIDTH, right=1.0 - 4.0 / WIDTH, bottom=12.0 / height, top=1.0 - 9.0 / height,
                           wspace=0.32)  # fmt: skip
    for place, o in zip(axes, objectives, strict=True):
        plain(place)
        m, how = o["metric"], shown(o["metric"])
        best = np.array([entries[n]["least"][m]["values"][m] for n in chain["entries"]]) * how.scale
        knee = np.array([entries[n]["knee"]["values"][m] for n in chain["entries"]]) * how.scale
        place.plot(x, knee, color="#d55e00", ls=(0, (5, 1.6)), marker="s", ms=4, mfc="white", lw=1.2)
        place.plot(x, best, color="#0072b2", marker="o", ms=4.5, lw=1.6)
        scale(place, "y", np.concatenate([best, knee]))
        scale(place, "x", x)
        place.margins(x=0.13)
        place.set_xlabel(f"{resource_name(chain['resource'])} [{unit}]")
        place.set_ylabel(title(m))
        if place.get_yscale() == "linear" and min(best.min(), knee.min()) >= 0.0:
            place.set_ylim(bottom=0.0, top=1.08 * max(best.max(), knee.max()))
        for n, at in zip(chain["entries"], x, strict=True) if len(x) <= 6 else ():
            place.axvline(at, lw=0.4, color=FAINT, ls=(0, (2, 2)), zorder=0)
            place.text(at, 0.03, f" {n}", transform=place.get_xaxis_transform(), rotation=90, fontsize=6, color=FAINT,
                       ha="right", va="bottom")  # fmt: skip
    at_knee: Any = {"color": "#d55e00", "ls": (0, (5, 1.6)), "marker": "s", "ms": 4, "mfc": "white"}
    handles = [
        Line2D([], [], color="#0072b2", marker="o", ms=4.5, lw=1.6, label="best on the front"),
        Line2D([], [], label="at the knee", **at_knee),
    ]
    legend(figure, handles, height, 2)
    return figure


def winners_figure(document: Document) -> Figure:
    """A band an entry: the family that has the best of one objective, over another."""
    pairs = list(dict.fromkeys((w["x"], w["y"]) for w in document["winners"]))
    labels = list(dict.fromkeys(w["entry"] for w in document["winners"]))
    marks = family_styles(document)
    signs = {o["metric"]: o["sign"] for o in document["objectives"]}
    across = min(3, len(pairs))
    down = -(-len(pairs) // across)
    tall, between = 3.0 + 5.6 * len(labels), 18.0
    height = 26.0 + tall * down + between * (down - 1)
    figure = sheet(WIDTH, height)
    grid = figure.subplots(down, across, squeeze=False, sharey=True)
    left = 6.0 + 1.35 * max((len(n) for n in labels), default=1)
    figure.subplots_adjust(left=left / WIDTH, right=1.0 - 4.0 / WIDTH, bottom=11.0 / height,
                           top=1.0 - 15.0 / height, wspace=0.10, hspace=between / tall)  # fmt: skip
    flat = [a for row in grid for a in row]
    for spare in flat[len(pairs) :]:
        spare.set_visible(False)
    hatches = dict(zip(marks, HATCHES, strict=False))
    for place, (x, y) in zip(flat, pairs, strict=False):
        plain(place)
        place.grid(False, axis="y")
        for w in document["winners"]:
            if (w["x"], w["y"]) == (x, y):
                for s in w["stretches"]:
                    ends = sorted(v * signs[x] * shown(x).scale for v in s["x"])
                    place.barh(labels.index(w["entry"]), ends[1] - ends[0], left=ends[0], height=0.66,
                               color=marks[s["family"]][1], edgecolor="white", linewidth=0.4,
                               hatch=hatches[s["family"]])  # fmt: skip
        scale(place, "x", values(document["rows"], x))
        place.set_yticks(range(len(labels)), labels)
        place.tick_params(axis="y", length=0)
        place.set_ylim(len(labels) - 0.4, -0.6)
        place.set_xlabel(title(x))
        place.set_title(f"best {shown(y).title}", fontsize=8, loc="left")
    patches: Any = [Patch(facecolor=c, edgecolor="white", hatch=hatches[f], label=f.replace("_", " "))
                    for f, (_, c) in marks.items()]  # fmt: skip
    legend(figure, patches, height, 6)
    return figure


def binding_figure(document: Document) -> Figure | None:
    """Share of each front's rows where a requirement binds; None where none does."""
    labels = [e["label"] for e in document["entries"] if e["rows"]]
    share = {(b["requirement"], b["entry"]): b["binds"] for b in document["binding"]}
    names = [n for n in dict.fromkeys(n for n, _ in share) if any(share.get((n, e), 0.0) > 0.0 for e in labels)]
    if not names:
        return None
    table = np.array([[share.get((n, e), 0.0) for e in labels] for n in names])
    longest = max(len(e) for e in labels)
    turn = len(labels) > 4 or 1.45 * longest > 24.0  # mm: a head as wide as its column and no wider
    head = 7.0 + 1.3 * longest * (0.62 if turn else 0.0)
    height = head + 4.0 + 7.0 * len(names)
    figure = sheet(WIDTH, height)
    wide = min(24.0 * len(labels), WIDTH - 54.0 - (1.2 * longest if turn else 4.0))
    axes = figure.add_axes((54.0 / WIDTH, 3.0 / height, wide / WIDTH, 7.0 * len(names) / height))
    tints = matplotlib.colors.LinearSegmentedColormap.from_list("tint", ["#ffffff", "#0072b2"])
    edges = (np.arange(-0.5, len(labels)), np.arange(-0.5, len(names)))
    axes.pcolormesh(*edges, table, cmap=tints, vmin=0.0, vmax=1.0, edgecolors="white", linewidth=1.5)
    axes.invert_yaxis()
    for (row, column), v in np.ndenumerate(table):
        axes.text(column, row, f"{100 * v:.0f}" if v else "-", ha="center", va="center", fontsize=7.5,
                  color="white" if v > 0.55 else INK)  # fmt: skip
    axes.set_yticks(range(len(names)), names, fontsize=7.5)
    turned = 35 if turn else 0
    axes.set_xticks(range(len(labels)), labels, fontsize=7.5, rotation=turned, ha="left" if turned else "center")
    axes.xaxis.tick_top()
    axes.tick_params(length=0)
    axes.spines[:].set_visible(False)
    return figure


def chain_title(chain: dict[str, Any]) -> str:
    """What the picture of a chain is about."""
    first, last = (amount(v, chain["resource"], chain["unit"]) for v in (chain["amounts"][0], chain["amounts"][-1]))
    return f"{resource_name(chain['resource'])} from {first} to {last}"
