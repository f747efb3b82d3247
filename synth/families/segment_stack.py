"""Segments of a regular tiling, hinged as a spanning tree, that fold into one stack.

The aperture is tiled with hexagons, squares or triangles. Of all the edges between
neighbours only those of a spanning tree carry hinges; every other crease is cut, and
latches may join it once deployed. Every hinge turns by 180 degrees. Reflection across a
shared edge maps a regular tiling on itself, so whatever the tree, the stack has the
footprint of one tile and is as many layers high as there are tiles (reference notes,
case hex_stack, derived). What the tree decides is the standoffs (how many layers a hinge
passes), the number of stages, and how far errors add up along the chain of hinges.

Trees: "star" hangs every tile on the neighbour nearest the root (short chains, high
standoffs); "spiral" is one chain through ring after ring that folds to and fro (no
standoff at all, the longest chain); "comb0" to "comb2" have rows as teeth on a spine;
"t:..." is any tree, told by the parent of each tile.

Wins where the envelope is a compact block and the aperture may have many parts: every
stack is a prism of one tile. Loses accuracy with long chains unless latched, and area in
the gaps that thick packs need to pass (the order of opening is chosen for the least).

Source: geometry and z -> 2 h - z (elementary); deployable reflector of seven hexagons
with three times its stowed diameter, Gilman & Lillie, AAS 191 abstract 41.03 (abstract
seen); order of opening and passing gaps: derived in _unfold.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Annotated, ClassVar

import numpy as np

from synth.core.arrays import Column, Floats, Ints, norm, pair
from synth.core.build import Build
from synth.core.errors import InputError
from synth.core.family import Cell, Count, Family, Layout, Real
from synth.core.geometry import Geometry, Notches, directed_axis
from synth.core.layers import half_turn_height
from synth.core.polygon import compact, trim_to_circle
from synth.core.status import Status
from synth.core.tiling import about_middle
from synth.core.topology import Topology
from synth.families._edges import common_edge
from synth.families._fins import passing, slack, typical_gap
from synth.families._notching import Places, depths, places
from synth.families._stacking import lowest_stack
from synth.families._tiling import TILINGS, Tiling, tile_count, tiling
from synth.families._tree import NAMED, parents_of, swapped, text_of, visit_order
from synth.families._unfold import Unfolding, passing_gap

TANGENTS = 3
NOTCH_SHARE = 0.25
"""Deepest notch over the inradius of a tile."""
LATCH_SHARE = 0.5
"""Share of a free edge, about its middle, that trimming to the circle leaves, so that a latch finds room."""


@dataclass(frozen=True, eq=False)
class _Plan:
    """What the fixed fields decide: tile [P] of each panel, its topology, the passing terms of its opening and
    those of its hardware."""

    tiles: Tiling
    tile: Ints
    topology: Topology
    terms: Floats
    fins: Floats


@dataclass(frozen=True, eq=False)
class SegmentStack(Family):
    """Hexagons, squares or triangles, hinged along a spanning tree, fold by half turns into one stack of one tile."""

    name: ClassVar[str] = "segment_stack"
    title: ClassVar[str] = "Stack of segments on a spanning tree of hinges"

    tiling: Annotated[str, Layout(TILINGS, "tile shape; square_even has a corner in the centre")]
    rings: Annotated[int, Count(1, 4, "rings of tiles about the centre")]
    corners: Annotated[str, Layout(("all", "rounded"), "rounded: the tiles farthest from the centre are left out")]
    tips: Annotated[str, Layout(("sharp", "blunt"), "blunt: the corners of every tile are cut off")]
    tree: Annotated[str, Layout((), "spanning tree: star, spiral, comb0, comb1, comb2 or t: and parents by tile")]
    cover: Annotated[Column, Real(0.75, 1.3, "1", "width of the patch of tiles over the clear diameter")]
    spin: Annotated[Column, Real(0.0, np.pi / 3.0, "rad", "turn of the tiling about the optical axis")]
    blunt: Annotated[Column, Real(0.01, 0.2, "1", "share of an edge cut off at either end (blunt tips only)")]

    def _plan(self) -> _Plan:
        return _plan(self.tiling, self.rings, self.corners, self.tree)

    def topology(self) -> Topology:
        """Panels in level order from the root (tile 0); stages: see _unfold. Raises InputError without a tree."""
        return self._plan().topology

    def geometry(self, build: Build) -> Geometry:
        """Tiles set back by half the edge gap, outer ones cut by tangents of the clear circle.

        Whole hinge lines and half of every free edge are kept. Status: tiles wider than their
        gap, and the edge gap not less than what passing panels ask for.
        """
        plan = self._plan()
        tiles, topology = plan.tiles, plan.topology
        unit = self.cover * build.diameter / tiles.span
        half_gap = build.edge_gap / 2.0
        inradius = unit * tiles.inradius - half_gap
        status = Status.fine(build.rows).require(inradius / (0.1 * unit * tiles.inradius) - 1.0, "tiles are all gap")
        inradius = np.maximum(inradius, 0.1 * unit * tiles.inradius)
        centre = _spun(tiles.centre[plan.tile], self.spin) * unit[:, None, None]
        reach = (inradius / np.cos(np.pi / tiles.sides))[:, None, None, None]
        outline = centre[:, :, None] + _spun(tiles.corner_directions[plan.tile], self.spin) * reach
        blunt = self.blunt if self.tips == "blunt" else np.zeros(build.rows)
        if self.tips == "blunt":
            outline = _blunted(outline, blunt)
        whole, outline = outline, self._trimmed(plan, outline, centre, build)
        height = half_turn_height(topology, build)
        edges = _shared_edges(outline, centre, topology.hinges)
        axis = directed_axis(edges, centre[:, topology.hinges[:, 0]], height)
        latch = _shared_edges(outline, centre, topology.latchable)
        # stacked tiles are mirror images: only what is symmetric about the middle keeps clear of other hinges
        latch = about_middle(latch, _shared_edges(whole, centre, topology.latchable))
        inside = centre[:, topology.latchable[:, 0]]
        latch = directed_axis(latch, inside, np.zeros(latch.shape[:2]))[..., :2]
        asked = passing_gap(plan.terms, unit, build.pitch, build.thickness, blunt).max(axis=1, initial=0.0)
        short = (build.edge_gap - asked) / (build.edge_gap + asked)
        status = status.require(short, "the edge gap is too narrow for the packs that pass on the way")
        notches = None
        if build.notched:
            notches, left = self._notches(plan, unit, centre, build, blunt)
            status = status.require(left, "notches would be too deep for what passes on the way")
        else:
            left = slack(plan.fins, unit, build, blunt, tiles.sides)
            status = status.require(left, "the edge gap is too narrow for hinges and panels that pass on the way")
        turn = np.broadcast_to(np.pi * topology.sense, height.shape).astype(np.float64)
        return Geometry(outline, build.thickness, axis, turn, latch, status, notches=notches)

    def _notches(
        self, plan: _Plan, unit: Column, centre: Floats, build: Build, blunt: Column
    ) -> tuple[Notches, Column]:
        """Notches where hinges and panels pass, as deep as they ask beyond the gap; slack of those depths."""
        found = _notch_places(self.tiling, self.rings, self.corners, self.tree)
        depth, wider, left = depths(found, unit, build, blunt, plan.tiles.sides)
        deepest = NOTCH_SHARE * unit * plan.tiles.inradius
        left = np.minimum(left, (deepest[:, None] - depth).min(axis=1, initial=np.inf) / deepest)
        way = _spun(found.way, self.spin)
        middle = centre[:, found.panel] + way * (unit * plan.tiles.inradius)[:, None, None]
        return Notches(found.panel, found.hinge, middle, way, depth, wider), left

    @classmethod
    def admits_notches(cls, cell: Cell) -> bool:
        """What passes on the way is known place by place."""
        return True

    def _trimmed(self, plan: _Plan, outline: Floats, centre: Floats, build: Build) -> Floats:
        """Outlines cut by tangents of the clear circle, or of the smallest larger one that keeps the edges in use."""
        radius = np.full((build.rows, len(plan.tile)), build.diameter / 2.0)
        topology = plan.topology
        for pairs, share in ((topology.hinges, 1.0), (topology.latchable, LATCH_SHARE)):
            edge = _shared_edges(outline, centre, pairs)
            need = _reach(edge, share) + build.edge_gap[:, None]
            for side in (0, 1):
                for k, panel in enumerate(pairs[:, side]):
                    radius[:, panel] = np.maximum(radius[:, panel], need[:, k])
        corners = outline.shape[2] + TANGENTS
        out = np.concatenate([outline, np.repeat(outline[:, :, -1:], TANGENTS, axis=2)], axis=2)
        # tiles inside the circle in every row need no cutting
        far = np.flatnonzero((norm(outline).max(axis=-1) > radius).any(axis=0))
        if len(far):
            out[:, far] = compact(trim_to_circle(outline[:, far], radius[:, far], TANGENTS), corners)
        return out

    @classmethod
    def first_cells(cls, most_panels: int) -> Sequence[Cell]:
        """Star, spiral and a comb of every tiling and ring count that is small enough.

        No spiral of four rings: what is folded yet has no way past what is open without wide gaps.
        """
        cells: list[Cell] = [
            {"tiling": kind, "rings": rings, "corners": corners, "tips": tips, "tree": tree}
            for kind in TILINGS
            for rings in (1, 2, 3, 4)
            for corners, tree, tips in (
                ("all", "star", "sharp"),
                ("all", "spiral", "blunt"),
                ("all", "comb0", "sharp"),
                ("rounded", "star", "sharp"),
            )
        ]
        cells = [c for c in cells if not (c["tree"] == "spiral" and c["rings"] == 4)]
        return [c for c in cells if cls.allowed(c) and cls.panel_count(c) <= most_panels]

    @classmethod
    def panel_count(cls, cell: Cell) -> int:
        """Tiles of the patch."""
        return tile_count(str(cell["tiling"]), int(cell["rings"]), str(cell["corners"]))

    @classmethod
    def allowed(cls, cell: Cell) -> bool:
        """At least three tiles, left whole by rounding, on which the tree exists."""
        if cls.panel_count(cell) < 3:
            return False
        try:
            _parents(str(cell["tiling"]), int(cell["rings"]), str(cell["corners"]), str(cell["tree"]))
        except InputError:
            return False
        return True

    @classmethod
    def relatives(cls, cell: Cell, most_panels: int, rng: np.random.Generator) -> list[Cell]:
        """A ring more or less, another tiling, corners or tips, another named tree, and four single-hinge swaps.

        A tree that the changed tiles cannot carry gives way to the star.
        """
        tree = str(cell["tree"])
        found: list[Cell] = []
        for c in super().relatives({**cell, "tree": "star"}, most_panels, rng):
            kept = {**c, "tree": tree}
            found.append(kept if cls.allowed(kept) else c)
        found += [{**cell, "tree": t} for t in NAMED if t != tree]
        tiles = tiling(str(cell["tiling"]), int(cell["rings"]), str(cell["corners"]))
        parent = parents_of(tree, tiles)
        found += [{**cell, "tree": text_of(swapped(parent, tiles, rng))} for _ in range(4)]
        fresh: dict[tuple[tuple[str, int | str], ...], Cell] = {}
        for c in found:
            if dict(c) != dict(cell) and cls.allowed(c) and cls.panel_count(c) <= most_panels:
                fresh.setdefault(tuple(sorted(c.items())), c)
        return list(fresh.values())


@lru_cache(maxsize=1024)
def _parents(name: str, rings: int, corners: str, tree: str) -> tuple[int, ...]:
    return tuple(parents_of(tree, tiling(name, rings, corners)))


@lru_cache(maxsize=256)
def _plan(name: str, rings: int, corners: str, tree: str) -> _Plan:
    """Everything that the fixed fields decide; costs 10 ms for 7 tiles and about a second for 61, so it is kept."""
    tiles = tiling(name, rings, corners)
    by_tile = _parents(name, rings, corners, tree)
    order = visit_order(by_tile)
    place = {t: k for k, t in enumerate(order)}
    parent = [-1, *(place[by_tile[t]] for t in order[1:])]
    stacked = lowest_stack(parent)
    folded = Unfolding(tiles, order, parent, stacked, typical_gap)
    opening = folded.opening()
    hardware = passing(folded, opening.stage)
    hung = {frozenset((k, p)) for k, p in enumerate(parent) if p >= 0}
    free = sorted(sorted((place[i], place[j])) for i, j in tiles.pairs if frozenset((place[i], place[j])) not in hung)
    topology = Topology(
        parent=np.array(parent, dtype=np.int64),
        sense=stacked.sense,
        steps=stacked.steps,
        stage=opening.stage,
        slot=hardware.slot,
        level=stacked.level,
        turned=stacked.turned,
        latchable=np.array(free, dtype=np.int64).reshape(-1, 2),
    )
    return _Plan(tiles, np.array(order, dtype=np.int64), topology, opening.terms, hardware.terms)


@lru_cache(maxsize=64)
def _notch_places(name: str, rings: int, corners: str, tree: str) -> Places:
    """Where notches would make room in the plan of these fixed fields: looked at only where panels are notched."""
    plan = _plan(name, rings, corners, tree)
    order = plan.tile.tolist()
    parent = plan.topology.parent.tolist()
    return places(Unfolding(plan.tiles, order, parent, lowest_stack(parent)), plan.topology.stage)


def _spun(points: Floats, spin: Column) -> Floats:
    """Plane points [..., 2] turned by spin [B]: [B, ..., 2]."""
    c, s = (f(spin).reshape(-1, *([1] * (points.ndim - 1))) for f in (np.cos, np.sin))
    return pair(c * points[..., 0] - s * points[..., 1], s * points[..., 0] + c * points[..., 1])


def _blunted(outline: Floats, share: Column) -> Floats:
    """Each corner replaced by two, that share of the edge away from it."""
    cut = share[:, None, None, None]
    before = outline + cut * (np.roll(outline, 1, axis=2) - outline)
    after = outline + cut * (np.roll(outline, -1, axis=2) - outline)
    return np.stack([before, after], axis=3).reshape(*outline.shape[:2], -1, 2)


def _shared_edges(outline: Floats, centre: Floats, pairs: Ints) -> Floats:
    """Middle line [B, K, 2, 2] of the edge between the tiles of each pair, where both have edge."""
    i, j = pairs[:, 0], pairs[:, 1]
    across = centre[:, j] - centre[:, i]
    normal = across / norm(across)[..., None]
    return common_edge(outline[:, i], outline[:, j], (centre[:, i] + centre[:, j]) / 2.0, normal)


def _reach(edge: Floats, share: float) -> Floats:
    """Radius [B, K] of the smallest circle about the origin that holds the middle part of each edge [B, K, 2, 2]."""
    middle, along = (edge[..., 0, :] + edge[..., 1, :]) / 2.0, (edge[..., 1, :] - edge[..., 0, :]) * (share / 2.0)
    return np.asarray(np.maximum(norm(middle - along), norm(middle + along)))
