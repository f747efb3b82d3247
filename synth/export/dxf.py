"""DXF drawings: every distinct panel in its own plan, and the whole deployed layout."""

from pathlib import Path

import numpy as np
import shapely

from synth.core.arrays import Floats
from synth.export.dxf_file import DxfFile
from synth.export.kinds import Kind, kinds
from synth.export.parts import Record, cut_lines, fitting_prisms, hinge_line, hinge_sense, panel_face

CAUTION = "Preliminary design, to start detailed design from: not a release. Heed the cautions of the package's README."


def write_dxf(record: Record, folder: Path, clear_diameter: float | None = None) -> list[Path]:
    """layout.dxf and panel_NAME.dxf for every distinct panel, millimetres; returns the files.

    Layers: outline, mountain, valley, cut, latch, datum, and window: openings of frames. Raises MissingPackageError
    without ezdxf.
    """
    return [_layout(record, folder / "layout.dxf", clear_diameter),
            *(_panel(record, k, folder / f"panel_{k.name}.dxf") for k in kinds(record))]  # fmt: skip


def _span(record: Record) -> float:
    corners = np.concatenate([np.asarray(p["outline"]) for p in record["panels"]])
    return float(np.ptp(corners, axis=0).max())


def _layout(record: Record, path: Path, clear_diameter: float | None) -> Path:
    """Deployed, seen from the receiving side (z towards the eye), origin at the centre of the clear circle."""
    drawing, span = DxfFile(), _span(record)
    named = {p: k.name for k in kinds(record) for p in k.members}
    for panel in record["panels"]:
        face = panel_face(panel)
        drawing.face("outline", face, holes="cut")
        for window in panel.get("windows") or []:
            drawing.ring("window", np.asarray(window))
        middle = np.asarray(shapely.maximum_inscribed_circle(face).coords[0])
        middle = middle - [0.0, span / 25 if np.linalg.norm(middle) < span / 25 else 0.0]
        words = f"{panel['id']} {named[panel['id']]}" + (" ROOT" if panel["id"] == 0 else "")
        drawing.text(words, middle, span / 60, middle=True)
    for hinge in record["hinges"]:
        sense = hinge_sense(record, hinge)
        drawing.line("datum" if sense == "flat" else sense, hinge_line(hinge))
    for _, _, line in cut_lines(record):
        drawing.line("cut", line)
    for latch in record["latches"]:
        for unit in latch["units"]:
            _latch(drawing, np.asarray(unit["at"][:2]), np.asarray(unit["axes"])[0, :2], span / 80)
    for fitting in fitting_prisms(record):
        drawing.face("datum", fitting.face)
    drawing.cross("datum", np.zeros(2), span / 60)
    reach = max(0.5 * span, 0.5 * (clear_diameter or 0.0))
    for way in np.array([[1.0, 0.0], [0.0, 1.0], [-1.0, 0.0], [0.0, -1.0]]):
        drawing.line("datum", np.array([1.02 * reach * way, 1.1 * reach * way]))
    if clear_diameter is not None:
        drawing.circle("datum", np.zeros(2), clear_diameter / 2)
    clear = f" Circle: clear aperture, {1e3 * clear_diameter:g} mm." if clear_diameter is not None else ""
    _notes(drawing, np.array([-reach, -1.12 * reach - span / 60]), span / 60, [
        f"{record['id']}  {record['family']}, deployed, seen from the receiving side",
        f"mm, 1 : 1. Origin: centre of the clear aperture; z out of the receiving face.{clear}",
        "Number: panel, letter: distinct part. mountain: away from the eye. valley: towards it. cut: no hinge.",
        CAUTION,
    ])  # fmt: skip
    drawing.bar(np.array([-reach, -1.12 * reach + span / 60]), span, span / 60)
    drawing.save(path)
    return path


def _latch(drawing: DxfFile, at: Floats, along: Floats, half: float) -> None:
    """A small square on the edge."""
    across = np.array([-along[1], along[0]])
    ring = [at + half * (a * along + b * across) for a, b in ((-1, -1), (1, -1), (1, 1), (-1, 1))]
    drawing.ring("latch", np.array(ring))


def _panel(record: Record, kind: Kind, path: Path) -> Path:
    """One distinct panel: longest edge along x, lower left corner of its box at the origin, front to the eye."""
    drawing = DxfFile()
    size = np.ptp(kind.outline, axis=0)
    height = float(size.max()) / 50
    drawing.ring("outline", kind.outline)
    for hole in kind.holes:
        drawing.ring("cut", hole)
    for window in kind.windows:
        drawing.ring("window", window)
    for feature in kind.features:
        if feature.kind in ("mountain", "valley"):
            drawing.line(feature.kind, feature.points)
        elif feature.kind == "latch":
            drawing.cross("latch", feature.points[0], height)
        elif feature.kind == "flat":
            drawing.line("datum", feature.points)
        else:
            layer = "latch" if feature.kind == "latch foot" else "datum"
            drawing.circle(layer, feature.points[0], max(feature.size, 1e-4))
            drawing.cross(layer, feature.points[0], 0.5 * height)
    drawing.cross("datum", np.zeros(2), 2 * height)
    feet = sum("foot" in f.kind for f in kind.features)
    members = f"panel{'s' * (len(kind.members) > 1)} {' '.join(str(m) for m in kind.members)}"
    _notes(drawing, np.array([0.0, -4.0 * height]), height, [
        f"part {kind.name} of {record['id']}: make {len(kind.members)} ({members})",
        f"{kind.material}, {kind.section}, {1e3 * kind.thickness:.3f} mm thick, {1e3 * size[0]:.3f} x "
        f"{1e3 * size[1]:.3f} mm over all; receiving face to the eye",
        f"mm, 1 : 1. Circles: {feet} feet of joints with their pads. Fold lines lie outside the part, in the gap.",
        *_framed(kind),
        CAUTION,
    ])  # fmt: skip
    below = 4.0 + 1.7 * (5 + 2 * (kind.sheet is not None))
    drawing.bar(np.array([0.0, -below * height]), float(size[0]), height)
    drawing.save(path)
    return path


def _framed(kind: Kind) -> list[str]:
    """What a framed panel is made of."""
    if kind.sheet is None:
        return []
    return [
        f"Two parts, bonded: sheet of {kind.material} {1e3 * kind.sheet:.3f} mm thick, whole outline, in front;",
        f"frame behind it, bars {1e3 * kind.bar:.3f} mm wide and {1e3 * (kind.thickness - kind.sheet):.3f} mm high, "
        "open inside layer window.",
    ]


def _notes(drawing: DxfFile, at: Floats, height: float, lines: list[str]) -> None:
    for k, words in enumerate(lines):
        drawing.text(words, at - np.array([0.0, 1.7 * k * height]), height)
