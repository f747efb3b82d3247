"""Leaves around a polygonal hub.

A regular n-gon hub carries a leaf on each of its edges. Every crease between leaves is
cut: the hinges are those of the star, hub to leaf (and inner to outer part where a leaf
has two). Leaves of a full sector are wider outside than their hub edge, so they cannot
all stand up together: neighbours would meet. Three honest ways out:

* "narrow": leaves that stand up at a right angle plus a lean, no wider than their own
  wedge leaves room for. With fold "up" or "down" a leaf is at most as wide as the hub
  edge and the area of the wedges between is lost; with "both" every other leaf goes
  down, which doubles the wedge and lets leaves grow towards the full sector.
* "full_staged": full-sector leaves that turn by 180 degrees over the hub, one layer on
  another, front or back or alternately, on raised axes, outermost first. The leaf is cut
  by the mirror image of the hub in its own edge, so that the stack keeps within the
  hub's outline and the standoffs of the upper layers pass beside the lower ones.
* "two_part": a narrow leaf whose outer part is first turned by 180 degrees on the inner
  one; then the pair stands up. Half as high when stowed.

Varies: number of leaves, form, side, hub size, leaf width, lean, reach. Wins where the
stowed room is tall and slim ("narrow"), or flat ("full_staged").

Thickness: a leaf that stands up turns about an axis half the panel gap in front of the
face on that side, so it comes to stand outside the hub edge and never enters the hub:
stowed, zero-thickness values (circle 2 r / cos(pi / n), height l; cases petal_rect_n6,
n8, n12 of the reference notes, derived) grow by 2 (t + gap / 2) across and gap / 2 + half the
edge gap in height. A leaf keeps to its own wedge on the whole way because each of its
points moves outwards first and then inwards: its least radius is at one of the ends.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated, ClassVar

import numpy as np

from synth.core.arrays import Column, Floats, Ints
from synth.core.build import Build
from synth.core.family import Cell, Count, Family, Layout, Real
from synth.core.geometry import Geometry, directed_axis
from synth.core.layers import half_turn_height, stack
from synth.core.polygon import clip, compact, trim_to_circle
from synth.core.status import Status
from synth.core.topology import Topology
from synth.families._edges import common_edge
from synth.families._leaf_notches import clear_lines, leaf_notches
from synth.families._stacking import lowest_stack

TANGENTS = 3


@dataclass(frozen=True, eq=False)
class Petal(Family):
    """Leaves on the edges of a polygonal hub that stand up round it, or turn over it one on another."""

    name: ClassVar[str] = "petal"
    title: ClassVar[str] = "Leaves around a hub"

    leaves: Annotated[int, Count(4, 12, "leaves, and edges of the hub")]
    form: Annotated[str, Layout(("narrow", "full_staged", "two_part"), "how leaves find room beside each other")]
    fold: Annotated[str, Layout(("up", "down", "both"), "to the front, to the back, or alternately")]
    hub: Annotated[Column, Real(0.15, 0.65, "1", "inradius of the hub over the clear radius")]
    reach: Annotated[Column, Real(0.8, 1.05, "1", "end of the leaves over the clear radius")]
    taper: Annotated[Column, Real(0.3, 1.0, "1", "outer width of a leaf over the widest its form allows")]
    lean: Annotated[Column, Real(-0.1, 0.5, "rad", "how far standing leaves lean inwards from upright")]
    split: Annotated[Column, Real(0.52, 0.8, "1", "inner part of a two-part leaf over its length")]

    def _sides(self) -> Ints:
        """[n] +1 for leaves that go to the front, -1 to the back."""
        k = np.arange(self.leaves)
        return {"up": 0 * k + 1, "down": 0 * k - 1, "both": 1 - 2 * (k % 2)}[self.fold]

    def topology(self) -> Topology:
        """Panel 0 is the hub, then the leaves (their inner parts), then the outer parts."""
        n, sides = self.leaves, self._sides()
        if self.form == "full_staged":
            return self._staged()
        zero = np.zeros(n, dtype=np.int64)
        parent: list[Ints] = [np.full(1, -1), zero]
        sense, steps, stage = [sides], [zero], [zero]
        if self.form == "two_part":
            parent.append(1 + np.arange(n))
            sense.append(self._outer_sides())
            steps.append(zero + 1)
            stage.append(zero + 1)
        tree = np.concatenate(parent).astype(np.int64)
        hinges = np.zeros(len(tree) - 1, dtype=np.int64)
        flat = np.zeros(len(tree), dtype=np.int64)
        all_sense, all_steps, all_stage = (np.concatenate(x).astype(np.int64) for x in (sense, steps, stage))
        return Topology(tree, all_sense, all_steps, all_stage, hinges, flat, flat.copy())

    def _outer_sides(self) -> Ints:
        """[n] sense of the outer hinges: away from the hub's axis, so outside of the standing inner part; where
        neighbours go opposite ways towards it, since a part wider than its sector would else lift the neighbour."""
        return self._sides() * (1 if self.fold == "both" else -1)

    def _staged(self) -> Topology:
        n = self.leaves
        tree = [-1] + [0] * n
        one_side = [0, *(int(s) for s in self._sides())]
        # to and fro about the hub: leaves of neighbouring edges lie at most two layers apart, their posts are low
        order = [0, *(2 * min(k, n - k) - (2 * k <= n) for k in range(n))]
        laid = lowest_stack(tree) if self.fold == "both" else stack(tree, order=order, sides=one_side)
        slot = np.zeros(n, dtype=np.int64)
        free = [[1 + k, 1 + (k + 1) % n] for k in range(n)] if n >= 6 else []
        latchable = np.array(free, dtype=np.int64).reshape(-1, 2)
        parent = np.array(tree, dtype=np.int64)
        return Topology(parent, laid.sense, laid.steps, laid.stage, slot, laid.level, laid.turned, latchable)

    def geometry(self, build: Build) -> Geometry:
        """Hub and leaves set back by half the edge gap, leaves cut by tangents of the clear circle.

        Status: leaves of some length, and standing leaves inside their own wedge.
        """
        topology = self.topology()
        radius = build.diameter / 2.0
        r = self.hub * radius
        least = r + 0.1 * radius
        end = np.maximum(self.reach * radius, least)
        status = Status.fine(build.rows).require(self.reach * radius / least - 1.0, "the leaves have no length")
        narrow = 0.5 * r * np.tan(np.pi / self.leaves)
        status = status.require(1.0 - build.edge_gap / narrow, "the edge gap takes the hub's edges away")
        gap = np.minimum(build.edge_gap, np.minimum(narrow, 0.03 * radius))
        staged = self.form == "full_staged"
        parts = [self._sector(r, end, gap)] if staged else self._strips(r, end, gap)
        parts = [compact(trim_to_circle(p, radius, TANGENTS), p.shape[-2] + TANGENTS) for p in parts]
        angle = 2.0 * np.pi * np.arange(self.leaves) / self.leaves
        corner = np.stack([np.cos(angle + np.pi / self.leaves), np.sin(angle + np.pi / self.leaves)], axis=-1)
        hub = corner * ((r - gap / 2.0) / np.cos(np.pi / self.leaves))[:, None, None]
        panels = [hub[:, None], *(_around(p, angle) for p in parts)]
        widest = max(p.shape[2] for p in panels)
        outline = np.concatenate([compact(p, widest) for p in panels], axis=1)
        axis, turn = self._hinges(topology, outline, angle, r, end, gap, build)
        latch = self._free_edges(topology, outline, angle, r)
        if not staged:
            status = self._wedges(status, parts, r, end, build)
        notches = leaf_notches(topology, outline, axis, angle, r, gap, build) if build.notched else None
        if self.form == "two_part":
            clear = (2.0 * self.split - 1.0) * (end - r) - 2.0 * build.knuckle - build.panel_gap
            status = status.require(clear / (0.1 * r), "the outer part, folded back, comes down on the hub's hinges")
        return Geometry(outline, build.thickness, axis, turn, latch, status, notches=notches)

    def _strips(self, r: Column, end: Column, gap: Column) -> list[Floats]:
        """Trapezoids [B, 4, 2] along x: one leaf, or its two parts."""
        tangent = np.tan(np.pi / self.leaves)
        inner = r * tangent
        outer = self.taper * (end * tangent if self.fold == "both" else inner)
        slope = (outer - inner) / (end - r)
        setback = gap / 2.0 * np.sqrt(1.0 + slope**2)

        def strip(low: Column, high: Column) -> Floats:
            half = [np.maximum(inner + slope * (x - r) - setback, 0.1 * inner) for x in (low, high)]
            x = np.stack([low, high, high, low], axis=-1)
            y = np.stack([-half[0], -half[1], half[1], half[0]], axis=-1)
            return np.stack([x, y], axis=-1)

        if self.form == "narrow":
            return [strip(r + gap / 2.0, end)]
        middle = r + self.split * (end - r)
        return [strip(r + gap / 2.0, middle - gap / 2.0), strip(middle + gap / 2.0, end)]

    def _sector(self, r: Column, end: Column, gap: Column) -> Floats:
        """Sector of the hub edge [B, V, 2] along x, inside the hub's mirror image in that edge."""
        n = self.leaves
        wide = 4.0 * end
        low = r + gap / 2.0
        x = np.stack([low, end, end, low], axis=-1)
        y = np.stack([-wide, -wide, wide, wide], axis=-1)
        leaf = np.stack([x, y], axis=-1)
        for side in (1.0, -1.0):
            normal = np.array([-np.sin(np.pi / n), side * np.cos(np.pi / n)])
            leaf = compact(clip(leaf, normal, -gap / 2.0), 4)
        for k in range(1, n):
            # edge k of the hub, mirrored in x = r; from the hexagon on those that face the hub lie outside the sector
            normal = np.array([-np.cos(2.0 * np.pi * k / n), np.sin(2.0 * np.pi * k / n)])
            if n < 6 or normal[0] > -1e-9:
                offset = r * (1.0 + 2.0 * normal[0]) - gap / 2.0
                leaf = compact(clip(leaf, normal, offset), leaf.shape[-2] + 1)
        return leaf

    def _hinges(
        self, topology: Topology, outline: Floats, angle: Floats, r: Column, end: Column, gap: Column, build: Build
    ) -> tuple[Floats, Floats]:
        """Hinge lines [B, H, 2, 3] and stowed angles [B, H]."""
        sides = topology.sense.astype(np.float64)
        height = half_turn_height(topology, build)
        turn = np.broadcast_to(np.pi * sides, height.shape).copy()
        stands = topology.steps == 0
        quarter = sides * (build.thickness[:, None] + build.panel_gap) / 2.0 - build.thickness[:, None] / 2.0
        height = np.where(stands, quarter, height)
        turn = np.where(stands, sides * (np.pi / 2.0 + self.lean[:, None]), turn)
        direction = np.stack([np.cos(angle), np.sin(angle)], axis=-1)
        at = np.repeat(r[:, None], self.leaves, axis=1)
        if self.form == "two_part":
            middle = (r + self.split * (end - r))[:, None]
            at = np.concatenate([at, np.repeat(middle, self.leaves, axis=1)], axis=1)
            direction = np.concatenate([direction, direction])
        i, j = topology.hinges[:, 0], topology.hinges[:, 1]
        normal = np.broadcast_to(direction, (*at.shape, 2))
        edge = common_edge(outline[:, i], outline[:, j], at[..., None] * normal, normal)
        if self.form == "full_staged":
            edge = clear_lines(topology, edge, angle, r, gap, build)
        return directed_axis(edge, 0.5 * at[..., None] * normal, height), turn

    def _free_edges(self, topology: Topology, outline: Floats, angle: Floats, r: Column) -> Floats:
        """Middle lines [B, K, 2, 2] between neighbouring leaves."""
        i, j = topology.latchable[:, 0], topology.latchable[:, 1]
        between = angle[: len(i)] + np.pi / self.leaves
        normal = np.stack([-np.sin(between), np.cos(between)], axis=-1)
        normal = np.broadcast_to(normal, (len(r), *normal.shape))
        point = np.stack([np.cos(between), np.sin(between)], axis=-1) * r[:, None, None]
        edge = common_edge(outline[:, i], outline[:, j], point, normal)
        return directed_axis(edge, point - normal, np.zeros(edge.shape[:2]))[..., :2]

    def _wedges(self, status: Status, parts: list[Floats], r: Column, end: Column, build: Build) -> Status:
        """Every corner of a standing leaf at least half the panel gap inside its wedge, stowed."""
        alpha = np.pi / self.leaves * (2.0 if self.fold == "both" else 1.0)
        turn = np.pi / 2.0 + self.lean
        thickness, gap = build.thickness, build.panel_gap
        slack = np.full(build.rows, np.inf)
        for k, part in enumerate(parts):
            along = part[..., 0] - r[:, None]
            # distance behind the axis, seen from the side to which the leaf goes
            faces = [np.full(build.rows, gap / 2.0), thickness + gap / 2.0]
            if k == 1:
                along = 2.0 * self.split[:, None] * (end - r)[:, None] - along
                outside = -1.0 if self.fold == "both" else 1.0
                faces = [f + outside * build.pitch for f in faces]
            for behind in faces:
                x = r[:, None] + along * np.cos(turn)[:, None] + (behind * np.sin(turn))[:, None]
                inside = x * np.sin(alpha) - np.abs(part[..., 1]) * np.cos(alpha) - gap / 2.0
                slack = np.minimum(slack, inside.min(axis=-1) / (0.1 * r))
        return status.require(slack, "standing leaves meet their neighbours: narrower, fewer or less lean")

    @classmethod
    def first_cells(cls, most_panels: int) -> Sequence[Cell]:
        """Every form with four, six, eight and twelve leaves; alternating where that gives room."""
        cells: list[Cell] = [
            {"leaves": n, "form": form, "fold": fold}
            for n in (4, 6, 8, 12)
            for form, fold in (
                ("narrow", "up"),
                ("narrow", "both"),
                ("full_staged", "both"),
                ("two_part", "up"),
            )
        ]
        return [c for c in cells if cls.allowed(c) and cls.panel_count(c) <= most_panels]

    @classmethod
    def admits_notches(cls, cell: Cell) -> bool:
        """Where leaves lie one on another: the upper ones' stand-offs pass the lower ones."""
        return cell["form"] == "full_staged"

    @classmethod
    def has_free_edges(cls, cell: Cell) -> bool:
        """Leaves meet each other only where they fill their sectors."""
        return cell["form"] == "full_staged" and int(cell["leaves"]) >= 6

    @classmethod
    def panel_count(cls, cell: Cell) -> int:
        """n + 1, or 2 n + 1 where leaves have two parts."""
        return 1 + int(cell["leaves"]) * (2 if cell["form"] == "two_part" else 1)

    @classmethod
    def allowed(cls, cell: Cell) -> bool:
        """Standing leaves alternate only around an even hub."""
        return cell["fold"] != "both" or cell["form"] == "full_staged" or int(cell["leaves"]) % 2 == 0


def _around(part: Floats, angle: Floats) -> Floats:
    """A leaf [B, V, 2] that lies along x, turned to every angle [n]: [B, n, V, 2]."""
    c, s = np.cos(angle)[:, None], np.sin(angle)[:, None]
    x, y = part[:, None, :, 0], part[:, None, :, 1]
    return np.stack([c * x - s * y, s * x + c * y], axis=-1)
