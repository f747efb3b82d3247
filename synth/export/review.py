"""Review sheet of one candidate as a PDF of two A4 pages: what is asked and met, how it unfolds, budgets, hazards;
a third where stages that stop half-way leave others free."""

import math
import textwrap
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np
from matplotlib.figure import Figure

from synth.core.arrays import Floats
from synth.export import stops_text
from synth.export.cautions import DEFERS, cautions
from synth.export.engineering import shown
from synth.export.keep_out import Box, named, near, solid
from synth.export.linkage import freedoms, poses
from synth.export.marks import bare, scale_bar
from synth.export.parts import Record, hinge_line, hinge_sense
from synth.export.shaded import TOP, View, bodies, draw, view_from
from synth.export.sheet import FAINT, INK, drawing, save_pdf, sheet
from synth.export.show import mass_budget
from synth.problem.sections import KeepOut

WIDE, HIGH = 210.0, 297.0
GOOD, BAD, BAR = "#3b7a57", "#b3372f", "#7f9db9"
_EYE = (-58.0, 32.0)


def write_review(record: Record, folder: Path, keep_out: Sequence[KeepOut] = ()) -> list[Path]:
    """review.pdf; returns the file. keep_out: boxes of the problem. Equal records give equal bytes."""
    with drawing():
        pages = [_first(record), _second(record, keep_out)]
        if _pages(record) == 3:
            pages.append(_third(record))
        return [save_pdf(pages, folder / "review.pdf", f"Review sheet of {record['id']}")]


def _pages(record: Record) -> int:
    """A third page where there are later stages to tell of."""
    return 3 if len(record["path"]["stages"]) > 1 and stops_text.told(record) else 2


def _place(x: float, y: float, wide: float, high: float) -> tuple[float, float, float, float]:
    """Millimetres from the upper left corner as a figure's share."""
    return x / WIDE, 1.0 - (y + high) / HIGH, wide / WIDE, high / HIGH


def _words(figure: Figure, x: float, y: float, words: str, size: float = 8.0, **style: Any) -> None:
    figure.text(x / WIDE, 1.0 - y / HIGH, words, fontsize=size, va="top", **style)


def _heading(figure: Figure, x: float, y: float, words: str, wide: float) -> None:
    _words(figure, x, y, words, 9.5, fontweight="bold")
    line = figure.add_axes(_place(x, y + 5.2, wide, 0.3))
    line.set_axis_off()
    line.axhline(0.5, color=FAINT, lw=0.6)


def _top(figure: Figure, record: Record, page: int) -> None:
    missed = [r["name"] for r in record["requirements"] if not r["ok"]]
    verified = record["verification"]["verified"]
    verdict = "NOT VERIFIED: not to be built on"
    if verified:
        verdict = "verified; every requirement met" if not missed else f"verified; misses {', '.join(missed)}"
    _words(figure, 15, 12, str(record["id"]), 15, fontweight="bold")
    counts = ", ".join(f"{len(record[k])} {k}" for k in ("panels", "hinges", "latches"))
    _words(figure, 15, 20, f"{record['family']} in envelope '{record['envelope']}'   {counts}", 9)
    _words(figure, 15, 25.5, verdict, 9, color=GOOD if verified and not missed else BAD, fontweight="bold")
    _words(figure, 195, 12, f"Review sheet {page} / {_pages(record)}", 8, ha="right", color=FAINT)
    _words(figure, 195, 16, f"problem {record['problem_digest'][:12]}", 7, ha="right", color=FAINT)
    _words(figure, 195, 287, "SI inside, engineering units here. Start for detailed design, not a release.", 6.5,
           ha="right", color=FAINT)  # fmt: skip


def _first(record: Record) -> Figure:
    """States, requirements, key figures."""
    figure = sheet(WIDE, HIGH)
    _top(figure, record, 1)
    at = poses(record)
    _heading(figure, 15, 35, "Deployed, seen from the receiving side", 88)
    _plan(figure, record, _place(15, 42, 88, 80))
    _heading(figure, 107, 35, "Stowed", 88)
    size = " x ".join(f"{1e3 * v:.1f}" for v in record["stowed"]["size_m"])
    turn = np.asarray(record["stowed"]["rotation"], dtype=np.float64)
    _scene(figure, record, at[0], _place(107, 46, 88, 66), view_from(*_EYE), turn)
    _words(figure, 151, 114, f"{size} mm, in the envelope's axes", 8, ha="center")
    _heading(figure, 15, 128, "Requirements and margins", 180)
    end = _requirements(figure, record, 136)
    _heading(figure, 15, end + 4, "Figures", 180)
    _figures(figure, record, end + 12)
    return figure


def _plan(figure: Figure, record: Record, box: tuple[float, float, float, float]) -> None:
    """Shaded plan with fold lines, panel and hinge numbers."""
    axes = figure.add_axes(box)
    bare(axes)
    draw(axes, bodies(record, np.tile(np.eye(3, 4), (len(record["panels"]), 1, 1))), TOP, line=0.4)
    styles = {"mountain": (0, (7, 2, 1.2, 2)), "valley": (0, (4, 2)), "flat": (0, (1, 2))}
    for hinge in record["hinges"]:
        line = hinge_line(hinge)
        axes.plot(*line.T, color="#8c2d19", lw=1.1, ls=styles[hinge_sense(record, hinge)], zorder=9)
    for panel in record["panels"]:
        x, y = np.asarray(panel["outline"]).mean(axis=0)
        name = "0 root" if panel["id"] == 0 else str(panel["id"])
        axes.text(x, y, name, fontsize=6.5, ha="center", va="center", zorder=10)
    axes.autoscale_view()
    low, high = axes.get_xlim(), axes.get_ylim()
    span = low[1] - low[0]
    scale_bar(axes, np.array([low[0], high[0] - 0.03 * span]), 0.25 * span)
    axes.set_ylim(high[0] - 0.10 * span, high[1])
    axes.text(low[1], high[0] - 0.055 * span, "dash-dot: mountain   dashed: valley", fontsize=6.5, ha="right", va="top")


def _scene(
    figure: Figure, record: Record, at: Floats, box: tuple[float, float, float, float], view: View,
    turn: Floats | None = None, room: tuple[Floats, Floats] | None = None, kept: Sequence[Box] = (),
) -> Any:  # fmt: skip
    axes = figure.add_axes(box)
    bare(axes)
    found = bodies(record, at, turn)
    draw(axes, [*found, *map(solid, kept)], view, line=0.35)
    for kept_box in kept:
        named(axes, kept_box, kept_box.face(view), 5.0, below=True)
    points = np.concatenate([view.flat(b.points) for b in found])
    low, high = room or (points.min(axis=0), points.max(axis=0))
    margin = 0.04 * float((high - low).max())
    axes.set_xlim(low[0] - margin, high[0] + margin)
    axes.set_ylim(low[1] - margin, high[1] + margin)
    return axes


def _requirements(figure: Figure, record: Record, y: float) -> float:
    """The table with a bar a margin; returns where it ends (mm)."""
    heads = ((15, "requirement", "left"), (93, "value", "right"), (98, "", "left"), (118, "limit", "right"),
             (121, "unit", "left"), (146, "margin", "right"))  # fmt: skip
    for x, words, side in heads:
        _words(figure, x, y, words, 7, ha=side, color=FAINT)
    row = y + 4.5
    step = min(5.2, 96.0 / max(len(record["requirements"]), 1))
    for r in record["requirements"]:
        how = shown(r["name"], r["unit"])
        tone = INK if r["ok"] else BAD
        cells = (r["name"], how.number(r["value"]), "≤" if r["direction"] == "max" else "≥", how.number(r["limit"]),
                 how.unit.replace("^2", "²").replace("um", "µm").replace("urad", "µrad"),
                 f"{100 * r['margin']:+.1f} %")  # fmt: skip
        for (x, _, side), cell in zip(heads, cells, strict=True):
            _words(figure, x, row, cell, 7.8, ha=side, color=tone)
        _bar(figure, 150, row + 0.2, 45, min(max(r["margin"], -1.0), 1.0))
        row += step
    _words(figure, 150, y, "-100 %", 6, color=FAINT, ha="left")
    _words(figure, 172.5, y, "0", 6, color=FAINT, ha="center")
    _words(figure, 195, y, "+100 %", 6, color=FAINT, ha="right")
    return row


def _bar(figure: Figure, x: float, y: float, wide: float, share: float) -> None:
    axes = figure.add_axes(_place(x, y, wide, 2.8))
    axes.set_xlim(-1, 1)
    axes.set_ylim(0, 1)
    axes.set_axis_off()
    axes.barh(0.5, share, height=0.9, color=GOOD if share >= 0 else BAD, alpha=0.75)
    axes.axvline(0.0, color=INK, lw=0.6)


def _figures(figure: Figure, record: Record, y: float) -> None:
    """All metrics in three columns."""
    for k, (name, value) in enumerate(record["metrics"].items()):
        column, row = k % 3, k // 3
        how = shown(name)
        x = 15 + 61.5 * column
        text = how.text(value).replace("^2", "²").replace(" um", " µm").replace(" urad", " µrad")
        _words(figure, x, y + 4.8 * row, how.title, 7.5, color="#55555a")
        _words(figure, x + 55, y + 4.8 * row, text, 7.8, ha="right")


def _second(record: Record, keep_out: Sequence[KeepOut]) -> Figure:
    """Sequence, budgets, hazards."""
    figure = sheet(WIDE, HIGH)
    _top(figure, record, 2)
    _heading(figure, 15, 35, "Sequence of deployment", 180)
    _sequence(figure, record, keep_out)
    _heading(figure, 15, 120, "Mass", 85)
    masses = {k: v for k, v in mass_budget(record).items() if v > 0}
    _bars(figure, 15, 128, {k: v for k, v in masses.items()}, "kg", 3)
    total = record["metrics"]["mass_kg"]
    _words(figure, 15, 129 + 5.4 * len(masses), f"{total:.3f} kg with growth", 8, fontweight="bold")
    _heading(figure, 110, 120, "Accuracy over the receiving faces", 85)
    _accuracy(figure, record)
    _heading(figure, 15, 187, "Hazards and cautions", 180)
    y = 194.5
    for hazard, told in cautions(record):
        lines = textwrap.wrap(told, 114)
        _words(figure, 15, y, hazard, 7.6, fontweight="bold")
        _words(figure, 42, y, "\n".join(lines), 7.2, linespacing=1.25)
        y += 3.35 * len(lines) + 1.5
    _words(figure, 15, y + 1.0, "\n".join(textwrap.wrap(DEFERS, 136)), 7.2, style="italic", linespacing=1.3)
    return figure


def _third(record: Record) -> Figure:
    """What can still move with every stage in turn stopped half-way."""
    figure = sheet(WIDE, HIGH)
    _top(figure, record, 3)
    _heading(figure, 15, 35, "Should a stage stop half-way: stages that can still move", 180)
    columns, y = (15, 30, 52, 74), 43.0
    for x, head in zip(columns, stops_text.HEADS, strict=True):
        _words(figure, x, y, head, 7.2, color="#55555a", linespacing=1.25)
    y += 9.0
    for k, cells in enumerate(stops_text.rows(record)):
        lines = [textwrap.wrap(cell, width) or [""] for cell, width in zip(cells, (8, 15, 15, 92), strict=True)]
        deep = max(map(len, lines))
        if y + 3.4 * deep > 268:
            _words(figure, 15, y, f"stages {k} and on: see the record", 7.4, style="italic")
            break
        for x, cell in zip(columns, lines, strict=True):
            _words(figure, x, y, "\n".join(cell), 7.4, linespacing=1.3)
        y += 3.4 * deep + 1.6
    _words(figure, 15, y + 4.0, "\n".join(stops_text.KEY), 7, color="#55555a", linespacing=1.3)
    return figure


def _sequence(figure: Figure, record: Record, keep_out: Sequence[KeepOut]) -> None:
    """Six moments in one view and scale, then the stages with their degrees of freedom."""
    s = np.asarray(record["path"]["s"], dtype=np.float64)
    at, view = poses(record), view_from(*_EYE)
    chosen = [int(np.abs(s - k / 5).argmin()) for k in range(6)]
    solids = np.concatenate([b.points for k in chosen for b in bodies(record, at[k])])
    kept = near(keep_out, solids)
    points = view.flat(np.concatenate([solids, *(box.corners for box in kept)]))
    room = (points.min(axis=0), points.max(axis=0))
    for n, k in enumerate(chosen):
        place = _place(15 + 60 * (n % 3), 42 + 29 * (n // 3), 60, 28)
        axes = _scene(figure, record, at[k], place, view, room=room, kept=kept)
        axes.text(0.02, 0.98, f"s = {s[k]:.2f}", transform=axes.transAxes, fontsize=6.5, va="top", color="#55555a")
    stages = record["path"]["stages"]
    middle = freedoms(record, len(s) // 2)
    free = "held by slack joints" if middle is None else f"{middle} degrees of freedom half way"
    words = f"{len(stages)} stage{'s' * (len(stages) > 1)}, {len(record['hinges'])} hinges, {free}."
    if len(stages) == 1 and stops_text.told(record):
        words += " Should it stop half-way, nothing else is left to move."
    told = [f"{k}: hinges {' '.join(str(h) for h in t['hinges'])} (s {t['s'][0]:.2f} to {t['s'][1]:.2f})"
            for k, t in enumerate(stages)]  # fmt: skip
    lines = textwrap.wrap(words + "  Stage " + ";  ".join(told) + ".", 132)
    if len(lines) > 4:
        lines = [*lines[:3], "... see stages.csv"]
    _words(figure, 15, 102.5, "\n".join(lines), 7.3, linespacing=1.3)


def _bars(figure: Figure, x: float, y: float, values: dict[str, float], unit: str, decimals: int) -> None:
    """Named horizontal bars, one scale."""
    most = max(values.values(), default=1.0) or 1.0
    for k, (name, value) in enumerate(values.items()):
        row = y + 5.4 * k
        _words(figure, x, row, name, 7.5)
        axes = figure.add_axes(_place(x + 27, row, 33, 3.4))
        axes.set_xlim(0, most)
        axes.set_axis_off()
        axes.barh(0, value, color=BAR)
        _words(figure, x + 85, row, f"{value:.{decimals}f} {unit}", 7.5, ha="right")


def _accuracy(figure: Figure, record: Record) -> None:
    """rms by source about the datum; squares add up."""
    a = record["accuracy"]
    whole = math.sqrt(a["joints_m2"] + a["figure_m2"] + a["steady_m2"])
    parts = {"joint misfits": a["joints_m2"], "panel figure": a["figure_m2"], "steady field": a["steady_m2"],
             "  bow alone": a["bow_m2"], "  gravity alone": a["gravity_m2"]}  # fmt: skip
    _bars(figure, 110, 128, {k: 1e6 * math.sqrt(v) for k, v in parts.items()}, "µm rms", 3)
    y = 129 + 5.4 * len(parts)
    _words(figure, 110, y, f"{1e6 * whole:.3f} µm rms in all", 8, fontweight="bold")
    lines = ["Datum: best-fit plane of the receiving faces, and the best-fit",
             "paraboloid too where the problem asks to refocus.",
             "Squares of the first three add up; the steady field is bow and",
             "gravity release together. In plane, joints alone: "
             f"{1e6 * math.sqrt(a['in_plane_joints_m2']):.3f} µm."]  # fmt: skip
    _words(figure, 110, y + 5.5, "\n".join(lines), 7, color="#55555a", linespacing=1.3)
    v = record["verification"]
    more = [f"Least clearance on the path {1e3 * v['least_clearance_m']:.3f} mm; loops close to "
            f"{v['closure_residual_m']:.0e} m;", f"plates of degree {v['plate_degree']}."]  # fmt: skip
    _words(figure, 110, y + 20.0, "\n".join(more), 7, color="#55555a", linespacing=1.3)
