"""All solids of one candidate as upright convex prisms: panels, fittings, keep-out boxes."""

from dataclasses import dataclass

import numpy as np
from scipy.spatial import ConvexHull

from synth.core.arrays import Bools, Floats, Ints
from synth.core.fittings import NO_JOINT, Fittings
from synth.core.geometry import Geometry
from synth.core.pieces import convex_pieces
from synth.core.topology import Topology

DISTINCT = 1e-9
"""m: corners closer than this are one corner."""
PARALLEL = 1e-9
"""Directions whose cross product is below this count once."""


@dataclass(frozen=True, eq=False)
class Shape:
    """Upright prisms of one number of corners, deployed coordinates, the solid counted by the last axis.

    x, y [V, n]: plan corners, padded by repeats; low, high [n]: z range.
    nx, ny [D, n]: distinct outward side normals up to sign; least, most [D, n]: reach along each.
    centre [3, n] and radius [n]: a sphere round each.
    """

    x: Floats
    y: Floats
    low: Floats
    high: Floats
    nx: Floats
    ny: Floats
    least: Floats
    most: Floats
    centre: Floats
    radius: Floats

    @property
    def count(self) -> int:
        return len(self.low)

    def corners(self) -> Floats:
        """[3, 2 V, n]: back corners first."""
        return self.corners_of(np.arange(self.count))

    def corners_of(self, index: Ints) -> Floats:
        """Corners [3, 2 V, m] of prisms index [m]."""
        x, y = self.x[:, index], self.y[:, index]
        z = np.concatenate([np.broadcast_to(h[index], x.shape) for h in (self.low, self.high)])
        return np.stack([np.concatenate([x, x]), np.concatenate([y, y]), z])


@dataclass(frozen=True, eq=False)
class Solids:
    """N solids. shapes: one Shape for each number of corners; shape [N], place [N]: where a solid is found there.

    panel [N]: whose pose moves it (a notched panel is several solids); body [N]: solids of one body never move
    against each other (panels 0..P-1 with their fittings, then every keep-out box by itself).
    tested [N, N]: pairs that may not meet, upper triangle. name [N].
    """

    shapes: tuple[Shape, ...]
    shape: Ints
    place: Ints
    panel: Ints
    body: Ints
    tested: Bools
    name: tuple[str, ...]
    is_panel: Bools

    @property
    def count(self) -> int:
        return len(self.panel)

    def spheres(self) -> tuple[Floats, Floats]:
        """Centres [N, 3], deployed, and radii [N] of a sphere round each."""
        centre, radius = np.zeros((self.count, 3)), np.zeros(self.count)
        for k, shape in enumerate(self.shapes):
            mine = np.flatnonzero(self.shape == k)
            centre[mine], radius[mine] = shape.centre[:, self.place[mine]].T, shape.radius[self.place[mine]]
        return centre, radius

    def corner_points(self) -> tuple[Floats, Ints]:
        """All corners [M, 3], deployed, and the panel [M] that moves each."""
        found, owner = [], []
        for k, shape in enumerate(self.shapes):
            mine = np.flatnonzero(self.shape == k)
            corners = shape.corners()[:, :, self.place[mine]]
            found.append(corners.reshape(3, -1).T)
            owner.append(np.tile(self.panel[mine], corners.shape[1]))
        return np.concatenate(found), np.concatenate(owner)

    def outer_points(self) -> tuple[Floats, Ints]:
        """Those of `corner_points` that are corners of the convex hull of what one panel moves: whatever is convex in
        the place of a point is greatest at one of them (elementary). Hulls by qhull."""
        points, owner = self.corner_points()
        kept = []
        for panel in np.unique(owner):
            mine = np.flatnonzero(owner == panel)
            kept.append(mine[np.sort(ConvexHull(points[mine]).vertices)])
        index = np.concatenate(kept)
        return points[index], owner[index]


def solids_of(
    topology: Topology, geometry: Geometry, fittings: Fittings | None, keep_out: Floats, names: tuple[str, ...] = ()
) -> Solids:
    """Solids of a batch of one. keep_out [K, 2, 3]: least and greatest corner of boxes fixed to the root frame.

    A panel with notches stands as its convex pieces. Fittings without room (no area or no
    height) are left out: they stand for latches that are not there. A fitting may meet the
    two panels and the other fittings of its own joint; all else of different bodies may not meet.
    """
    panels = topology.panels
    t = float(geometry.thickness[0])
    pieces = [convex_pieces(_tidy(p)) for p in geometry.cut[0]]
    plans = [piece for panel in pieces for piece in panel]
    body = [p for p, panel in enumerate(pieces) for _ in panel]
    bare = len(plans)
    z = [(-t, 0.0)] * bare
    joint = [(NO_JOINT, NO_JOINT)] * bare
    name = [f"panel {p}" for p in body]
    if fittings is not None:
        for f, outline in enumerate(fittings.outline[0]):
            plan, low, high = _tidy(outline), float(fittings.z_back[0, f]), float(fittings.z_front[0, f])
            if len(plan) < 3 or _area(plan) < DISTINCT**2 or high - low < DISTINCT:
                continue
            plans.append(plan)
            z.append((low, high))
            body.append(int(fittings.panel[f]))
            joint.append((int(fittings.hinge[f]), int(fittings.latch[f])))
            of = f"hinge {fittings.hinge[f]}" if fittings.hinge[f] != NO_JOINT else f"latch {fittings.latch[f]}"
            name.append(f"fitting {f} of {of} on panel {fittings.panel[f]}")
    moved_by = list(body)
    for k, (least, most) in enumerate(keep_out):
        plans.append(np.array([[least[0], least[1]], [most[0], least[1]], [most[0], most[1]], [least[0], most[1]]]))
        z.append((float(least[2]), float(most[2])))
        body.append(panels + k)
        moved_by.append(0)
        joint.append((NO_JOINT, NO_JOINT))
        name.append(f"keep-out {names[k] if k < len(names) else k}")
    owner = np.array(body, dtype=np.int64)
    shapes, shape, place = _shapes(plans, np.array(z))
    return Solids(
        shapes=shapes,
        shape=shape,
        place=place,
        panel=np.array(moved_by, dtype=np.int64),
        body=owner,
        tested=_tested(topology, owner, np.array(joint, dtype=np.int64), panels, np.arange(len(owner)) < bare),
        name=tuple(name),
        is_panel=np.arange(len(owner)) < bare,
    )


def _tested(topology: Topology, body: Ints, joint: Ints, panels: int, bare: Bools) -> Bools:
    """Pairs [N, N] (upper triangle) that may not meet."""
    out = body[:, None] != body[None, :]
    out &= ~((body[:, None] >= panels) & (body[None, :] >= panels))
    for kind, pairs in ((0, topology.hinges), (1, topology.latchable)):
        own = joint[:, kind]
        held = own != NO_JOINT
        out &= ~(held[:, None] & (own[:, None] == own[None, :]))
        whose = np.where(held[:, None], pairs[np.where(held, own, 0)] if len(pairs) else -1, -1)
        excused = ((whose[:, None, :] == body[None, :, None]).any(axis=-1)) & held[:, None] & bare[None, :]
        out &= ~(excused | excused.T)
    return np.triu(out, 1)


def _tidy(plan: Floats) -> Floats:
    """Corners without repeats."""
    kept = np.abs(plan - np.roll(plan, 1, axis=0)).max(axis=1) > DISTINCT
    return plan[kept] if kept.any() else plan[:1]


def _area(plan: Floats) -> float:
    after = np.roll(plan, -1, axis=0)
    return float(abs((plan[:, 0] * after[:, 1] - plan[:, 1] * after[:, 0]).sum()) / 2.0)


def _shapes(plans: list[Floats], z: Floats) -> tuple[tuple[Shape, ...], Ints, Ints]:
    """Four-cornered prisms in one table, all others in a second."""
    small = np.array([len(p) <= 4 for p in plans])
    shape, place = np.where(small, 0, 1), np.zeros(len(plans), dtype=np.int64)
    made = []
    for k in (0, 1) if not small.all() else (0,):
        mine = np.flatnonzero(shape == k)
        place[mine] = np.arange(len(mine))
        made.append(shape_of([plans[i] for i in mine], z[mine]))
    return tuple(made), shape.astype(np.int64), place


def shape_of(plans: list[Floats], z: Floats) -> Shape:
    """Table of upright prisms from plans [V, 2] and z ranges [n, 2]."""
    most = max((len(p) for p in plans), default=4)
    padded = np.array([np.concatenate([p, np.repeat(p[-1:], most - len(p), axis=0)]) for p in plans])
    padded = padded.reshape(-1, most, 2)
    normals = [_normals(p) for p in plans]
    sides = max((len(n) for n in normals), default=2)
    table = np.array([np.concatenate([n, np.repeat(n[:1], sides - len(n), axis=0)]) for n in normals])
    table = table.reshape(-1, sides, 2)
    along = np.einsum("nij,nkj->nik", table, padded)
    middle = (padded.max(axis=1) + padded.min(axis=1)) / 2.0
    centre = np.stack([middle[:, 0], middle[:, 1], z.mean(axis=1)])
    reach = np.linalg.norm(padded - middle[:, None], axis=-1).max(axis=1, initial=0.0)
    return Shape(
        x=np.ascontiguousarray(padded[..., 0].T),
        y=np.ascontiguousarray(padded[..., 1].T),
        low=np.ascontiguousarray(z[:, 0]),
        high=np.ascontiguousarray(z[:, 1]),
        nx=np.ascontiguousarray(table[..., 0].T),
        ny=np.ascontiguousarray(table[..., 1].T),
        least=np.ascontiguousarray(along.min(axis=-1).T),
        most=np.ascontiguousarray(along.max(axis=-1).T),
        centre=centre,
        radius=np.hypot(reach, np.ptp(z, axis=1) / 2.0),
    )


def _normals(plan: Floats) -> Floats:
    """Distinct side normals [D, 2] up to sign."""
    step = np.roll(plan, -1, axis=0) - plan
    found: list[Floats] = []
    for dx, dy in step:
        n = np.array([dy, -dx]) / np.hypot(dx, dy)
        if all(abs(n[0] * m[1] - n[1] * m[0]) > PARALLEL for m in found):
            found.append(n)
    return np.array(found)
