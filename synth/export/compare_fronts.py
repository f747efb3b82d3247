"""Pictures of a comparison: fronts over each other, attainment, and what is built along a front."""

from collections.abc import Mapping, Sequence
from itertools import combinations
from typing import Any

import numpy as np
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.ticker import MaxNLocator

from synth.export.compare_style import (
    WIDTH,
    Document,
    entry_styles,
    family_styles,
    legend,
    plain,
    scale,
    steps,
    title,
    values,
)
from synth.export.engineering import shown
from synth.export.sheet import INK, sheet

_ACROSS = 3
_LEVELS = {"one": ("at least one", "-", 1.6), "half": ("at least half", (0, (5, 1.6)), 1.2),
           "every": ("every one", (0, (1.2, 1.2)), 1.2)}  # fmt: skip


def _grid(count: int, head: float, tall: float = 56.0) -> tuple[Figure, list[Any], float]:
    """Figure, axes in reading order, height in mm; head: mm left for a legend."""
    across = min(count, _ACROSS)
    down = -(-count // across)
    height = head + 12.0 + tall * down
    figure = sheet(WIDTH, height)
    axes = figure.subplots(down, across, squeeze=False)
    figure.subplots_adjust(left=15.0 / WIDTH, right=1.0 - 3.0 / WIDTH, bottom=12.0 / height, top=1.0 - head / height,
                           wspace=0.30, hspace=0.34)  # fmt: skip
    flat = [a for row in axes for a in row]
    for spare in flat[count:]:
        spare.set_visible(False)
    return figure, flat[:count], height


def _pairs(document: Document) -> list[tuple[Mapping[str, Any], Mapping[str, Any]]]:
    return list(combinations(document["objectives"], 2))


def _by_entry(document: Document) -> dict[str, list[Mapping[str, Any]]]:
    found: dict[str, list[Mapping[str, Any]]] = {e["label"]: [] for e in document["entries"] if e["rows"]}
    for r in document["rows"]:
        found[r["entry"]].append(r)
    return found


def _entry_handles(labels: Sequence[str]) -> list[Line2D]:
    styles = entry_styles(labels)
    return [Line2D([], [], color=c, ls=ls, lw=1.6, label=name) for name, (c, ls) in styles.items()]


def _family_handles(document: Document) -> list[Line2D]:
    return [Line2D([], [], ls="", marker=m, ms=5, mfc="white", mec=INK, mew=0.8, label=f.replace("_", " "))
            for f, (m, _) in family_styles(document).items()]  # fmt: skip


def fronts_figure(document: Document) -> Figure:
    """Every pair of objectives: candidates, the edge attained in that pair, and each knee."""
    entries = _by_entry(document)
    styles, marks = entry_styles(list(entries)), family_styles(document)
    handles = [*_entry_handles(list(entries)), *_family_handles(document),
               Line2D([], [], ls="", marker="o", ms=9, mfc="none", mec=INK, mew=1.0, label="knee")]  # fmt: skip
    columns = 4 if len(handles) > 8 else 5
    pairs = _pairs(document)
    figure, axes, height = _grid(len(pairs), 5.0 + 4.6 * -(-len(handles) // columns))
    for place, (x, y) in zip(axes, pairs, strict=True):
        plain(place)
        for k, (label, rows) in enumerate(entries.items()):
            colour, line = styles[label]
            width = 1.3 + 1.5 * (1.0 - (k + 1) / len(entries))  # where fronts coincide all of them stay in sight
            a, b = values(rows, x["metric"]), values(rows, y["metric"])
            place.plot(*steps(a, b, (x["sign"], y["sign"])), drawstyle="steps-post", color=colour, ls=line, lw=width)
            for family, (mark, _) in marks.items():
                mine = np.array([r["family"] == family for r in rows])
                place.scatter(a[mine], b[mine], s=10, marker=mark, facecolors="none", edgecolors=colour,
                              linewidths=0.5, alpha=0.7)  # fmt: skip
        for e in document["entries"]:
            if e["knee"]:
                at = [e["knee"]["values"][o["metric"]] * shown(o["metric"]).scale for o in (x, y)]
                place.plot(*([v] for v in at), marker="o", ms=8.5, mfc="none", mec=INK, mew=0.9, ls="", zorder=5)
        for which, o in (("x", x), ("y", y)):
            scale(place, which, values(document["rows"], o["metric"]))
        place.set_xlabel(title(x["metric"]))
        place.set_ylabel(title(y["metric"]))
    legend(figure, handles, height, columns)
    return figure


def attainment_figure(document: Document) -> Figure:
    """What one, half and every front attains in each pair of objectives."""
    surfaces = document["attainment"]
    figure, axes, height = _grid(len(surfaces), 9.0, 50.0)
    # of two fronts half is one of them
    drawn = {n: v for n, v in _LEVELS.items() if n != "half" or len(document["entries"]) > 2}
    for place, s in zip(axes, surfaces, strict=True):
        plain(place)
        data = []
        for name, (_, line, width) in drawn.items():
            points = np.array(s["surfaces"][name], dtype=np.float64).reshape(-1, 2)
            points = points * [shown(s["x"]).scale, shown(s["y"]).scale]
            points = points[np.argsort(points[:, 0], kind="stable")]
            place.plot(points[:, 0], points[:, 1], drawstyle="steps-post", color=INK, ls=line, lw=width)
            data.append(points)
        whole = np.concatenate(data)
        scale(place, "x", whole[:, 0])
        scale(place, "y", whole[:, 1])
        place.set_xlabel(title(s["x"]))
        place.set_ylabel(title(s["y"]))
    handles = [Line2D([], [], color=INK, ls=ls, lw=w, label=f"attained by {t}") for t, ls, w in drawn.values()]
    legend(figure, handles, height, 3)
    return figure


def built_figure(document: Document) -> Figure:
    """Panel count and panel thickness along each front, over the first objective and over the second."""
    entries = _by_entry(document)
    styles, marks = entry_styles(list(entries)), family_styles(document)
    handles = [*_entry_handles(list(entries)), *_family_handles(document)]
    columns = 4 if len(handles) > 8 else 5
    along = document["objectives"][:2]
    thick = any(r["thickness_m"] is not None for r in document["rows"])
    head = 5.0 + 4.6 * -(-len(handles) // columns)
    height = head + 12.0 + (92.0 if thick else 48.0)
    figure = sheet(WIDTH, height)
    grid = figure.subplots(2 if thick else 1, len(along), squeeze=False, sharey="row", sharex="col")
    figure.subplots_adjust(left=13.0 / WIDTH, right=1.0 - 3.0 / WIDTH, bottom=12.0 / height, top=1.0 - head / height,
                           wspace=0.08, hspace=0.14)  # fmt: skip
    for column, o in enumerate(along):
        for label, rows in entries.items():
            for family, (mark, _) in marks.items():
                mine = [r for r in rows if r["family"] == family]
                x = values(mine, o["metric"])
                look: dict[str, Any] = {"s": 13, "marker": mark, "facecolors": "none", "alpha": 0.75,
                                        "edgecolors": styles[label][0], "linewidths": 0.7}  # fmt: skip
                grid[0, column].scatter(x, [r["panel_count"] for r in mine], **look)
                if thick:
                    known = np.array([r["thickness_m"] is not None for r in mine], dtype=bool)
                    told = [1e3 * r["thickness_m"] for r in mine if r["thickness_m"] is not None]
                    grid[1, column].scatter(x[known], told, **look)
        for place in grid[:, column]:
            plain(place)
            scale(place, "x", values(document["rows"], o["metric"]))
        grid[-1, column].set_xlabel(title(o["metric"]))
    grid[0, 0].set_ylabel("panels")
    counts = [r["panel_count"] for r in document["rows"]]
    grid[0, 0].set_ylim(min(counts) - 0.5, max(counts) + 0.5)
    grid[0, 0].yaxis.set_major_locator(MaxNLocator(integer=True, nbins=8))
    if thick:
        grid[1, 0].set_ylabel("panel thickness [mm]")
    legend(figure, handles, height, columns)
    return figure
