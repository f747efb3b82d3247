"""The solids and joints of a candidate record, as every exporter reads them. SI, deployed frame."""

import math
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any, TypeAlias

import numpy as np
import shapely

from synth.core.arrays import Floats, Ints, cross2

Record: TypeAlias = Mapping[str, Any]
SENSES = ("mountain", "valley", "flat")
NEXT_TO = 0.2
"""Edges whose directions differ by less than this (rad) may face each other across a gap."""


@dataclass(frozen=True, eq=False)
class Prism:
    """An upright prism of a panel or a fitting: face in plan, low <= z <= high, mass (kg), the panel it is on.

    kind: plate (a whole panel), frame or sheet (of a framed panel), fitting.
    """

    name: str
    panel: int
    face: shapely.Polygon
    low: float
    high: float
    mass: float
    joint: str | None = None
    kind: str = "plate"

    @property
    def volume(self) -> float:
        """Area times height, m^3."""
        return float(self.face.area * (self.high - self.low))


def panel_face(panel: Record) -> shapely.Polygon:
    """Outline of a panel less its holes, corners counter-clockwise."""
    return shapely.Polygon(panel["outline"], panel.get("holes", []))


def panel_prism(panel: Record) -> Prism:
    """The prism of one panel."""
    low, high = float(panel["z_back"]), float(panel["z_front"])
    return Prism(f"panel {panel['id']}", int(panel["id"]), panel_face(panel), low, high, float(panel["mass_kg"]))


def sheet_thickness(panel: Record) -> float | None:
    """Thickness (m) of the sheet of a framed panel; None for any other (or where the record does not tell)."""
    told = panel.get("sheet_thickness_m")
    return None if told is None or not panel.get("windows") else float(told)


def opening(panel: Record) -> shapely.Geometry:
    """What the frame of a framed panel leaves open, in plan."""
    return shapely.union_all([shapely.Polygon(w) for w in panel["windows"]])


def panel_prisms(panel: Record) -> list[Prism]:
    """What a panel is made of: one plate, or a sheet over the whole outline and a frame of bars behind it.

    Only a plate has a mass: a record tells that of the whole panel.
    """
    plate, thick = panel_prism(panel), sheet_thickness(panel)
    if thick is None:
        return [plate]
    number, between = plate.panel, plate.high - thick
    bars = plate.face.difference(opening(panel))
    made = [Prism(f"sheet {number}", number, plate.face, between, plate.high, 0.0, kind="sheet")]
    for k, piece in enumerate(getattr(bars, "geoms", [bars])):
        name = f"frame {number}" + (f" piece {k}" if k else "")
        made.append(Prism(name, number, piece, plate.low, between, 0.0, kind="frame"))
    return made


def fitting_prisms(record: Record, panel: int | None = None) -> list[Prism]:
    """The prisms of all fittings, in their order; of one panel's only where it is given."""
    return [
        Prism(f"fitting {k}", int(f["panel"]), shapely.Polygon(f["outline"]), float(f["z_back"]),
              float(f["z_front"]), float(f["mass_kg"]), f["joint"], "fitting")
        for k, f in enumerate(record["fittings"])
        if panel is None or f["panel"] == panel
    ]  # fmt: skip


def hinge_sense(record: Record, hinge: Record) -> str:
    """'valley' where stowing lifts panel j towards the front (+z), 'mountain' where it goes to the back, else 'flat'.

    A turn by a about the unit axis d moves a point at r from it by a (d x r): its z component decides.
    """
    axis = np.asarray(hinge["axis"], dtype=np.float64)
    middle = np.asarray(panel_face(record["panels"][hinge["panels"][1]]).centroid.coords[0])
    lift = float(hinge["stowed_angle_rad"]) * float(cross2(axis[1, :2] - axis[0, :2], middle - axis[0, :2]))
    if abs(lift) < 1e-12:
        return "flat"
    return "valley" if lift > 0.0 else "mountain"


def hinge_line(hinge: Record) -> Floats:
    """[2, 2]: the hinge line in plan."""
    return np.asarray(hinge["axis"], dtype=np.float64)[:, :2]


def joint_pairs(record: Record) -> set[tuple[int, int]]:
    """Pairs of panels that a hinge joins, the lower id first."""
    return {(min(h["panels"]), max(h["panels"])) for h in record["hinges"]}


def facing(record: Record, i: int, j: int, reach: float) -> list[Floats]:
    """Lines [2, 2] midway between edges of panels i and j that face each other across less than reach (m)."""
    found = []
    for a, b in _edges(record["panels"][i]["outline"]):
        for c, d in _edges(record["panels"][j]["outline"]):
            line = _midway(a, b, c, d, reach)
            if line is not None:
                found.append(line)
    return found


def gap_reach(record: Record) -> float:
    """Distance (m) within which panels count as neighbours: the widest gap that a hinge spans, and a tenth more."""
    faces = [panel_face(p) for p in record["panels"]]
    return 1.1 * max((faces[i].distance(faces[j]) for i, j in joint_pairs(record)), default=0.0) + 1e-6


def cut_lines(record: Record) -> list[tuple[int, int, Floats]]:
    """(i, j, line [2, 2]) between neighbours without a hinge: where a sheet would be cut."""
    reach, joined = gap_reach(record), joint_pairs(record)
    faces = [panel_face(p) for p in record["panels"]]
    return [
        (i, j, line)
        for i in range(len(faces))
        for j in range(i + 1, len(faces))
        if (i, j) not in joined and faces[i].distance(faces[j]) <= reach
        for line in facing(record, i, j, reach)
    ]


def _edges(outline: Any) -> Iterator[tuple[Floats, Floats]]:
    corners = np.asarray(outline, dtype=np.float64)
    yield from zip(corners, np.roll(corners, -1, axis=0), strict=True)


def _midway(a: Floats, b: Floats, c: Floats, d: Floats, reach: float) -> Floats | None:
    """The overlap of edges a-b and c-d (both counter-clockwise about their own panels), halfway between them."""
    length, other = float(np.linalg.norm(b - a)), float(np.linalg.norm(d - c))
    if min(length, other) < 1e-9:
        return None
    u, v = (b - a) / length, (d - c) / other
    if float(u @ v) > -math.cos(NEXT_TO):
        return None
    start, end = sorted((float((d - a) @ u), float((c - a) @ u)))
    start, end = max(start, 0.0), min(end, length)
    if end - start <= 0.02 * min(length, other):
        return None
    ends = []
    for along in (start, end):
        here = a + along * u
        there = d - v * float(np.clip((d - here) @ v, 0.0, other))
        if np.linalg.norm(there - here) > reach or cross2(u, there - here) > 1e-9:
            return None
        ends.append((here + there) / 2.0)
    return np.array(ends)


def sheet(record: Record) -> shapely.Geometry:
    """All panels as one sheet: their faces and, at every hinge, the strip of the gap beside the hinge line.

    What a paper or metal model is cut from: gaps without a hinge stay open as slots.
    """
    faces = [panel_face(p) for p in record["panels"]]
    pieces = list(faces)
    for hinge in record["hinges"]:
        i, j = hinge["panels"]
        line = hinge_line(hinge)
        along = (line[1] - line[0]) / np.linalg.norm(line[1] - line[0])
        across = np.array([-along[1], along[0]])
        half = 1.05 * max(faces[i].distance(shapely.LineString(line)), faces[j].distance(shapely.LineString(line)))
        half += 1e-6
        strip = shapely.Polygon([line[0] - half * across, line[1] - half * across,
                                 line[1] + half * across, line[0] + half * across])  # fmt: skip
        pieces.append(strip)
    return shapely.union_all(pieces)


def triangles(face: shapely.Polygon) -> tuple[Floats, Ints]:
    """Corners [n, 2] and counter-clockwise triangles [m, 3] of a polygon with holes, no corner added."""
    rings = [face.exterior, *face.interiors]
    points = np.concatenate([np.asarray(r.coords)[:-1] for r in rings])
    place = {(float(x), float(y)): k for k, (x, y) in enumerate(points)}
    made = []
    for piece in shapely.constrained_delaunay_triangles(face).geoms:
        tri = [place[(x, y)] for x, y in list(piece.exterior.coords)[:3]]
        a, b, c = points[tri]
        made.append(tri if cross2(b - a, c - a) > 0.0 else tri[::-1])
    return points, np.asarray(made, dtype=np.int64)


def prism_mesh(prism: Prism) -> tuple[Floats, Ints]:
    """Closed triangle mesh of a prism: points [2 n, 3] (back, then front), outward triangles [m, 3]."""
    face = shapely.orient_polygons(prism.face)
    flat, tri = triangles(face)
    n = len(flat)
    points = np.concatenate([np.column_stack([flat, np.full(n, z)]) for z in (prism.low, prism.high)])
    sides, first = [], 0
    for ring in (face.exterior, *face.interiors):
        count = len(ring.coords) - 1
        here = first + np.arange(count)
        there = first + (np.arange(count) + 1) % count
        sides += [np.column_stack([here, there, there + n]), np.column_stack([here, there + n, here + n])]
        first += count
    return points, np.concatenate([tri[:, ::-1], tri + n, *sides])
