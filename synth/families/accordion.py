"""Accordion: parallel strips hinged edge to edge, folded to and fro."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated, ClassVar

import numpy as np

from synth.core.arrays import Column, Ints
from synth.core.build import Build
from synth.core.family import Cell, Count, Family, Layout, Real
from synth.core.geometry import Geometry, directed_axis
from synth.core.layers import half_turn_height, stack
from synth.core.polygon import centroid
from synth.core.status import Status
from synth.core.tiling import edge_slots, inset, middle_span, shared_edge, spread, strips
from synth.core.topology import Topology


@dataclass(frozen=True, eq=False)
class Accordion(Family):
    """Strips across the aperture, hinged edge to edge, front and back in turn.

    Creases: all n - 1 lines between neighbouring strips are hinges; none is cut, so no free edge is left
    for a latch. Neighbouring layers only are joined (steps 1): no standoffs. Stowed height of the panels
    n t + (n - 1) g (derived from the half-turn rule), plan one strip: ((cover D + e) / n - e) x reach D
    for clear diameter D and edge gap e. With the root in the middle one half lies on its front, the other
    behind it, and the longest chain is halved.

    Wins where one long narrow slot is free: few parts, least hinge hardware, flat joints. Loses where a
    strip may not be as long as the aperture. "together" turns all hinges at once (a zigzag, as with one
    drive); "in_turn" turns the whole remaining pack over about one hinge after the other, root first.

    Source: accordion (concertina) folding is a term of the paper and map trade.
    """

    name: ClassVar[str] = "accordion"
    title: ClassVar[str] = "Accordion of parallel strips"

    strips: Annotated[int, Count(2, 16, "strips across the aperture")]
    root: Annotated[str, Layout(("end", "middle"), "which strip is fixed to the spacecraft")]
    deploy: Annotated[str, Layout(("together", "in_turn"), "all hinges at once, or one after the other")]
    cover: Annotated[Column, Real(0.7, 1.0, "1", "share of the clear diameter covered across the strips")]
    reach: Annotated[Column, Real(0.5, 1.0, "1", "share of the clear diameter covered along the strips")]

    def order(self) -> list[int]:
        """Place of each panel in the row of strips, left to right; the root first, then outwards by turns."""
        root = self.strips // 2 if self.root == "middle" else 0
        places = sorted(range(self.strips), key=lambda k: (abs(k - root), -k))
        return places

    def topology(self) -> Topology:
        place = self.order()
        panel = {k: p for p, k in enumerate(place)}
        parent = [-1] + [panel[k - 1] if k > place[0] else panel[k + 1] for k in place[1:]]
        sides = [0] + [0 if parent[p] else (1 if place[p] > place[0] else -1) for p in range(1, self.strips)]
        laid = stack(parent, sides=sides)
        # every second crease comes to lie on the same side of the footprint
        crease = [max(place[p], place[parent[p]]) for p in range(1, self.strips)]
        ends = np.stack([laid.level[1:], laid.level[parent[1:]]])
        slot = edge_slots([c % 2 for c in crease], ends.min(axis=0).tolist(), ends.max(axis=0).tolist())
        stage: Ints = laid.stage if self.deploy == "in_turn" else np.zeros_like(laid.stage)
        return Topology(
            np.asarray(parent, dtype=np.int64), laid.sense, laid.steps, stage, slot, laid.level, laid.turned
        )

    def geometry(self, build: Build) -> Geometry:
        topology, place = self.topology(), np.asarray(self.order())
        edges = spread(self.cover * build.diameter, build.edge_gap, self.strips)
        gap, reach = build.edge_gap[:, None], (self.reach * build.diameter / 2.0)[:, None]
        outline = strips(*inset(edges[:, :-1], edges[:, 1:], gap), reach, build.diameter / 2.0)[:, place]
        i, j = topology.hinges.T
        x = edges[:, np.maximum(place[i], place[j])]
        line = np.stack([np.stack([x, -reach + 0 * x], axis=-1), np.stack([x, reach + 0 * x], axis=-1)], axis=-2)
        seam = shared_edge(outline[:, i], outline[:, j], line)
        axis = directed_axis(seam, centroid(outline[:, i]), half_turn_height(topology, build))
        width, length = edges[:, 1] - edges[:, 0], np.linalg.norm(seam[..., 1, :] - seam[..., 0, :], axis=-1)
        status = Status.fine(build.rows).require(width / build.edge_gap - 2.0, "strips are too narrow for the edge gap")
        status = status.require(
            length.min(axis=1) / build.unit_width - 1.0, "a hinge line is too short for one hinge unit"
        )
        angle = np.broadcast_to(topology.sense * np.pi, (build.rows, len(i))).copy()
        return Geometry(outline, build.thickness, axis, angle, np.zeros((build.rows, 0, 2, 2)), status)

    @classmethod
    def first_cells(cls, most_panels: int) -> Sequence[Cell]:
        counts = [n for n in (2, 3, 4, 5, 6, 8, 10, 12, 16) if n <= most_panels]
        cells: list[Cell] = [
            {"strips": n, "root": root, "deploy": deploy}
            for n in counts
            for root in ("end", "middle")
            for deploy in ("together", "in_turn")
        ]
        return [c for c in cells if cls.allowed(c)]

    @classmethod
    def panel_count(cls, cell: Cell) -> int:
        return int(cell["strips"])

    @classmethod
    def allowed(cls, cell: Cell) -> bool:
        """Two strips have no middle, and one hinge no turn to wait for."""
        return int(cell["strips"]) > 2 or (cell["root"] == "end" and cell["deploy"] == "together")

    @classmethod
    def least_span(cls, diameter: float, least_area: float) -> float:
        """The strip in the middle is as long as the area asked for needs."""
        return middle_span(diameter, least_area, cls.reals()["reach"].low)

    @classmethod
    def has_free_edges(cls, cell: Cell) -> bool:
        """Every crease is a hinge."""
        return False
