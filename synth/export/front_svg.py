"""front.svg: the objectives of a run against each other, a row an envelope, a mark a family."""

from collections.abc import Sequence
from itertools import combinations
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from synth.core.arrays import Floats
from synth.export.engineering import shown
from synth.export.sheet import FAINT, INK, drawing, save, sheet
from synth.export.show import knee_id
from synth.fronts.front import Front, Row
from synth.fronts.indicators import nondominated
from synth.problem.objective import Objective

_COLOURS = ("#0072b2", "#d55e00", "#009e73", "#cc79a7", "#e69f00", "#56b4e9", "#8c6d1f", "#4d4d4d")
"""Told apart with all common kinds of colour vision (Okabe and Ito 2008, seen; two added)."""
_MARKERS = ("o", "s", "^", "D", "v", "P", "X", "p", "h", "<", ">")
_FAMILIES = ("accordion", "map_fold", "miura", "wrapped_hub", "petal", "wing", "segment_stack", "slat_roll")
"""The same mark in every picture, whichever families a run has; others follow in alphabetical order."""
MOST_PAIRS = 6
_LOGARITHMIC = 12.0
"""Ratio of greatest to least value from which an axis is logarithmic."""


def write_front_svg(folder: Path, front: Front, objectives: Sequence[Objective], envelopes: Sequence[str] = ()) -> Path:
    """Draws the front of a run into folder/front.svg. envelopes: names in the order wanted, those without rows too.

    The same front gives the same bytes.
    """
    with drawing():
        figure = front_figure(front, objectives, envelopes)
        return save(figure, folder / "front", kinds=("svg",))[0]


def front_figure(front: Front, objectives: Sequence[Objective], envelopes: Sequence[str] = ()) -> Figure:
    """The picture itself; to be drawn in the house style."""
    names = list(dict.fromkeys([*envelopes, *front.envelopes])) or ["no envelope"]
    pairs = _pairs(objectives)
    marks = family_marks(sorted({r.family for r in front.rows}))
    handles = _handles(marks, front.rows, len(names) > 1)
    width = 26.0 + 74.0 * len(pairs)
    across = max(2, int(width // 31.0))
    head = 12.0 + 5.0 * -(-len(handles) // across)
    height = head + 14.0 + 62.0 * len(names)
    figure = sheet(width, height)
    grid = figure.subplots(len(names), len(pairs), squeeze=False, sharex="col", sharey="col")
    top = 1.0 - head / height
    figure.subplots_adjust(left=20.0 / width, right=1.0 - 5.0 / width, bottom=14.0 / height, top=top,
                           wspace=0.30, hspace=0.20)  # fmt: skip
    for row, name in enumerate(names):
        rows = front.of(name).rows
        best = knee_id(rows, objectives)
        for column, pair in enumerate(pairs):
            axes = grid[row, column]
            others = [r for r in front.rows if r.envelope != name and r.feasible]
            _one(axes, rows, others, pair, marks, best)
            if column == 0:
                axes.set_title(_headline(name, rows), fontsize=8.5, loc="left")
            if row == len(names) - 1:
                axes.set_xlabel(_label(pair[0]))
            axes.set_ylabel(_label(pair[1]))
    for column, pair in enumerate(pairs):
        _scales(grid[0, column], front.rows, pair)
    figure.legend(handles=handles, loc="upper left", ncols=across, frameon=False, fontsize=8,
                  bbox_to_anchor=(0.0, 1.0 - 1.5 / height), handletextpad=0.4, columnspacing=1.4)  # fmt: skip
    return figure


def _pairs(objectives: Sequence[Objective]) -> list[tuple[Objective, Objective]]:
    """All pairs; of many objectives those with the first."""
    pairs = list(combinations(objectives, 2))
    return pairs if len(pairs) <= MOST_PAIRS else [(objectives[0], other) for other in objectives[1:]]


def family_marks(families: Sequence[str]) -> dict[str, tuple[str, str]]:
    """Marker and colour of each family."""
    known = [*_FAMILIES, *(f for f in families if f not in _FAMILIES)]
    place = {name: k for k, name in enumerate(known)}
    ordered = sorted(families, key=lambda f: place[f])
    return {f: (_MARKERS[place[f] % len(_MARKERS)], _COLOURS[place[f] % len(_COLOURS)]) for f in ordered}


def _headline(name: str, rows: Sequence[Row]) -> str:
    if not rows:
        return f"{name}: no candidate"
    if any(r.feasible for r in rows):
        return f"{name}: {len(rows)} candidates"
    return f"{name}: none meets every requirement"


def _label(objective: Objective) -> str:
    """Title with unit; the sense where higher is better."""
    text = shown(objective.metric).heading.replace("\n", " ").replace("^2", "²").replace("[um]", "[µm]")
    text = text.replace("[urad]", "[µrad]")
    return text if objective.sign > 0 else f"{text}  (higher is better)"


def _values(rows: Sequence[Row], objective: Objective) -> Floats:
    return np.array([r.metrics[objective.metric] for r in rows], dtype=np.float64) * shown(objective.metric).scale


def _one(
    axes: Any,
    rows: Sequence[Row],
    others: Sequence[Row],
    pair: tuple[Objective, Objective],
    marks: dict[str, tuple[str, str]],
    best: str | None,
) -> None:
    """Points of one envelope for one pair; those of the other envelopes as grey dots behind."""
    axes.grid(True, lw=0.3, color="#dddddf")
    axes.set_axisbelow(True)
    axes.spines[["top", "right"]].set_visible(False)
    axes.tick_params(labelbottom=True, labelleft=True, labelsize=7)
    axes.scatter(_values(others, pair[0]), _values(others, pair[1]), s=5, color="#cfcfd3", linewidths=0, zorder=1)
    _staircase(axes, [r for r in rows if r.feasible], pair)
    for family, (marker, colour) in marks.items():
        mine = [r for r in rows if r.family == family]
        faces = [colour if r.feasible else "white" for r in mine]
        edges = ["white" if r.feasible else colour for r in mine]
        axes.scatter(_values(mine, pair[0]), _values(mine, pair[1]), s=26, marker=marker, c=faces, edgecolors=edges,
                     linewidths=0.5 if any(r.feasible for r in mine) else 1.0, zorder=3)  # fmt: skip
    at = [r for r in rows if r.id == best]
    if at:
        x, y = _values(at, pair[0])[0], _values(at, pair[1])[0]
        axes.plot([x], [y], marker="o", ms=10.5, mfc="none", mec=INK, mew=1.0, ls="", zorder=4)
        axes.annotate("knee", (x, y), xytext=(7, 7), textcoords="offset points", fontsize=7, zorder=5,
                      bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.6, "alpha": 0.8})  # fmt: skip


def _staircase(axes: Any, rows: Sequence[Row], pair: tuple[Objective, Objective]) -> None:
    """What is attained in these two objectives alone."""
    if len(rows) < 2:
        return
    points = np.stack([_values(rows, o) * o.sign for o in pair], axis=1)
    points = points[nondominated(points)]
    points = points[np.argsort(points[:, 0], kind="stable")]
    axes.step(points[:, 0] * pair[0].sign, points[:, 1] * pair[1].sign, where="post", lw=0.7, color=FAINT, zorder=2)


def _scales(axes: Any, rows: Sequence[Row], pair: tuple[Objective, Objective]) -> None:
    """Logarithmic where the values span more than a decade or so; whole numbers for counts."""
    from matplotlib.ticker import FuncFormatter, LogLocator, MaxNLocator, NullFormatter

    for objective, axis, scale in ((pair[0], axes.xaxis, axes.set_xscale), (pair[1], axes.yaxis, axes.set_yscale)):
        values = _values(rows, objective)
        how = shown(objective.metric)
        if len(values) and values.min() > 0.0 and values.max() > _LOGARITHMIC * values.min():
            scale("log")
            axis.set_major_locator(LogLocator(subs=(1.0, 2.0, 5.0)))
            axis.set_major_formatter(FuncFormatter(lambda v, _: f"{v:g}"))
            axis.set_minor_formatter(NullFormatter())
        elif how.decimals == 0:
            axis.set_major_locator(MaxNLocator(integer=True, nbins=6))


def _handles(marks: dict[str, tuple[str, str]], rows: Sequence[Row], several: bool) -> list[Line2D]:
    """Entries of the legend: families, then what else is drawn."""
    found = [Line2D([], [], ls="", marker=m, ms=5.5, mfc=c, mec="white", mew=0.5, label=f.replace("_", " "))
             for f, (m, c) in marks.items()]  # fmt: skip
    if any(not r.feasible for r in rows):
        found.append(Line2D([], [], ls="", marker="o", ms=5, mfc="white", mec=INK, label="misses a requirement"))
    if several:
        found.append(Line2D([], [], ls="", marker="o", ms=3, mfc="#cfcfd3", mec="none", label="other envelopes"))
    found.append(Line2D([], [], lw=0.7, color=FAINT, label="attained"))
    return found
