"""Wing: a centre panel with a folded wing on either side."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated, ClassVar

import numpy as np

from synth.core.arrays import Column, Floats, Ints
from synth.core.build import Build
from synth.core.family import Cell, Count, Family, Layout, Real
from synth.core.geometry import Geometry, directed_axis
from synth.core.layers import half_turn_height, stack
from synth.core.polygon import centroid
from synth.core.status import Status
from synth.core.tiling import edge_slots, inset, middle_span, shared_edge, strips
from synth.core.topology import Topology
from synth.families._straight import Passed


@dataclass(frozen=True, eq=False)
class Wing(Family):
    """A centre panel (the root) and on its left and right a wing of m strips, each wing an accordion.

    Creases: all lines between neighbouring strips are hinges; none is cut and no free edge is left.
    `root_fold` says how a wing pack lies on the centre:
    "front_back": the right wing on the front, the left wing behind; neighbouring layers only (no standoffs),
    (2 m + 1) t + 2 m g high; all hinges turn at once.
    "front": both on the front, the left pack over the right one; the left root hinge passes m layers
    (steps m + 1), so its standoff stands (m p + g) / 2 above the face; the left wing deploys first. Its hinge
    line is as short as those of the right wing that come to lie on the same edge, so that slots keep them apart.
    "quarter_turn": the root hinges turn by 90 degrees and each pack stands beside the centre, towards the back,
    its further strips outwards: the centre's front and the room behind it stay free. Depth t + g / 2 + S - e / 2,
    width C + 2 m p - g, with the root hinge axis half a face gap g behind the back face (pitch p = t + g);
    the root hinges deploy first, then the wings unfold together.

    Strips are never wider than the centre: width S = strip C, with C (1 + 2 m strip) = cover D + e for cells C, S,
    clear diameter D, edge gap e (so the standoffs of the left wing pass beside the right pack).
    Wins where the centre may be large and the spacecraft sits behind it; two short chains instead of one long.

    Source: wing (panel wings beside a fixed centre) is a term of the trade; heights from the half-turn rule (derived).
    """

    name: ClassVar[str] = "wing"
    title: ClassVar[str] = "Centre panel with two folded wings"

    strips: Annotated[int, Count(1, 4, "strips in each wing")]
    root_fold: Annotated[str, Layout(("front_back", "front", "quarter_turn"), "how the wings lie on the centre")]
    strip: Annotated[Column, Real(0.25, 1.0, "1", "width of a wing strip over the width of the centre")]
    cover: Annotated[Column, Real(0.7, 1.0, "1", "share of the clear diameter covered across the strips")]
    reach: Annotated[Column, Real(0.5, 1.0, "1", "share of the clear diameter covered along the strips")]

    def topology(self) -> Topology:
        m = self.strips
        parent = np.array([-1, 0, *range(1, m), 0, *range(m + 1, 2 * m)], dtype=np.int64)
        left_side = 1 if self.root_fold == "front" else -1
        sides = [0] * (2 * m + 1)
        sides[1], sides[m + 1] = 1, left_side
        laid = stack(parent.tolist(), order=range(2 * m + 1), sides=sides)
        depth = np.concatenate([np.arange(m), np.arange(m)])
        left = np.repeat([False, True], m)
        if self.root_fold == "quarter_turn":
            # standing packs: strip 1 shows its front outwards, the next is laid on that front, and so on
            sense = np.where(depth % 2 == 1, 1, -1).astype(np.int64)
            none = np.zeros(2 * m + 1, dtype=np.int64)
            slot: Ints = np.zeros(2 * m, dtype=np.int64)
            return Topology(parent, sense, np.minimum(depth, 1), np.minimum(depth, 1), slot, none, none.copy())
        # where strips are as wide as the centre, hinges of both wings meet on the edges of one footprint
        edge = ((depth + left) % 2).tolist()
        ends = np.stack([laid.level[1:], laid.level[parent[1:]]])
        slot = edge_slots(edge, ends.min(axis=0).tolist(), ends.max(axis=0).tolist())
        stage: Ints = np.where(left, 0, 1) if self.root_fold == "front" else np.zeros(2 * m, dtype=np.int64)
        return Topology(parent, laid.sense, laid.steps, stage, slot, laid.level, laid.turned)

    def _grid(self, build: Build) -> tuple[Floats, Floats, Floats]:
        """Cell limits [B, P] of the panels and the hinge lines' x [B, H]."""
        m = self.strips
        centre = (self.cover * build.diameter + build.edge_gap) / (1.0 + 2.0 * m * self.strip)
        inner = centre[:, None] / 2.0 + (centre * self.strip)[:, None] * np.arange(m)
        outer = inner + (centre * self.strip)[:, None]
        half = centre[:, None] / 2.0
        low, high = np.concatenate([-half, inner, -outer], axis=1), np.concatenate([half, outer, -inner], axis=1)
        return low, high, np.concatenate([inner, -inner], axis=1)

    def geometry(self, build: Build) -> Geometry:
        topology = self.topology()
        low, high, x = self._grid(build)
        reach = (self.reach * build.diameter / 2.0)[:, None]
        outline = strips(*inset(low, high, build.edge_gap[:, None]), reach, build.diameter / 2.0)
        line = np.stack([np.stack([x, side * reach + 0.0 * x], axis=-1) for side in (-1.0, 1.0)], axis=-2)
        i, j = topology.hinges.T
        seam = shared_edge(outline[:, i], outline[:, j], line)
        notches = None
        if self.root_fold == "front":
            # slots count from the ends of a line: hinges that share an edge of the stack get lines of one length
            meeting = [*range(1, self.strips, 2), self.strips]
            least = np.abs(seam[:, meeting][..., 1]).min(axis=(1, 2))
            if build.notched:
                asked = self._passed(low, high, build)
                least = np.maximum(asked.longest(least, outline, build), 0.0)
                notches = asked.notches(least, build)
            half = least[:, None, None]
            seam[:, meeting] = np.stack(
                [seam[:, meeting][..., 0], np.clip(seam[:, meeting][..., 1], -half, half)], axis=-1
            )
        angle = np.broadcast_to(topology.sense * np.pi, (build.rows, len(i))).copy()
        height = half_turn_height(topology, build)
        if self.root_fold == "quarter_turn":
            roots = topology.steps == 0
            angle[:, roots] /= 2.0
            # half a face gap behind the back face: the standing strip clears the centre by that and half the edge gap
            height[:, roots] = -(build.pitch + build.thickness)[:, None] / 2.0
        axis = directed_axis(seam, centroid(outline[:, i]), height)
        length = np.linalg.norm(seam[..., 1, :] - seam[..., 0, :], axis=-1).min(axis=1)
        width = high[:, 1] - low[:, 1]
        status = Status.fine(build.rows).require(width / build.edge_gap - 2.0, "strips are too narrow for the edge gap")
        status = status.require(length / build.unit_width - 1.0, "a hinge line is too short for one hinge unit")
        return Geometry(outline, build.thickness, axis, angle, np.zeros((build.rows, 0, 2, 2)), status, notches=notches)

    def _passed(self, low: Floats, high: Floats, build: Build) -> Passed:
        """Edges of the right wing's strips that come to lie next to the line of the left wing's root hinge, which
        passes them; they stand off it by what strips are narrower than the centre."""
        m = self.strips
        panel, odd = np.arange(1, m + 1), np.arange(1, m + 1) % 2 == 1
        x = np.where(odd, high[:, 1 : m + 1], low[:, 1 : m + 1])
        room = (high[:, 0] - low[:, 0]) - (high[:, 1] - low[:, 1]) + build.edge_gap / 2.0
        middle = np.stack([x, 0.0 * x], axis=-1)
        return Passed(panel, np.full(m, m), middle, np.where(odd, 1, -1), room, 0.0 * x, 0.0 * x)

    @classmethod
    def admits_notches(cls, cell: Cell) -> bool:
        """Where one wing lies over the other, its root hinge passes layers."""
        return cell["root_fold"] == "front"

    @classmethod
    def first_cells(cls, most_panels: int) -> Sequence[Cell]:
        cells: list[Cell] = [
            {"strips": m, "root_fold": fold} for m in range(1, 5) for fold in ("front_back", "front", "quarter_turn")
        ]
        return [c for c in cells if cls.panel_count(c) <= most_panels]

    @classmethod
    def panel_count(cls, cell: Cell) -> int:
        return 2 * int(cell["strips"]) + 1

    @classmethod
    def least_span(cls, diameter: float, least_area: float) -> float:
        """The strip in the middle is as long as the area asked for needs."""
        return middle_span(diameter, least_area, cls.reals()["reach"].low)

    @classmethod
    def has_free_edges(cls, cell: Cell) -> bool:
        """Every crease is a hinge."""
        return False
