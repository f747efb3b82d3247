"""Solids for a 3D printer: panels at a model's scale with pin hinges or snapping knuckles cut into them, in mm."""

import math
from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np
import shapely

from synth.core.arrays import Floats, Ints, invert
from synth.core.arrays import compose as chained
from synth.core.errors import InputError
from synth.export.linkage import poses, stage_frames
from synth.export.optional import optional
from synth.export.parts import Record, hinge_sense, panel_face, sheet_thickness

MM = 1e3
SEGMENTS = 64
_INSIDE = 0.03


@dataclass(frozen=True)
class Print:
    """Printer and hinge, mm. scale: None takes the largest at which every panel fits the bed (at most 1).

    style: "pin" (a bore for a loose pin, such as filament), "snap" (cones that snap into dimples), "none" (bare
    panels). clearance: between a barrel and what turns against it, radially and at its ends. least_thickness: panels
    thinner than this at scale are made thicker, all heights with them. least_sheet: sheets of framed panels likewise,
    at the cost of their frames.
    """

    bed: tuple[float, float] = (220.0, 220.0)
    scale: float | None = None
    margin: float = 6.0
    style: Literal["pin", "snap", "none"] = "pin"
    clearance: float = 0.3
    pin: float = 1.75
    wall: float = 1.2
    knuckle: float = 4.0
    bump: float = 0.8
    least_thickness: float = 2.0
    least_sheet: float = 0.6

    @property
    def radius(self) -> float:
        """Outer radius of a barrel."""
        return self.pin / 2 + self.clearance / 2 + self.wall


@dataclass(frozen=True, eq=False)
class Printed:
    """solids: a kernel solid a panel, in deployed coordinates (mm, z stretched by rise); notes: what to know."""

    scale: float
    rise: float
    solids: list[Any]
    bores: int
    notes: list[str] = field(default_factory=list)


@dataclass(frozen=True, eq=False)
class _Knuckle:
    """A barrel of one leaf from low to high along its hinge; ends: +1 bump, -1 dimple, 0 free, at low and high."""

    hinge: int
    panel: int
    low: float
    high: float
    ends: tuple[int, int]


def fitting_scale(record: Record, wanted: Print) -> float:
    """Largest scale (at most 1) at which every panel's smallest rectangle fits the bed less its margins."""
    room = sorted(b - 2 * wanted.margin for b in wanted.bed)
    if room[0] <= 0:
        raise InputError(
            f"bed: {wanted.bed[0]:g} x {wanted.bed[1]:g} mm leaves nothing beside margins of {wanted.margin:g} mm"
        )
    found = 1.0
    for panel in record["panels"]:
        sides = sorted(MM * v for v in rectangle_of(panel_face(panel))[1])
        found = min(found, room[0] / sides[0], room[1] / sides[1])
    return math.floor(1e3 * found) / 1e3


def rectangle_of(face: shapely.Polygon) -> tuple[float, tuple[float, float]]:
    """Turn (rad) that lays the smallest rectangle of a face along x, and its sides along x and y."""
    corners = np.asarray(shapely.minimum_rotated_rectangle(face).exterior.coords)
    first, second = corners[1] - corners[0], corners[2] - corners[1]
    return -math.atan2(first[1], first[0]), (float(np.linalg.norm(first)), float(np.linalg.norm(second)))


def printed(record: Record, wanted: Print | None = None) -> Printed:
    """The printable solids. Raises InputError where hinges do not fit, MissingPackageError without manifold3d.

    A leaf's barrels join its panel by a web in its half of the gap that ends at the axis height, so that leaves folded
    by half a turn meet at that plane. A panel is notched by the other leaf's barrels (a cylinder about the axis
    is the same at every angle) and by hinges of other panels where they lie in the rest states between stages.
    """
    wanted = wanted or Print()
    scale = wanted.scale if wanted.scale is not None else fitting_scale(record, wanted)
    thick = min(MM * scale * (p["z_front"] - p["z_back"]) for p in record["panels"])
    rise = max(1.0, wanted.least_thickness / thick)
    return _Maker(record, wanted, scale, rise).made()


class _Maker:
    """Solids of one record at one scale: the one place that knows manifold3d."""

    def __init__(self, record: Record, wanted: Print, scale: float, rise: float) -> None:
        self.m = optional("manifold3d", "printed models")
        self.record, self.p, self.scale, self.rise = record, wanted, scale, rise
        self.flat = MM * scale
        self.up = MM * scale * rise

    def made(self) -> Printed:
        notes = [f"scale {self.scale:g}"]
        if self.rise > 1.0:
            notes.append(f"heights stretched by {self.rise:.3f} so that panels are {self.p.least_thickness:g} mm thick")
        solids = [self._panel(p) for p in self.record["panels"]]
        notes += self._sheets()
        if self.p.style == "none":
            return Printed(self.scale, self.rise, solids, 0, notes)
        knuckles = [k for h in self.record["hinges"] for k in self._knuckles(h)]
        solids = [self._leaf(p, solid, knuckles) for p, solid in enumerate(solids)]
        solids, cut = self._clear_of_others(solids, knuckles)
        if cut:
            notes.append("notched for hinges of other panels: " + ", ".join(f"panel {p}" for p in cut))
        whole = [[x for x in s.decompose() if x.volume() > 1e-3] for s in solids]
        pieces = [p for p, found in enumerate(whole) if len(found) != 1]
        if pieces:
            raise InputError(
                f"print: hinges cut panels {', '.join(map(str, pieces))} apart at scale {self.scale:g}; choose a "
                "larger bed or scale, or a thinner pin"
            )
        return Printed(self.scale, self.rise, [found[0] for found in whole], len(knuckles), notes)

    def _panel(self, panel: Record) -> Any:
        face = shapely.orient_polygons(panel_face(panel))
        rings = [self.flat * np.asarray(r.coords)[:-1] for r in (face.exterior, *face.interiors)]
        low, high = self.up * panel["z_back"], self.up * panel["z_front"]
        section = self.m.CrossSection([r.tolist() for r in rings])
        solid = section.extrude(high - low).translate((0.0, 0.0, low))
        thick = self._sheet(panel)
        if thick is None:
            return solid
        open_ = self.m.CrossSection([(self.flat * np.asarray(w)).tolist() for w in panel["windows"]])
        return solid - open_.extrude(2.0 * (high - low) - thick).translate((0.0, 0.0, 2.0 * low - high))

    def _sheet(self, panel: Record) -> float | None:
        """Thickness (mm) of a framed panel's printed sheet; None where there is none."""
        thick = sheet_thickness(panel)
        if thick is None:
            return None
        return min(max(self.up * thick, self.p.least_sheet), 0.9 * self.up * float(panel["z_front"] - panel["z_back"]))

    def _sheets(self) -> list[str]:
        """What to know about sheets."""
        made = {
            (self.up * thick, self._sheet(p))
            for p in self.record["panels"]
            if (thick := sheet_thickness(p)) is not None
        }
        return [f"sheets of framed panels {b:.2f} mm thick, {a:.2f} mm at scale" for a, b in sorted(made)]

    def _frame(self, hinge: Record) -> tuple[Floats, float, float]:
        """Pose [3, 4] of the hinge (x along, y to panel i across, z up; origin at its start), length, axis height."""
        axis = np.asarray(hinge["axis"], dtype=np.float64) * [self.flat, self.flat, self.up]
        along = (axis[1] - axis[0]) / np.linalg.norm(axis[1] - axis[0])
        across = np.array([-along[1], along[0], 0.0])
        middle = np.asarray(panel_face(self.record["panels"][hinge["panels"][0]]).centroid.coords[0]) * self.flat
        if (middle - axis[0, :2]) @ across[:2] < 0.0:
            along, across, axis = -along, -across, axis[::-1]
        turn = np.column_stack([along, across, np.cross(along, across)])
        return np.column_stack([turn, axis[0]]), float(np.linalg.norm(axis[1] - axis[0])), float(axis[0, 2])

    def _knuckles(self, hinge: Record) -> list[_Knuckle]:
        """Three barrels (i, j, i) about every unit of the record, pushed apart and inwards where they must."""
        pose, length, _ = self._frame(hinge)
        group = 3 * self.p.knuckle
        if length < group:
            raise InputError(
                f"print: hinge {hinge['id']} is {length:.1f} mm long at scale {self.scale:g}, three knuckles need "
                f"{group:g} mm; choose a larger bed or scale, or shorter knuckles"
            )
        at = sorted(
            float((MM * self.scale * np.asarray(u["at"][:2]) - pose[:2, 3]) @ pose[:2, 0]) for u in hinge["units"]
        )
        most = min(len(at), int(length // (group + self.p.knuckle)) or 1)
        at = [at[0], at[-1]][:most] if most < len(at) else at
        at = [length / 2] if most == 1 and len(hinge["units"]) > 1 else at
        found: list[_Knuckle] = []
        i, j = hinge["panels"]
        for middle in at:
            low = min(max(middle - group / 2, 0.0), length - group)
            if found and low < found[-1].high + self.p.clearance:
                continue
            for n, (panel, ends) in enumerate(((i, (0, 1)), (j, (-1, -1)), (i, (1, 0)))):
                start = low + n * self.p.knuckle
                gap = self.p.clearance / 2
                found.append(_Knuckle(hinge["id"], panel, start + (gap if n else 0.0),
                                      start + self.p.knuckle - (gap if n < 2 else 0.0), ends))  # fmt: skip
        return found

    def _placed(self, solid: Any, hinge: Record) -> Any:
        pose, _, _ = self._frame(hinge)
        return solid.transform(pose)

    def _rod(self, radius: float, low: float, high: float) -> Any:
        """A rod about x from low to high."""
        return (self.m.Manifold.cylinder(high - low, radius, radius, SEGMENTS)
                .rotate((0.0, 90.0, 0.0)).translate((low, 0.0, 0.0)))  # fmt: skip

    def _box(self, low: tuple[float, float, float], high: tuple[float, float, float]) -> Any:
        size = tuple(b - a for a, b in zip(low, high, strict=True))
        return self.m.Manifold.cube(size).translate(low)

    def _web(self, hinge: Record, k: _Knuckle, grown: float = 0.0) -> Any:
        """What joins a barrel to its panel, in the hinge's frame: it fills the leaf's half gap up to the axis."""
        panel = self.record["panels"][k.panel]
        side = 1.0 if k.panel == hinge["panels"][0] else -1.0
        _, _, height = self._frame(hinge)
        line = shapely.LineString(np.asarray(hinge["axis"])[:, :2])
        half = self.flat * panel_face(panel).distance(line)
        back, front = self.up * panel["z_back"] - height, self.up * panel["z_front"] - height
        stop = self.p.clearance / 2 - grown
        low, high = (back, -stop) if hinge_sense(self.record, hinge) == "valley" else (stop, front)
        if high - low < 0.2:
            low, high = back, front
        # faces that nearly coincide leave slivers, so webs begin a little inside the faces of their panel
        low, high = (low + _INSIDE, high) if low == back else (low, high - _INSIDE)
        boxes = []
        for depth, z0, z1 in (
            (half + 0.05, low, high),
            (half + 0.6, max(low, back + _INSIDE), min(high, front - _INSIDE)),
        ):
            if z1 > z0:
                y0, y1 = sorted((0.0, side * (depth + grown)))
                boxes.append(
                    self._box((k.low + _INSIDE - grown, y0, z0 - grown), (k.high - _INSIDE + grown, y1, z1 + grown))
                )
        return self.m.Manifold.batch_boolean(boxes, self.m.OpType.Add) if boxes else self.m.Manifold()

    def _hardware(self, k: _Knuckle) -> Any:
        hinge = self.record["hinges"][k.hinge]
        return self._placed(self._rod(self.p.radius, k.low, k.high) + self._web(hinge, k), hinge)

    def _leaf(self, panel: int, solid: Any, knuckles: list[_Knuckle]) -> Any:
        """A panel with its own barrels on and the other leaves' cut out."""
        add = self.m.OpType.Add
        foreign = [k for k in knuckles if k.panel != panel and panel in self.record["hinges"][k.hinge]["panels"]]
        own = [k for k in knuckles if k.panel == panel]
        gap = self.p.clearance
        notches = [self._placed(self._rod(self.p.radius + gap, k.low - gap, k.high + gap),
                                self.record["hinges"][k.hinge]) for k in foreign]  # fmt: skip
        if notches:
            solid = solid - self.m.Manifold.batch_boolean(notches, add)
        if own:
            solid = self.m.Manifold.batch_boolean([solid, *(self._hardware(k) for k in own)], add)
        if self.p.style == "pin":
            return self._bored(solid, panel, knuckles)
        for k in own:
            solid = self._snapped(solid, k)
        return solid

    def _bored(self, solid: Any, panel: int, knuckles: list[_Knuckle]) -> Any:
        """Bores through the barrels, and beside them as far again, so that a pin can be slid in past the panels."""
        for n in range(0, len(knuckles), 3):
            hinge = self.record["hinges"][knuckles[n].hinge]
            if panel in hinge["panels"]:
                low, high = knuckles[n].low, knuckles[n + 2].high
                past = high - low
                rod = self._rod((self.p.pin + self.p.clearance) / 2, low - past, high + past)
                solid = solid - self._placed(rod, hinge)
        return solid

    def _snapped(self, solid: Any, k: _Knuckle) -> Any:
        """Blunt cones on the ends of the outer barrels, dimples wider by the clearance in the inner one."""
        base, top, high = 0.6 * self.p.radius, 0.25 * self.p.radius, self.p.bump
        hinge = self.record["hinges"][k.hinge]
        for end, at, way in ((k.ends[0], k.low, -1.0), (k.ends[1], k.high, 1.0)):
            if not end:
                continue
            grow = 0.0 if end > 0 else self.p.clearance / 2
            foot = base + grow + 0.4 * (base - top) / (high + grow)  # crosses the barrel's end, leaves no edge on it
            cone = self.m.Manifold.cylinder(high + grow + 0.4, foot, top + grow, SEGMENTS).translate((0.0, 0.0, -0.4))
            cone = cone.rotate((0.0, 90.0, 0.0))
            if (way < 0) == (end > 0):
                cone = cone.mirror((1.0, 0.0, 0.0))
            cone = self._placed(cone.translate((at, 0.0, 0.0)), hinge)
            solid = solid + cone if end > 0 else solid - cone
        return solid

    def _clear_of_others(self, solids: list[Any], knuckles: list[_Knuckle]) -> tuple[list[Any], list[int]]:
        """Notches for the hinges of other panels, at every rest state; returns the panels that were cut."""
        cut: set[int] = set()
        done: dict[tuple[int, int], list[Floats]] = {}
        tools = self._tools(knuckles)
        for frame in stage_frames(self.record):
            at = poses(self.record)[frame]
            for n, (hinge, carrier, tool) in enumerate(tools):
                for q in range(len(solids)):
                    if q in hinge["panels"]:
                        continue
                    step = self._stretched(chained(invert(at[q]), at[carrier]))
                    before = done.setdefault((n, q), [])
                    if any(np.abs(c - step).max() < 1e-4 for c in before):
                        continue  # cut before, at another rest state: twice the same cut would leave slivers
                    before.append(step)
                    moved = tool.transform(step)
                    if _apart(moved.bounding_box(), solids[q].bounding_box()):
                        continue
                    left = solids[q] - moved
                    if left.volume() < solids[q].volume() - 1e-6:
                        solids[q] = left
                        cut.add(q)
        return solids, sorted(cut)

    def _tools(self, knuckles: list[_Knuckle]) -> list[tuple[Record, int, Any]]:
        """(hinge, panel that carries it, solid) of what other panels must clear: one rod for the three barrels of a
        group, which is the same at every angle, and the web of each; grown by the clearance."""
        grown = self.p.clearance + _INSIDE
        found: list[tuple[Record, int, Any]] = []
        for n in range(0, len(knuckles), 3):
            first, _, last = knuckles[n : n + 3]
            hinge = self.record["hinges"][first.hinge]
            rod = self._rod(self.p.radius + grown, first.low - grown, last.high + grown)
            found.append((hinge, first.panel, self._placed(rod, hinge)))
            webs = ((k.panel, self._web(hinge, k, grown)) for k in knuckles[n : n + 3])
            found += [(hinge, panel, self._placed(web, hinge)) for panel, web in webs if not web.is_empty()]
        return found

    def _stretched(self, step: Floats) -> Floats:
        """A motion [3, 4] (m) at the model's scale, mm. Raises InputError where stretched heights make it no motion."""
        spread = np.array([self.flat, self.flat, self.up])
        turn = step[:, :3] * spread[:, None] / spread
        if np.abs(turn @ turn.T - np.eye(3)).max() > 1e-6:
            raise InputError(
                "print: panels would be thinner than least_thickness, and heights cannot be stretched for this family; "
                "choose a larger bed or scale, or a smaller least_thickness"
            )
        return np.column_stack([turn, step[:, 3] * spread])


def lying(panel: Record, points: Floats) -> Floats:
    """Points [n, 3] of a panel as it lies on the bed: back down, a framed one face down, so that its sheet is the first
    layers."""
    return points if sheet_thickness(panel) is None else points * [1.0, -1.0, -1.0]


def _apart(a: Any, b: Any) -> bool:
    return any(a[k] > b[k + 3] or b[k] > a[k + 3] for k in range(3))


GRID = 1e-5
"""Corners are written on a grid of this (mm): corners that a reader would merge are merged, and it still closes."""


def mesh_of(solid: Any) -> tuple[Floats, Ints]:
    """Points [n, 3] (mm, on the grid, all different) and triangles [m, 3] of a solid.

    Raises ValueError where the mesh does not run every edge as often one way as the other.
    """
    mesh = solid.to_mesh64()
    points = np.round(np.asarray(mesh.vert_properties, dtype=np.float64)[:, :3] / GRID) * GRID
    points, name = np.unique(points, axis=0, return_inverse=True)
    tri = name.reshape(-1)[np.asarray(mesh.tri_verts, dtype=np.int64)]
    tri = tri[(tri != np.roll(tri, 1, axis=1)).all(axis=1)]
    run = np.concatenate([tri[:, [0, 1]], tri[:, [1, 2]], tri[:, [2, 0]]])
    there, back = (np.sort(run[:, k] * len(points) + run[:, 1 - k]) for k in (0, 1))
    if not (there == back).all():
        raise ValueError("a printable mesh does not close")
    used, place = np.unique(tri, return_inverse=True)
    return points[used], place.reshape(tri.shape)
