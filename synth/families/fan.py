"""Fan: sectors about an open centre, hinged edge to edge along the radii, folded to and fro like a hand fan."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated, ClassVar

import numpy as np

from synth.core.arrays import Column, Floats, Ints
from synth.core.build import Build
from synth.core.family import Cell, Count, Family, Layout, Real
from synth.core.geometry import Geometry, directed_axis
from synth.core.layers import half_turn_height, stack
from synth.core.polygon import centroid, clip, compact
from synth.core.status import Status
from synth.core.tiling import edge_slots, shared_edge
from synth.core.topology import Topology

CORNERS = 6
TANGENTS = (-2.0 / 3.0, 0.0, 2.0 / 3.0)
"""Where the outer end of a sector touches the rim, in half angles of the sector."""
LARGEST_HOLE, LARGEST_REACH = 0.4, 1.05


@dataclass(frozen=True, eq=False)
class Fan(Family):
    """Equal sectors all round the optical axis, hinged front and back in turn.

    Creases: of the n radii between neighbours n - 1 are hinges; one is cut, and a latch may join it once the fan has
    come round. Neighbouring layers only are joined (steps 1): no standoffs. A half turn about a radius maps the next
    sector on this one (mirror image), so the stack has the footprint of one sector and is n t + (n - 1) g high
    (half-turn rule, derived): as long as the radius less the hole, where strips are as long as the diameter. The
    centre stays open: hole is the inradius of the polygon that the inner ends leave free, over the clear radius R.

    On the way the sectors stand like the pleats of a cone. The axes lie outside the faces, so every hinge first carries
    the next sector outwards across the crease by h sin(turn), h the height of the axis over the mid-plane; the sum of
    those steps round the full circle is zero, hence the two ends part by one step and come together last (derived).

    Wins where half the aperture's diameter is all the length there is and parts should be alike: all sectors
    and all hinges are the same. Loses area in the hole and flatness along one long chain, unless the cut is latched.
    With the root in the middle one half lies on its front, the other behind it, and the chain is halved.
    "together" turns all hinges at once; "in_turn" turns the remaining pack over about one radius after the other.

    Source: fan folding of circular blankets about a hub is common in the trade of solar arrays (memory).
    """

    name: ClassVar[str] = "fan"
    title: ClassVar[str] = "Fan of sectors round an open centre"

    sectors: Annotated[int, Count(3, 24, "sectors round the centre")]
    root: Annotated[str, Layout(("end", "middle"), "which sector of the chain is fixed to the spacecraft")]
    deploy: Annotated[str, Layout(("together", "in_turn"), "all hinges at once, or one after the other")]
    reach: Annotated[Column, Real(0.8, LARGEST_REACH, "1", "inradius of the rim over the clear radius")]
    hole: Annotated[Column, Real(0.03, LARGEST_HOLE, "1", "inradius of the open centre over the clear radius")]

    def order(self) -> list[int]:
        """Place of each panel round the centre; the root first, then outwards along the chain by turns."""
        root = self.sectors // 2 if self.root == "middle" else 0
        return sorted(range(self.sectors), key=lambda k: (abs(k - root), -k))

    def topology(self) -> Topology:
        place = self.order()
        panel = {k: p for p, k in enumerate(place)}
        parent = [-1] + [panel[k - 1] if k > place[0] else panel[k + 1] for k in place[1:]]
        sides = [0] + [0 if parent[p] else (1 if place[p] > place[0] else -1) for p in range(1, self.sectors)]
        laid = stack(parent, sides=sides)
        # every second crease comes to lie on the same side of the footprint
        crease = [max(place[p], place[parent[p]]) for p in range(1, self.sectors)]
        ends = np.stack([laid.level[1:], laid.level[parent[1:]]])
        slot = edge_slots([c % 2 for c in crease], ends.min(axis=0).tolist(), ends.max(axis=0).tolist())
        stage: Ints = laid.stage if self.deploy == "in_turn" else np.zeros_like(laid.stage)
        cut = np.array([sorted((panel[0], panel[self.sectors - 1]))], dtype=np.int64)
        tree = np.asarray(parent, dtype=np.int64)
        return Topology(tree, laid.sense, laid.steps, stage, slot, laid.level, laid.turned, cut)

    def geometry(self, build: Build) -> Geometry:
        """Sectors set back by half the edge gap, ended by three tangents of the rim.

        Status: inner ends wider than the gap, hinge lines long enough for one unit.
        """
        topology, place = self.topology(), np.asarray(self.order())
        radius, a = build.diameter / 2.0, np.pi / self.sectors
        inner, rim = self.hole * radius, self.reach * radius
        gap = np.minimum(build.edge_gap, 1.6 * inner * np.sin(a))
        outline = _around(self._sector(inner, rim, gap), 2.0 * a * place)
        pairs = np.concatenate([topology.hinges, topology.latchable])
        i, j = pairs.T
        # the radius between two neighbours lies half a sector before the one that comes later round the centre
        later = np.where(np.abs(place[i] - place[j]) == 1, np.maximum(place[i], place[j]), 0)
        ray = np.stack([np.cos(2.0 * a * later - a), np.sin(2.0 * a * later - a)], axis=-1)
        line = np.stack([0.5 * inner[:, None, None] * ray, 2.0 * rim[:, None, None] * ray], axis=-2)
        seam = shared_edge(outline[:, i], outline[:, j], line)
        count = len(topology.hinges)
        middle = centroid(outline)
        axis = directed_axis(seam[:, :count], middle[:, i[:count]], half_turn_height(topology, build))
        latch = directed_axis(seam[:, count:], middle[:, i[count:]], np.zeros((build.rows, 1)))[..., :2]
        length = np.linalg.norm(seam[..., 1, :] - seam[..., 0, :], axis=-1)
        status = Status.fine(build.rows).require(
            1.6 * inner * np.sin(a) / build.edge_gap - 1.0,
            "the sectors' inner ends are narrower than the edge gap asks",
        )
        status = status.require(
            length.min(axis=1) / build.unit_width - 1.0, "a hinge line is too short for one hinge unit"
        )
        angle = np.broadcast_to(topology.sense * np.pi, (build.rows, count)).copy()
        return Geometry(outline, build.thickness, axis, angle, latch, status)

    def _sector(self, inner: Column, rim: Column, gap: Column) -> Floats:
        """The sector [B, CORNERS, 2] about the x axis."""
        a, far = np.pi / self.sectors, 2.0 * rim
        wide = far * np.tan(a)
        x = np.stack([inner, far, far, inner], axis=-1)
        y = np.stack([-wide, -wide, wide, wide], axis=-1)
        out = np.stack([x, y], axis=-1)
        for side in (1.0, -1.0):
            out = compact(clip(out, np.array([-np.sin(a), side * np.cos(a)]), -gap / 2.0), CORNERS)
        for share in TANGENTS:
            out = compact(clip(out, np.array([np.cos(share * a), np.sin(share * a)]), rim), CORNERS)
        return out

    @classmethod
    def first_cells(cls, most_panels: int) -> Sequence[Cell]:
        counts = [n for n in (3, 4, 5, 6, 8, 10, 12, 16, 20) if n <= most_panels]
        return [
            {"sectors": n, "root": root, "deploy": deploy}
            for n in counts
            for root in ("end", "middle")
            for deploy in ("together", "in_turn")
        ]

    @classmethod
    def panel_count(cls, cell: Cell) -> int:
        return int(cell["sectors"])

    @classmethod
    def least_span(cls, diameter: float, least_area: float) -> float:
        """A sector reaches from the hole (inradius r) to its farthest corner (distance c), at least c - r apart.

        All sectors lie between two circles of those radii: pi (c^2 - r^2) >= area, hence c - r >= area / (pi (c + r)),
        with c at most the corner of the widest sector's outermost tangent.
        """
        radius = diameter / 2.0
        corner = LARGEST_REACH * radius / np.cos(np.pi / 9.0)
        return float(least_area / (np.pi * (corner + LARGEST_HOLE * radius)))


def _around(part: Floats, angle: Floats) -> Floats:
    """A part [B, V, 2] about the x axis, turned to every angle [n]: [B, n, V, 2]."""
    c, s = np.cos(angle)[:, None], np.sin(angle)[:, None]
    x, y = part[:, None, :, 0], part[:, None, :, 1]
    return np.stack([c * x - s * y, s * x + c * y], axis=-1)
