"""Slat roll: narrow slats rolled up as a polygon that grows turn by turn."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated, ClassVar

import numpy as np

from synth.core.arrays import Column, Floats
from synth.core.build import Build
from synth.core.family import Cell, Count, Family, Layout, Real
from synth.core.geometry import Geometry, directed_axis
from synth.core.polygon import centroid
from synth.core.status import Status
from synth.core.tiling import inset, middle_span, shared_edge, strips
from synth.core.topology import Topology

LEAST_DRUM = 0.25
"""Least inner apothem over the mean one: below it the innermost slats are slivers."""


@dataclass(frozen=True, eq=False)
class SlatRoll(Family):
    """Slats hinged edge to edge, every hinge turned the same way by 2 pi / k: a spiral of k-sided turns.

    Creases: all n - 1 lines between slats are hinges; none is cut, no free edge is left. The innermost slat is
    the root, at the left rim of the aperture; the drum inside the first turn is room left free.

    Nesting (derived): hinge lines of slat i at distance a_i = a_0 + i q / k from the drum's axis, q the wall
    distance of successive turns. Lines at distances a_(i-1), a_i, a_(i+1) whose normals turn by 2 pi / k cut
    out a side of length w_i = 2 a_i tan(pi / k) (the linear parts cancel), so slats of these widths nest with
    all walls of one side parallel at distance q. The widths add up to cover D + e, which gives a_0.
    Axes lie a depth d inside the face that becomes the inner one: as deep as the knuckle (half height r, so that
    nothing stands proud inwards), at most half the panel, and at most what lets neighbouring inner corners
    clear each other, d tan(pi / k) <= 0.8 e / 2. Then q is the larger of the pitch and
    t + gap + max(r - d, 0) + max(r - (t - d), 0): knuckles of successive turns lie on one radius.

    `roll` "front" hides the receiving faces inside the roll, "back" shows them outside. Deployment: the root is
    wrapped by all others, so the outermost slat must open first ("in_turn": hinge by hinge from the outside;
    what is open is a straight arm on a line that touches the rest of the roll only at its own hinge).
    "together" (all angles shrink alike) is offered up to one turn: beyond it the corners of one turn
    would sweep through the sides of the next.

    Wins where the room is a tube as long as the aperture. Loses on chain length and on the swing of the arm.

    Source: slat and roller-shutter roll are terms of the trade.
    """

    name: ClassVar[str] = "slat_roll"
    title: ClassVar[str] = "Roll of narrow slats"

    slats: Annotated[int, Count(3, 32, "slats across the aperture")]
    sides: Annotated[int, Count(3, 8, "sides of one turn of the roll")]
    roll: Annotated[str, Layout(("front", "back"), "which face lies inside the roll")]
    deploy: Annotated[str, Layout(("in_turn", "together"), "outermost hinge first, or all hinges at once")]
    cover: Annotated[Column, Real(0.7, 1.0, "1", "share of the clear diameter covered across the slats")]
    reach: Annotated[Column, Real(0.5, 1.0, "1", "share of the clear diameter covered along the slats")]

    def topology(self) -> Topology:
        count = self.slats - 1
        none = np.zeros(self.slats, dtype=np.int64)
        zero = np.zeros(count, dtype=np.int64)
        stage = np.arange(count)[::-1].copy() if self.deploy == "in_turn" else zero.copy()
        sense = np.full(count, 1 if self.roll == "front" else -1, dtype=np.int64)
        return Topology(np.arange(self.slats) - 1, sense, zero, stage, zero.copy(), none, none.copy())

    def nesting(self, build: Build) -> tuple[Floats, Column, Column, Column]:
        """Cell widths [B, P], axis depth d, wall distance q asked for and inner apothem a_0 that it leaves [B].

        Where a_0 would be less than LEAST_DRUM of the mean apothem, the widths are those of a smaller wall distance.
        """
        n, k = self.slats, self.sides
        rise = np.tan(np.pi / k)
        depth = np.minimum(build.knuckle, build.thickness / 2.0)
        depth = np.minimum(depth, 0.8 * (build.edge_gap / 2.0) / rise)
        proud = np.maximum(build.knuckle - depth, 0.0) + np.maximum(build.knuckle - build.thickness + depth, 0.0)
        wall = np.maximum(build.pitch, build.thickness + build.panel_gap + proud)
        mean = (self.cover * build.diameter + build.edge_gap) / (2.0 * n * rise)
        growth = (n - 1) / (2.0 * k)
        drum = mean - wall * growth
        used = np.maximum(drum, LEAST_DRUM * mean)
        apothem = used[:, None] + ((mean - used) / growth)[:, None] * np.arange(n) / k
        return 2.0 * apothem * rise, depth, wall, drum

    def geometry(self, build: Build) -> Geometry:
        topology = self.topology()
        width, depth, _, drum = self.nesting(build)
        edge = np.concatenate([np.zeros((build.rows, 1)), width.cumsum(axis=1)], axis=1)
        edge = edge - edge[:, -1:] / 2.0
        reach = (self.reach * build.diameter / 2.0)[:, None]
        limits = inset(edge[:, :-1], edge[:, 1:], build.edge_gap[:, None])
        outline = strips(*limits, reach, build.diameter / 2.0)
        x = edge[:, 1:-1]
        line = np.stack([np.stack([x, side * reach + 0.0 * x], axis=-1) for side in (-1.0, 1.0)], axis=-2)
        seam = shared_edge(outline[:, :-1], outline[:, 1:], line)
        height = -depth if self.roll == "front" else depth - build.thickness
        axis = directed_axis(seam, centroid(outline[:, :-1]), np.broadcast_to(height[:, None], x.shape))
        angle = np.broadcast_to(topology.sense * 2.0 * np.pi / self.sides, x.shape).copy()
        length = np.linalg.norm(seam[..., 1, :] - seam[..., 0, :], axis=-1).min(axis=1)
        mean = width.mean(axis=1) / (2.0 * np.tan(np.pi / self.sides))
        status = Status.fine(build.rows).require(
            drum / (LEAST_DRUM * mean) - 1.0, "the slats are too thick to roll up so often: no drum is left"
        )
        status = status.require(width[:, 0] / build.edge_gap - 2.0, "slats are too narrow for the edge gap")
        status = status.require(length / build.unit_width - 1.0, "a hinge line is too short for one hinge unit")
        return Geometry(outline, build.thickness, axis, angle, np.zeros((build.rows, 0, 2, 2)), status)

    @classmethod
    def first_cells(cls, most_panels: int) -> Sequence[Cell]:
        cells: list[Cell] = [
            {"slats": n, "sides": k, "roll": "front", "deploy": "together" if n <= k else "in_turn"}
            for n, k in ((3, 3), (4, 4), (6, 6), (8, 8), (6, 4), (8, 4), (9, 6), (12, 4), (12, 6), (16, 5), (20, 6))
        ]
        cells += [{**c, "roll": "back"} for c in cells if int(c["slats"]) in (6, 12)]
        return [c for c in cells if cls.panel_count(c) <= most_panels]

    @classmethod
    def panel_count(cls, cell: Cell) -> int:
        return int(cell["slats"])

    @classmethod
    def allowed(cls, cell: Cell) -> bool:
        """All at once only up to one turn."""
        return cell["deploy"] == "in_turn" or int(cell["slats"]) <= int(cell["sides"])

    @classmethod
    def least_span(cls, diameter: float, least_area: float) -> float:
        """The strip in the middle is as long as the area asked for needs."""
        return middle_span(diameter, least_area, cls.reals()["reach"].low)

    @classmethod
    def has_free_edges(cls, cell: Cell) -> bool:
        """Every crease is a hinge."""
        return False
