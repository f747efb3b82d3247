"""Map fold: a grid of tiles folded up like a road map, with the cuts that let thick panels do it."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated, ClassVar

import numpy as np

from synth.core.arrays import Column, Floats, Ints
from synth.core.build import Build
from synth.core.family import Cell, Count, Family, Layout, Real
from synth.core.geometry import Geometry, directed_axis
from synth.core.layers import half_turn_height, stack
from synth.core.polygon import area, centroid, circle_overlap, compact, trim_to_circle
from synth.core.status import Status
from synth.core.tiling import about_middle, edge_slots, inset, rectangles, shared_edge, spread
from synth.core.topology import Topology
from synth.families._straight import Passed, between, cut_to

LEAST_SHARE = 0.2
"""Tiles with less than this share inside the clear circle are left out of combs and rule the serpentine out."""


@dataclass(frozen=True, eq=False)
class MapFold(Family):
    """Columns and rows of equal tiles, a spanning tree of the grid folded by half turns into one stack.

    Creases: a thick map cannot keep all of them, so one tree of hinges stays and the other creases are cut
    (their edges are free and can be latched once deployed).
    "comb": the tiles of the middle row are hinged in line (the spine, root at its left end); each column is
    hinged to its spine tile, upwards and downwards; every upright crease off the spine is cut. It folds in
    sequence like crossed accordions: columns first, the spine after (deployment: the reverse). The spine
    hinges pass the packs: up + down + 1 steps, axes (k p + g) / 2 above the face where k = up + down layers
    are passed (pitch p, gap g). Column hinges join neighbouring layers.
    "comb_middle": the same with the root in the middle of the spine: one half to the front, one to the back.
    "serpentine": one chain, row by row to and fro; the level crease between two rows is cut save at its end.
    All steps are 1 (no standoffs); each row unfolds together, then the pack turns over to the next row.

    Corner tiles that hardly meet the clear circle are left out of combs (less light, stated as such); the
    serpentine needs all of them. Stowed: one tile in plan, n t + (n - 1) g high for n tiles (derived).

    Wins where the room is a block: the footprint shrinks both ways. Loses on chain length and part count.
    `columns` and `rows` set the shape of a tile together with the two covers.

    Source: map folding is a term of the trade; axis heights of crossed accordions: half-turn rule (derived).
    """

    name: ClassVar[str] = "map_fold"
    title: ClassVar[str] = "Map fold of a grid of tiles"

    columns: Annotated[int, Count(1, 8, "tiles across")]
    rows: Annotated[int, Count(1, 8, "tiles up")]
    tree: Annotated[str, Layout(("comb", "comb_middle", "serpentine"), "which creases stay hinges")]
    cover: Annotated[Column, Real(0.7, 1.0, "1", "share of the clear diameter covered across the columns")]
    reach: Annotated[Column, Real(0.7, 1.0, "1", "share of the clear diameter covered along the columns")]

    def tiles(self) -> list[tuple[int, int, int]]:
        """(column, row, parent) of each panel, parents first."""
        if self.tree == "serpentine":
            path = [(c, r) for r in range(self.rows) for c in range(self.columns)[:: 1 if r % 2 == 0 else -1]]
            return [(c, r, p - 1) for p, (c, r) in enumerate(path)]
        there = present(self.columns, self.rows)
        middle, first = self.rows // 2, self.columns // 2 if self.tree == "comb_middle" else 0
        spine = sorted(range(self.columns), key=lambda c: (abs(c - first), -c))
        out = [(c, middle, spine.index(c - 1 if c > first else c + 1) if c != first else -1) for c in spine]
        for step in (1, -1):
            for column in spine:
                parent, row = spine.index(column), middle + step
                while 0 <= row < self.rows and there[column, row]:
                    out.append((column, row, parent))
                    parent, row = len(out) - 1, row + step
        return out

    def topology(self) -> Topology:
        tiles = self.tiles()
        parent = [p for _, _, p in tiles]
        sides, order = self._sides(tiles)
        laid = stack(parent, order=order, sides=sides)
        edge, ends = [], np.stack([laid.level[1:], laid.level[parent[1:]]])
        for c, r, p in tiles[1:]:
            upright = r == tiles[p][1]
            edge.append((upright, (max(c, tiles[p][0]) if upright else max(r, tiles[p][1])) % 2))
        slot = edge_slots(edge, ends.min(axis=0).tolist(), ends.max(axis=0).tolist())
        stage = np.array([self._stage(tiles, p) for p in range(1, len(tiles))], dtype=np.int64)
        at = {(c, r): p for p, (c, r, _) in enumerate(tiles)}
        hinged = {(min(p, q), max(p, q)) for p, q in enumerate(parent)}
        near = [(p, at[n]) for (c, r), p in at.items() for n in ((c + 1, r), (c, r + 1)) if n in at]
        free = sorted({(min(e), max(e)) for e in near} - hinged)
        return Topology(
            np.asarray(parent, dtype=np.int64), laid.sense, laid.steps, stage, slot, laid.level, laid.turned,
            latchable=np.asarray(free, dtype=np.int64).reshape(-1, 2),
        )  # fmt: skip

    def _sides(self, tiles: list[tuple[int, int, int]]) -> tuple[list[int], list[int]]:
        """Sides and laying order for the stack: the two column packs of a spine tile lie one on each face.

        On the way right the upper pack looks away from the root and the lower one towards it, on the way left the
        other way round: so every spine hinge passes one upper and one lower pack.
        """
        sides, order = [0] * len(tiles), [0] * len(tiles)
        if self.tree == "serpentine":
            return sides, order
        first = tiles[0][0]
        for p, (c, r, q) in enumerate(tiles):
            if q < 0:
                continue
            if r == tiles[q][1]:
                order[p] = 1
                sides[p] = -sides[q] if q else (1 if c > first else -1)
            elif tiles[q][1] == tiles[0][1]:
                away = -sides[q] if q else 1
                sides[p] = away if (r > tiles[0][1]) == (c >= first) else -away
        return sides, order

    def _stage(self, tiles: list[tuple[int, int, int]], panel: int) -> int:
        """Combs: the spine, then the columns. Serpentine: row, turn, row, turn ..."""
        _, r, p = tiles[panel]
        level = r == tiles[p][1]
        if self.tree == "serpentine":
            return 2 * r - (not level) if self.columns > 1 else r - 1
        return 0 if level or self.columns == 1 else 1

    def geometry(self, build: Build) -> Geometry:
        topology, tiles = self.topology(), np.asarray(self.tiles())
        gap, radius = build.edge_gap[:, None], build.diameter / 2.0
        x = spread(self.cover * build.diameter, build.edge_gap, self.columns)
        y = spread(self.reach * build.diameter, build.edge_gap, self.rows)
        c, r = tiles[:, 0], tiles[:, 1]
        plain = rectangles(*inset(x[:, c], x[:, c + 1], gap), *inset(y[:, r], y[:, r + 1], gap))
        outline = compact(trim_to_circle(plain, radius), 7)
        hinge, free = topology.hinges, topology.latchable
        line, cut = _cell_edges(x, y, tiles, hinge), _cell_edges(x, y, tiles, free)
        # units sit at the ends of the line: on trimmed tiles they would come under the latches of other layers
        seam = about_middle(shared_edge(outline[:, hinge[:, 0]], outline[:, hinge[:, 1]], line), line)
        seam = _alike(seam, tiles, hinge)
        notches = None
        if build.notched:
            spine = topology.steps > 1
            whole = np.linalg.norm(seam[:, spine, 1] - seam[:, spine, 0], axis=-1).min(axis=1, initial=np.inf) / 2.0
            asked = self._passed(topology, tiles, x, y, build)
            half = asked.longest(whole, outline, build)
            seam[:, spine] = cut_to(seam[:, spine], half)
            notches = asked.notches(half, build)
        middles = centroid(outline)
        axis = directed_axis(seam, middles[:, hinge[:, 0]], half_turn_height(topology, build))
        open_part = about_middle(shared_edge(outline[:, free[:, 0]], outline[:, free[:, 1]], cut), cut)
        latch = directed_axis(open_part, middles[:, free[:, 0]], np.zeros(len(free)))[..., :2]
        status = _judge(build, x, y, seam, outline, plain)
        angle = np.broadcast_to(topology.sense * np.pi, (build.rows, len(hinge))).copy()
        return Geometry(outline, build.thickness, axis, angle, latch, status, notches=notches)

    def _passed(self, topology: Topology, tiles: Ints, x: Floats, y: Floats, build: Build) -> Passed:
        """Upright edges of the tiles that spine hinges pass. They leave the posts by turns of their column about level
        lines; tiles farther up the column than the first move less along their edges."""
        panel, hinge, line, sign = [], [], [], []
        for h in np.flatnonzero(topology.steps > 1):
            i, j = topology.hinges[h]
            place = max(tiles[i, 0], tiles[j, 0])
            for q in np.flatnonzero(between(topology.level, i, j)):
                right = int((tiles[q, 0] - place) % 2 != 0)
                panel.append(int(q))
                hinge.append(int(h))
                line.append(tiles[q, 0] + right)
                sign.append(2 * right - 1)
        which, owner, at, outward = (np.array(v, dtype=np.int64) for v in (panel, hinge, line, sign))
        row = tiles[which, 1]
        middle = np.stack([x[:, at], (y[:, row] + y[:, row + 1]) / 2.0], axis=-1)
        from_line = (y[:, row + 1] - y[:, row]) / 2.0
        tall = (topology.steps[owner] - 1) * build.pitch[:, None] / 2.0 + build.knuckle[:, None]
        return Passed(which, owner, middle, outward, build.edge_gap / 2.0, from_line, tall)

    @classmethod
    def admits_notches(cls, cell: Cell) -> bool:
        """Combs: spine hinges pass columns. A serpentine passes nothing."""
        return cell["tree"] != "serpentine"

    @classmethod
    def first_cells(cls, most_panels: int) -> Sequence[Cell]:
        grids = ((2, 2), (3, 2), (2, 3), (3, 3), (4, 3), (3, 4), (4, 4), (5, 3), (5, 4), (5, 5), (6, 4), (6, 6), (8, 7))
        cells: list[Cell] = [
            {"columns": c, "rows": r, "tree": tree} for c, r in grids for tree in ("comb", "comb_middle", "serpentine")
        ]
        return [c for c in cells if cls.allowed(c) and cls.panel_count(c) <= most_panels]

    @classmethod
    def panel_count(cls, cell: Cell) -> int:
        columns, rows = int(cell["columns"]), int(cell["rows"])
        return columns * rows if cell["tree"] == "serpentine" else int(present(columns, rows).sum())

    @classmethod
    def allowed(cls, cell: Cell) -> bool:
        """One row or column is an accordion and left to that family; a serpentine needs every tile to count."""
        columns, rows = int(cell["columns"]), int(cell["rows"])
        if min(columns, rows) < 2 or (cell["tree"] == "comb_middle" and columns < 3):
            return False
        return cell["tree"] != "serpentine" or bool(present(columns, rows).all())


def present(columns: int, rows: int) -> np.ndarray:
    """[columns, rows]: whether a tile of a grid over the circle's square has LEAST_SHARE of it inside the circle."""
    x, y = np.linspace(-1.0, 1.0, columns + 1), np.linspace(-1.0, 1.0, rows + 1)
    tile = rectangles(x[:-1, None], x[1:, None], y[None, :-1], y[None, 1:])
    there: np.ndarray = circle_overlap(tile, 1.0) >= LEAST_SHARE * area(tile)
    return there


def _cell_edges(x: Floats, y: Floats, tiles: Ints, pairs: Ints) -> Floats:
    """Common cell edges [B, N, 2, 2] of pairs [N, 2] of neighbouring tiles, from the grid lines x, y."""
    (ci, ri), (cj, rj) = tiles[pairs[:, 0], :2].T, tiles[pairs[:, 1], :2].T
    upright = ri == rj
    column, row = np.maximum(ci, cj), np.maximum(ri, rj)
    begin = np.stack([np.where(upright, x[:, column], x[:, ci]), np.where(upright, y[:, ri], y[:, row])], axis=-1)
    end = np.stack([np.where(upright, x[:, column], x[:, ci + 1]), np.where(upright, y[:, ri + 1], y[:, row])], axis=-1)
    return np.stack([begin, end], axis=-2)


def _alike(seam: Floats, tiles: Ints, hinge: Ints) -> Floats:
    """Hinge lines [B, H, 2, 2], those that come to lie on one edge of the stack cut to the shortest of them.

    Units count from the ends of a line: at different places they would meet other layers' latches and units.
    """
    (ci, ri), (cj, rj) = tiles[hinge[:, 0], :2].T, tiles[hinge[:, 1], :2].T
    upright = ri == rj
    edge = np.where(upright, np.maximum(ci, cj) % 2, 2 + np.maximum(ri, rj) % 2)
    length = np.linalg.norm(seam[:, :, 1] - seam[:, :, 0], axis=-1)
    share = np.ones_like(length)
    for k in range(4):
        mine = edge == k
        share[:, mine] = length[:, mine].min(axis=1, initial=np.inf, keepdims=True) / length[:, mine]
    middle = seam.mean(axis=2, keepdims=True)
    alike: Floats = middle + share[:, :, None, None] * (seam - middle)
    return alike


def _judge(build: Build, x: Floats, y: Floats, seam: Floats, outline: Floats, plain: Floats) -> Status:
    """Tiles wider than two gaps, not trimmed away, hinge lines with room for a unit."""
    narrow = np.minimum(x[:, 1] - x[:, 0], y[:, 1] - y[:, 0])
    kept = (area(outline) / area(plain)).min(axis=1)
    length = np.linalg.norm(seam[..., 1, :] - seam[..., 0, :], axis=-1).min(axis=1)
    status = Status.fine(build.rows).require(narrow / build.edge_gap - 2.0, "tiles are too narrow for the edge gap")
    status = status.require(kept - 0.01, "a corner tile is trimmed away")
    return status.require(length / build.unit_width - 1.0, "a hinge line is too short for one hinge unit")
