"""Solids of a record seen from afar: orthographic, hidden faces left out, nearer solids drawn over farther ones."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from matplotlib.collections import PolyCollection
from matplotlib.colors import to_rgb

from synth.core.arrays import Floats, dot, transform, unit
from synth.export.sheet import INK

RECEIVING, BACK, SIDE, FITTING = "#f6dfa6", "#a9bfd3", "#c9ccd1", "#5b6068"
BARS, WELL = "#cfb67c", "#8b9199"
"""Bars seen through the sheet before them, and the walls of the opening that they leave behind it."""
ROOT_BACK = "#7f9cba"
_LIGHT = np.array([0.35, -0.45, 0.82])
_TOUCH = 1e-7


@dataclass(frozen=True, eq=False)
class View:
    """Directions on the sheet: right, up [3]; what points at the eye is right x up."""

    right: Floats
    up: Floats

    @property
    def toward(self) -> Floats:
        return np.cross(self.right, self.up)

    def flat(self, points: Floats) -> Floats:
        """Sheet coordinates [..., 2] of points [..., 3]."""
        return np.stack([points @ self.right, points @ self.up], axis=-1)


def view_from(azimuth: float, elevation: float) -> View:
    """From a direction in degrees, z upwards on the sheet."""
    a, e = np.radians([azimuth, elevation])
    toward = np.array([np.cos(e) * np.cos(a), np.cos(e) * np.sin(a), np.sin(e)])
    right = np.array([-np.sin(a), np.cos(a), 0.0])
    return View(right, np.cross(toward, right))


TOP = View(np.array([1.0, 0.0, 0.0]), np.array([0.0, 1.0, 0.0]))
FRONT = View(np.array([1.0, 0.0, 0.0]), np.array([0.0, 0.0, 1.0]))
RIGHT = View(np.array([0.0, 1.0, 0.0]), np.array([0.0, 0.0, 1.0]))


@dataclass(frozen=True, eq=False)
class Pane:
    """An opening of a frame: its rim [k, 3] on the front face, on the back face, and on the back of the sheet."""

    front: Floats
    mouth: Floats
    floor: Floats


@dataclass(frozen=True, eq=False)
class Body:
    """An upright prism in some pose. faces: corners [k, 3] counter-clockwise from outside; normals [F, 3]; colours.

    The back is the first face, the front the second. clear: opacity where it is to be seen through; panes: openings.
    """

    faces: tuple[Floats, ...]
    normals: Floats
    colours: tuple[str, ...]
    bold: bool = False
    clear: float = 1.0
    panes: tuple[Pane, ...] = ()

    @property
    def points(self) -> Floats:
        return np.concatenate([self.faces[0], self.faces[1]])


def bodies(record: Mapping[str, Any], poses: Floats, turn: Floats | None = None) -> list[Body]:
    """Panels, then fittings, at poses [P, 3, 4], turned by a rotation [3, 3] of the whole."""
    found = []
    for panel in record["panels"]:
        front = (RECEIVING if panel.get("sheet_thickness_m") is None else BARS) if panel["receiving"] else BACK
        back = ROOT_BACK if panel["id"] == 0 else BACK
        found.append(_prism(panel, poses[panel["id"]], turn, (back, front, SIDE), panel["id"] == 0))
    for fitting in record["fittings"]:
        found.append(_prism(fitting, poses[fitting["panel"]], turn, (FITTING, FITTING, FITTING), False))
    return found


def _prism(part: Mapping[str, Any], pose: Floats, turn: Floats | None, tones: tuple[str, str, str], bold: bool) -> Body:
    ring = np.asarray(part["outline"], dtype=np.float64)
    low, high = (np.column_stack([ring, np.full(len(ring), part[z])]) for z in ("z_back", "z_front"))
    low, high = transform(pose, low), transform(pose, high)
    if turn is not None:
        low, high = low @ turn.T, high @ turn.T
    n = len(ring)
    sides = [np.stack([low[k], low[(k + 1) % n], high[(k + 1) % n], high[k]]) for k in range(n)]
    faces = (low[::-1], high, *sides)
    # the cross product of the first two edges of a side; of a ring the sum over all its corners
    normals = unit(np.stack([np.cross(f, np.roll(f, -1, axis=0)).sum(axis=0) for f in faces]))
    return Body(faces, normals, (tones[0], tones[1], *([tones[2]] * n)), bold, panes=_panes(part, pose, turn))


def _panes(part: Mapping[str, Any], pose: Floats, turn: Floats | None) -> tuple[Pane, ...]:
    """Openings of a framed panel; none of any other part."""
    thick = part.get("sheet_thickness_m")
    if thick is None:
        return ()
    made = []
    for window in part.get("windows") or []:
        ring = np.asarray(window, dtype=np.float64)
        rims = []
        for z in (part["z_front"], part["z_back"], part["z_front"] - thick):
            rim = transform(pose, np.column_stack([ring, np.full(len(ring), z)]))
            rims.append(rim if turn is None else rim @ turn.T)
        made.append(Pane(*rims))
    return tuple(made)


def ordered(found: Sequence[Body], view: View) -> list[int]:
    """Numbers of bodies from the farthest to the nearest.

    Of two bodies that a face of one keeps apart, the one on the eye's side of that face is nearer; this is exact for
    solids that do not meet. Rings of three and more that overlap in turn are broken by the depth of their middles.
    """
    flat = [view.flat(b.points) for b in found]
    low = np.array([f.min(axis=0) for f in flat])
    high = np.array([f.max(axis=0) for f in flat])
    depth = np.array([float((b.points @ view.toward).mean()) for b in found])
    behind: list[set[int]] = [set() for _ in found]
    over = (low[:, None] < high[None] - _TOUCH).all(axis=2)
    over &= over.T
    for a, b in zip(*np.nonzero(np.triu(over, 1)), strict=True):
        nearer = _nearer(found[a], found[b], view.toward)
        if nearer == 0:
            nearer = 1 if depth[b] > depth[a] else -1
        if nearer > 0:
            behind[b].add(int(a))
        else:
            behind[a].add(int(b))
    left = set(range(len(found)))
    order: list[int] = []
    while left:
        free = [k for k in left if not behind[k] & left]
        chosen = sorted(free, key=lambda k: (depth[k], k)) or [min(left, key=lambda k: (depth[k], k))]
        order += chosen
        left -= set(chosen)
    return order


def _nearer(a: Body, b: Body, toward: Floats) -> int:
    """+1 where b lies nearer the eye, -1 where a does, 0 where no face of either tells."""
    best, answer = 0.0, 0
    for one, other, sign in ((a, b, 1), (b, a, -1)):
        at = np.stack([f[0] for f in one.faces])
        facing = one.normals @ toward
        reach = dot(one.normals, at)
        gap = (one.normals @ other.points.T).min(axis=1) - reach
        own = (one.normals @ one.points.T).max(axis=1) - reach
        apart = (gap > -_TOUCH) & (own < _TOUCH) & (np.abs(facing) > 1e-6)
        if apart.any():
            k = int(np.argmax(np.where(apart, np.abs(facing), -1.0)))
            if abs(facing[k]) > best:
                best, answer = float(abs(facing[k])), sign if facing[k] > 0 else -sign
    return answer


def draw(axes: Any, found: Sequence[Body], view: View, shift: Floats | None = None, line: float = 0.5) -> None:
    """Draws bodies onto axes of equal scale; shift [2] moves them on the sheet."""
    move = np.zeros(2) if shift is None else shift
    light = unit(_LIGHT)
    polygons, colours, widths = [], [], []
    for k in ordered(found, view):
        body = found[k]
        for face, normal, colour in zip(body.faces, body.normals, body.colours, strict=True):
            if float(normal @ view.toward) <= 1e-9:
                continue
            shade = 0.62 + 0.38 * max(0.0, float(normal @ light))
            polygons.append(view.flat(face) + move)
            colours.append((*(shade * np.asarray(to_rgb(colour))), body.clear))
            widths.append(1.6 * line if body.bold else line)
        for ring, tone in _openings(body, view):
            polygons.append(ring + move)
            colours.append((*to_rgb(tone), 1.0))
            widths.append(0.6 * line)
    axes.add_collection(PolyCollection(polygons, facecolors=colours, edgecolors=INK, linewidths=widths,
                                       joinstyle="round"))  # fmt: skip


def _openings(body: Body, view: View) -> Iterator[tuple[Floats, str]]:
    """Rings on the sheet and their tones: panes from the front; from behind the well of each, then its floor in it."""
    for pane in body.panes:
        if float(body.normals[1] @ view.toward) > 1e-9:
            yield view.flat(pane.front), RECEIVING
        elif float(body.normals[0] @ view.toward) > 1e-9:
            mouth = shapely.Polygon(view.flat(pane.mouth))
            yield view.flat(pane.mouth), WELL
            floor = mouth.intersection(shapely.Polygon(view.flat(pane.floor)))
            if floor.geom_type == "Polygon" and not floor.is_empty:
                yield np.asarray(floor.exterior.coords), RECEIVING
