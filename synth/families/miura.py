"""Miura sheet of thick panels: skew creases that fold both ways at once, driven by one freedom. No crease is cut."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated, ClassVar

import numpy as np

from synth.core.arrays import Bools, Column, Floats, Ints, cross2, dot
from synth.core.build import Build
from synth.core.family import Cell, Count, Family, Layout, Real
from synth.core.geometry import Geometry, directed_axis
from synth.core.layers import half_turn_height
from synth.core.polygon import area, centroid, clip, compact
from synth.core.status import Status
from synth.core.tiling import shared_edge
from synth.core.topology import Topology
from synth.families._fins import END_MARGIN, MARGIN, PASSING_CLEARANCE, SLOT_PITCH
from synth.families._straight import cut_to

CORNERS = 8
JAMS = "layers in row order make a stack, but the hinge loops do not close while both folds move: use column order"


@dataclass(frozen=True, eq=False)
class Miura(Family):
    """Columns of parallelograms between straight creases; zigzag creases cross them; every crease is a hinge.

    Creases: none is cut, so the hinges form loops and the sheet is one mechanism: one drive, over-constrained
    (hinges must be true to line or compliant). Straight creases stand at equal distances; zigzag creases lean by
    90 degrees less the sector angle, alternately up and down. With the zigzag fold 2 th, straight folds are
    tan(f / 2) = cos(g) tan(th), g the sector angle (Miura, formula memory, numbers derived).

    Thickness: panels keep one plane when deployed if axes stand at h = s_p (Z_c - Z_p) / 2 and each vertex keeps
    sum (h_(k+1) - h_k) n_k = 0. Layers in column order do (each column a zigzag, then the next one on top). Layers
    in row order stack as well, but could only move in sequence (straight creases, then zigzags, as a map does; that
    is left to the map fold); with both under way their loops do not close, and they are refused.
    Straight hinges pass up to 2 rows - 2 layers on posts, which rise (k p + g) / 2 above a face. The senses of the
    zigzag creases settle which way each column runs through the stack, and that way the edges of all layers that a
    post passes lie behind it: no notch, not for deep posts either (`Build.notched`). (All derived.)

    Posts of neighbouring rows meet in plan near their common corner, so they take two slots in turn; rows two
    apart lie a sin(2 g) apart in plan, which must exceed the edge gap.

    Stowed: length b + rows a cos g by width a sin g (a along straight, b along zigzag creases), columns x rows
    layers; sector angles near 90 degrees pack best but put most of the straight folds' travel at one end.
    Wins where one drive must open both ways; loses on hinge count and post height.
    """

    name: ClassVar[str] = "miura"
    title: ClassVar[str] = "Miura sheet of thick panels"

    columns: Annotated[int, Count(2, 6, "strips between straight creases")]
    rows: Annotated[int, Count(2, 10, "panels in a strip, joined by zigzag creases")]
    order: Annotated[str, Layout(("columns", "rows"), "layer order; row order stacks but cannot move and is refused")]
    sector: Annotated[Column, Real(np.radians(50.0), np.radians(88.0), "rad", "sector angle of the parallelograms")]
    cover: Annotated[Column, Real(0.8, 1.0, "1", "share of the clear diameter covered across the columns")]
    reach: Annotated[Column, Real(0.8, 1.1, "1", "share of the clear diameter covered along the columns")]

    def panels(self) -> list[tuple[int, int]]:
        """(column, row) of each panel: the middle one, then outwards, nearest first."""
        middle = (self.columns // 2, self.rows // 2)
        grid = [(i, j) for i in range(self.columns) for j in range(self.rows)]
        return sorted(grid, key=lambda p: (abs(p[0] - middle[0]) + abs(p[1] - middle[1]), p))

    def topology(self) -> Topology:
        panels = self.panels()
        at = {p: k for k, p in enumerate(panels)}
        pairs = sorted(
            (min(at[i, j], at[n]), max(at[i, j], at[n])) for i, j in panels for n in ((i + 1, j), (i, j + 1)) if n in at
        )
        parent = np.array([min((p for p, c in pairs if c == k), default=-1) for k in range(len(panels))])
        tree = [(int(parent[k]), k) for k in range(1, len(panels))]
        closing = [e for e in pairs if e not in tree]
        column, row = np.array(panels).T
        height = self._heights(column, row)
        turned = np.where((column + row - column[0] - row[0]) % 2 == 0, 1, -1)
        first, second = np.array([*tree, *closing]).T
        rise = turned[first] * (height[second] - height[first])
        straight = column[first] != column[second]
        return Topology(
            parent=parent.astype(np.int64),
            sense=np.sign(rise).astype(np.int64),
            steps=np.abs(rise).astype(np.int64),
            stage=np.zeros(len(rise), dtype=np.int64),
            slot=np.where(straight, row[first] % 2, 0).astype(np.int64),
            level=(height - height[0]).astype(np.int64),
            turned=turned.astype(np.int64),
            closing=np.array(closing, dtype=np.int64).reshape(-1, 2),
        )

    def _heights(self, column: Ints, row: Ints) -> Ints:
        """Place [P] of panels in the stack, from one end."""
        if self.order == "rows":
            return np.where(row % 2 == 0, column, self.columns - 1 - column) + row * self.columns
        return np.where(column % 2 == 1, row, self.rows - 1 - row) + column * self.rows

    def _corners(self, build: Build) -> Floats:
        """Grid points [B, columns + 1, rows + 1, 2] of the creases, centred on the aperture."""
        i, j = np.arange(self.columns + 1), np.arange(self.rows + 1)
        across, up = self.cover * build.diameter / self.columns, self.reach * build.diameter / self.rows
        lean = across / np.tan(self.sector)
        x = across[:, None, None] * (i[:, None] - self.columns / 2.0)
        y = up[:, None, None] * (j - self.rows / 2.0) + lean[:, None, None] * (i[:, None] % 2 - 0.5)
        return np.stack(np.broadcast_arrays(x, y), axis=-1)

    def geometry(self, build: Build) -> Geometry:
        topology, grid = self.topology(), self._corners(build)
        column, row = np.array(self.panels()).T
        cell = np.stack([grid[:, column + a, row + b] for a, b in ((0, 0), (1, 0), (1, 1), (0, 1))], axis=-2)
        first, second = topology.hinges.T
        straight = column[first] != column[second]
        c, r = np.maximum(column[first], column[second]), np.maximum(row[first], row[second])
        begin = np.where(straight[:, None], grid[:, c, row[first]], grid[:, column[first], r])
        end = np.where(straight[:, None], grid[:, c, row[first] + 1], grid[:, column[first] + 1, r])
        crease = np.stack([begin, end], axis=-2)
        outline = self._trimmed(build, topology, cell, crease)
        seam = shared_edge(outline[:, first], outline[:, second], crease)
        if build.notched:
            seam[:, straight] = self._beside(topology, seam, crease, straight, build)
        axis = directed_axis(seam, centroid(cell)[:, first], half_turn_height(topology, build))
        angle = np.broadcast_to(topology.sense * np.pi, (build.rows, len(first))).copy()
        status = self._judge(build, cell, outline, seam)
        return Geometry(outline, build.thickness, axis, angle, np.zeros((build.rows, 0, 2, 2)), status)

    def _beside(self, topology: Topology, seam: Floats, crease: Floats, straight: Bools, build: Build) -> Floats:
        """Straight hinge lines [B, N, 2, 2] cut short until deep posts stand beside the layers that they pass.

        Stowed, the next row's edge leaves the line of a post from their common corner at the angle pi - 2 g, half a gap
        farther back. A post of depth d that begins at s from the corner clears it by s sin(2 g) + d cos(2 g) + gap / 2
        (derived). Panels part from posts on circles about the zigzag crease, which lead off the edge (g < 90 degrees),
        but bring the foot of the next row's hinge, one slot farther in, past the post: it fills that half gap, and has
        gone a slot's width times cos(g) from the edge. Where one row is passed, the post's other half swings past its
        second panel inside fold.leaves' circle.
        """
        line, steps = seam[:, straight], topology.steps[straight]
        near = np.linalg.norm(line - crease[:, straight], axis=-1).min(axis=(1, 2))
        start = near[:, None] + END_MARGIN + SLOT_PITCH * build.unit_width[:, None] * topology.slot[straight]
        deep = build.post[:, None] + np.where(steps == 3, PASSING_CLEARANCE, 0.0)
        sine, cosine = np.sin(2.0 * self.sector)[:, None], np.cos(2.0 * self.sector)[:, None]
        slot = SLOT_PITCH * build.unit_width * np.cos(self.sector)
        room = np.minimum(build.edge_gap / 2.0, slot)[:, None]
        asked = (PASSING_CLEARANCE + MARGIN - deep * cosine - room) / sine
        short = np.where(steps > 1, asked - start, 0.0).max(axis=1)
        length = np.linalg.norm(line[:, :, 1] - line[:, :, 0], axis=-1).min(axis=1)
        return cut_to(line, length / 2.0 - np.maximum(short, 0.0))

    def angles(self, build: Build, progress: Floats) -> Floats:
        """Hinge angles [B, S, H] on the closed path: the two kinds of fold share the travel evenly.

        th + psi = pi (1 - s) with tan psi = cos(g) tan th (zigzag fold 2 th, straight fold 2 psi), solved for th:
        tan th = 2 sin u / ((1 + c) cos u + sqrt((1 + c)^2 cos^2 u + 4 c sin^2 u)), u = pi (1 - s), c = cos g.
        """
        topology = self.topology()
        column = np.array(self.panels())[:, 0]
        straight = column[topology.hinges[:, 0]] != column[topology.hinges[:, 1]]
        u, tilt = self._tilt(progress)
        zigzag, bend = 2.0 * tilt, 2.0 * (u - tilt)
        folds: Floats = np.where(straight, bend[..., None], zigzag[..., None]) * topology.sense
        return folds

    def _tilt(self, progress: Floats) -> tuple[Floats, Floats]:
        """u [1, S] and th [B, S] of `angles`."""
        u, c = np.pi * (1.0 - np.asarray(progress, dtype=np.float64))[None, :], np.cos(self.sector)[:, None]
        sine, cosine = np.where(progress <= 0.0, 0.0, np.sin(u)), (1.0 + c) * np.cos(u)
        root = np.sqrt(cosine**2 + 4.0 * c * sine**2)
        # past the middle the sum cancels: multiply both parts by root - cosine over 2 sin u
        tilt = np.where(cosine >= 0.0, np.arctan2(2.0 * sine, root + cosine), np.arctan2(root - cosine, 2.0 * c * sine))
        return u, tilt

    def bends(self, build: Build, progress: Floats) -> Floats:
        """2 pi^2 |th''| of both kinds of fold, th'' the second derivative of th by u of `angles`.

        With q = cos^2 th + c^2 sin^2 th, d psi / d th = c / q, so th' = q / (q + c) and
        th'' = -c (1 - c^2) sin(2 th) q / (q + c)^3 (derived). th rises with u and q falls with th; q / (q + c)^3 has
        its one peak at q = c / 2. Each factor is bounded by itself over every interval.
        """
        tilt, c = self._tilt(progress)[1], np.cos(self.sector)[:, None]
        low, high = np.minimum(tilt[:, :-1], tilt[:, 1:]), np.maximum(tilt[:, :-1], tilt[:, 1:])
        sine = np.sin(2.0 * np.clip(np.pi / 4.0, low, high))
        most, least = (np.cos(x) ** 2 + c**2 * np.sin(x) ** 2 for x in (low, high))
        q = np.clip(c / 2.0, least, most)
        bound = 2.0 * np.pi**2 * c * (1.0 - c**2) * sine * q / (q + c) ** 3
        count = len(self.topology().hinges)
        return np.asarray(np.repeat(bound[..., None], count, axis=-1))

    def _trimmed(self, build: Build, topology: Topology, cell: Floats, crease: Floats) -> Floats:
        """Outlines [B, P, CORNERS, 2]: half a gap off every side, then three tangents of the clear circle, each
        moved out so that no hinge line of the panel loses an end."""
        middle = centroid(cell)
        side = np.roll(cell, -1, axis=2) - cell
        normal = np.stack([side[..., 1], -side[..., 0]], axis=-1)
        normal = normal / np.linalg.norm(normal, axis=-1, keepdims=True)
        out = compact(cell, CORNERS)
        for k in range(4):
            depth = dot(normal[:, :, k], cell[:, :, k])
            half = np.minimum(build.edge_gap[:, None] / 2.0, 0.45 * (depth - dot(normal[:, :, k], middle)))
            out = compact(clip(out, normal[:, :, k], depth - half), CORNERS)
        spread = np.arctan2(cell[..., 1], cell[..., 0]) - np.arctan2(middle[..., 1], middle[..., 0])[..., None]
        spread = (spread + np.pi) % (2.0 * np.pi) - np.pi
        low, high = spread.min(axis=-1), spread.max(axis=-1)
        held = topology.hinges[None] == np.arange(topology.panels)[:, None, None]
        room = (build.edge_gap + build.unit_width)[:, None]
        for share in (1 / 6, 1 / 2, 5 / 6):
            a = np.arctan2(middle[..., 1], middle[..., 0]) + low + share * (high - low)
            toward = np.stack([np.cos(a), np.sin(a)], axis=-1)
            ends = np.einsum("bpx,bhex->bphe", toward, crease).max(axis=-1)
            need = np.where(held.any(axis=-1)[None], ends, -np.inf).max(axis=-1) + room
            out = compact(clip(out, toward, np.maximum(build.diameter / 2.0, need)), CORNERS)
        return out

    def _judge(self, build: Build, cell: Floats, outline: Floats, seam: Floats) -> Status:
        """Room for hinges and posts; the order that moves."""
        edge = np.linalg.norm(cell[:, 0, 3] - cell[:, 0, 0], axis=-1)
        length = np.linalg.norm(seam[..., 1, :] - seam[..., 0, :], axis=-1).min(axis=1)
        narrow = np.abs(cross2(cell[:, 0, 1] - cell[:, 0, 0], cell[:, 0, 3] - cell[:, 0, 0])) / np.maximum(
            edge, np.linalg.norm(cell[:, 0, 1] - cell[:, 0, 0], axis=-1)
        )
        status = Status.fine(build.rows).require(
            narrow / build.edge_gap - 2.0, "panels are too narrow for the edge gap"
        )
        status = status.require((area(outline) / area(cell)).min(axis=1) - 0.01, "a corner panel is trimmed away")
        status = status.require(length / build.unit_width - 1.0, "a hinge line is too short for one hinge unit")
        if self.rows > 2:
            room = build.edge_gap
            if build.notched:
                room = np.maximum(room, build.post + 2.0 * PASSING_CLEARANCE + MARGIN)
            apart = edge * np.sin(2.0 * self.sector) / room
            status = status.require(apart - 1.0, "posts two rows apart meet in the stack: a smaller sector angle helps")
        return status.require(np.full(build.rows, -1.0 if self.order == "rows" else 0.0), JAMS)

    @classmethod
    def first_cells(cls, most_panels: int) -> Sequence[Cell]:
        grids = ((2, 2), (3, 2), (2, 3), (3, 3), (4, 3), (3, 4), (4, 4), (5, 4), (5, 5), (6, 5), (6, 6))
        cells: list[Cell] = [{"columns": c, "rows": r, "order": "columns"} for c, r in grids]
        return [c for c in cells if cls.panel_count(c) <= most_panels]

    @classmethod
    def admits_notches(cls, cell: Cell) -> bool:
        """Deep posts stand beside the layers that they pass: they ask for no notch."""
        return cell["order"] == "columns"

    @classmethod
    def has_free_edges(cls, cell: Cell) -> bool:
        """None: every crease is a hinge."""
        return False

    @classmethod
    def panel_count(cls, cell: Cell) -> int:
        return int(cell["columns"]) * int(cell["rows"])

    @classmethod
    def relatives(cls, cell: Cell, most_panels: int, rng: np.random.Generator) -> list[Cell]:
        """Grids one column or row away; never row order, which cannot move."""
        return [c for c in super().relatives(cell, most_panels, rng) if c["order"] == "columns"]
