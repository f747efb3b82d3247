"""One page that sets a few candidates beside each other, and the same as CSV."""

from collections.abc import Sequence
from pathlib import Path
from typing import Any

import numpy as np

from synth.export.csv_text import write_table
from synth.export.engineering import shown
from synth.export.linkage import poses
from synth.export.marks import bare
from synth.export.parts import Record, hinge_line
from synth.export.shaded import TOP, View, bodies, draw, view_from
from synth.export.sheet import FAINT, INK, drawing, save_pdf, sheet

MOST = 8
"""Candidates that one page takes."""
WIDE, HIGH = 297.0, 210.0
ROWS = ("stowed_volume_m3", "longest_stowed_side_m", "mass_kg", "surface_rms_m", "in_plane_rms_m", "blur_rad",
        "collecting_area_m2", "first_mode_hz", "stowed_first_mode_hz", "panel_count", "part_count",
        "distinct_parts")  # fmt: skip
MORE_IS_BETTER = ("collecting_area_m2", "first_mode_hz", "stowed_first_mode_hz")


def write_side_by_side(records: Sequence[Record], folder: Path, how: str) -> list[Path]:
    """comparison.pdf (A4 across) and comparison.csv; how: the words that tell how they were picked."""
    with drawing():
        path = save_pdf([_page(records, how)], folder / "comparison.pdf", "Comparison of candidates")
    rows = [
        {"id": r["id"], "family": r["family"], "envelope": r["envelope"], **_facts(r), **r["metrics"]} for r in records
    ]
    names = [n for n in rows[0] if all(n in row for row in rows)]
    return [path, write_table(folder / "comparison.csv", [{n: row[n] for n in names} for row in rows])]


def _facts(record: Record) -> dict[str, str]:
    panel = record["panels"][0]
    hinge = record["hinges"][0]["kind"] if record["hinges"] else "none"
    return {
        "material": str(panel["material"]), "section": str(panel["section"]), "hinge": str(hinge),
        "stages": str(len(record["path"]["stages"])),
        "tightest margin": min(record["requirements"], key=lambda r: r["margin"])["name"].rsplit(".", 1)[-1],
    }  # fmt: skip


def _page(records: Sequence[Record], how: str) -> Any:
    figure = sheet(WIDE, HIGH)
    left, step = 48.0, (WIDE - 48.0 - 12.0) / len(records)

    def words(x: float, y: float, text: str, size: float = 8.0, **style: Any) -> None:
        figure.text(x / WIDE, 1.0 - y / HIGH, text, fontsize=size, va="top", **style)

    words(12, 10, f"{len(records)} candidates beside each other", 14, fontweight="bold")
    words(12, 17, how, 8.5, color="#55555a")
    reach = max(float(np.abs(np.asarray(p["outline"])).max()) for r in records for p in r["panels"])
    for k, record in enumerate(records):
        x, wide = left + k * step, step - 3.0
        words(x + wide / 2, 25, str(record["id"]), min(9.0, 0.42 * wide), fontweight="bold", ha="center")
        words(x + wide / 2, 29.5, f"{record['family']} in {record['envelope']}", min(8.0, 0.30 * wide), ha="center")
        _pictures(figure, record, (x, wide), reach)
    y = 118.0
    for name, fact in _facts_rows(records):
        _row(words, y, name, fact, [False] * len(records), left, step)
        y += 4.9
    for metric in ROWS:
        if not all(metric in r["metrics"] for r in records):
            continue
        y += 4.9
        values = [float(r["metrics"][metric]) for r in records]
        best = max(values) if metric in MORE_IS_BETTER else min(values)
        told = shown(metric)
        unit = told.unit.replace("^2", "²").replace("um", "µm").replace("urad", "µrad")
        title = told.title + (f" [{unit}]" if unit else "")
        texts = [told.number(v) for v in values]
        marked = [t == told.number(best) and len(set(texts)) > 1 for t in texts]
        _row(words, y - 4.9, title, texts, marked, left, step)
    words(12, HIGH - 8, "green: the best of the row. Plans to one scale; stowed views each to its own.", 7, color=FAINT)
    words(WIDE - 12, HIGH - 8, "Preliminary design, not a release.", 7, color=FAINT, ha="right")
    return figure


def _facts_rows(records: Sequence[Record]) -> list[tuple[str, list[str]]]:
    facts = [_facts(r) for r in records]
    return [(name, [f[name] for f in facts]) for name in facts[0]]


def _row(words: Any, y: float, name: str, cells: list[str], marked: list[bool], left: float, step: float) -> None:
    words(12, y, name, 7.5, color="#55555a")
    for k, (cell, good) in enumerate(zip(cells, marked, strict=True)):
        size = min(8.0, 2.6 * (step - 3.0) / max(len(cell), 1) / 0.95)
        style = {"color": "#2f6b4a", "fontweight": "bold"} if good else {"color": INK}
        words(left + k * step + (step - 3.0) / 2, y, cell, size, ha="center", **style)


def _pictures(figure: Any, record: Record, column: tuple[float, float], reach: float) -> None:
    """Deployed plan over the stowed stack."""
    x, wide = column
    at = poses(record)
    for y, high, frame, view in ((34.0, 48.0, -1, TOP), (83.0, 32.0, 0, view_from(-58.0, 32.0))):
        axes = figure.add_axes((x / WIDE, 1.0 - (y + high) / HIGH, wide / WIDE, high / HIGH))
        bare(axes)
        turn = np.asarray(record["stowed"]["rotation"], dtype=np.float64) if frame == 0 else None
        found = bodies(record, at[frame], turn)
        draw(axes, found, view, line=0.3)
        if frame == 0:
            _fit(axes, found, view)
        else:
            for hinge in record["hinges"]:
                axes.plot(*hinge_line(hinge).T, color="#8c2d19", lw=0.7, zorder=9)
            axes.set_xlim(-1.03 * reach, 1.03 * reach)
            axes.set_ylim(-1.03 * reach, 1.03 * reach)


def _fit(axes: Any, found: Any, view: View) -> None:
    points = np.concatenate([view.flat(b.points) for b in found])
    low, high = points.min(axis=0), points.max(axis=0)
    margin = 0.05 * float((high - low).max())
    axes.set_xlim(low[0] - margin, high[0] + margin)
    axes.set_ylim(low[1] - margin, high[1] + margin)
