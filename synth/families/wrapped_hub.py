"""A sheet wrapped round a polygonal hub, cut into n arms that membranes hold together."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from typing import Annotated, ClassVar

import numpy as np

from synth.core.arrays import Column, Floats, Ints, compose, identity_poses, transform
from synth.core.build import Build
from synth.core.family import Cell, Count, Family, Real
from synth.core.geometry import Geometry, directed_axis
from synth.core.motion import relative_poses, turns_about
from synth.core.polygon import area, compact, trim_to_circle
from synth.core.status import Status
from synth.core.topology import Topology
from synth.families._edges import common_edge
from synth.families._wrap import closed_form, wrap
from synth.families._wrap_arm import CORNERS, Places, outline, pieces, places, seams, turned
from synth.families._wrap_least import START, least_way
from synth.families._wrap_rows import SPLIT
from synth.families._wrap_way import KNOTS, Arm, arm_poses, partings, spin, thin_way, thin_way_of_two

TANGENTS = 2
SPARE, LEAST_SLACK = 1.02, 0.1e-3
"""Free length of a membrane: so much more than the greatest parting that was found on the way, and m more."""
LOOKED_AT = 80
"""Stations at which partings are worked out; verification proves them for the whole way."""
LONGEST = 4.0
"""Pitches: membranes that must be longer than this are not offered."""
VAST = 1e9
"""m: a hub so large that thickness and hardware are nothing."""
FILM_ROOM = 0.22e-3
"""m: least room left between two solids whatever panel gap is asked: for films folded between them (50 um, four layers,
over the share that the proof keeps), between layers, between stacks and between hardware and the layer on it."""


@dataclass(frozen=True, eq=False)
class WrappedHub(Family):
    """A crease pattern for wrapping, cut at its corner creases: n arms of true hinges, joined by membranes.

    Pattern: the thickness-aware wrap with no rows but those of the hub's edges, or with one or two a drum height (own
    derivation, reference notes section 4). Every arm is the strip of pieces that comes to lie on one wall of the drum,
    a zigzag over spines and rows, front to front and back to back in turn; quads but the last inner one are split along
    a diagonal, which is flat at both ends of the way and bends by 20 to 42 degrees between; with rows most stay whole.
    Hub edges, spines, rows and diagonals are true hinges; corner creases are cut and bridged by membranes from arm to
    arm. Films are not solids: they are allowed for by room between solids, and where their slack goes is not told.

    Thickness: panels are prisms set back by half the gap, and lie parallel to their wall, one pitch apart: axes of
    half turns stand half a face gap outside the faces. That steps out by two layers at every corner crease, where
    mid-surfaces of a wrap would climb; `lead` moves the creases to share the step between both ends of the way.
    Sharp corners of wedges are cut square, an edge gap wide. Rim panels are cut by tangents of the clear circle.

    Motion: all arms alike. Without thickness the split sheet folds without strain, with two rings and with three; with
    it the corner creases must part, by 1.3 to 2 pitches in what was worked out, and that is the slack of the membranes.
    With all quads left whole it would be a quarter of the hub's radius. With a row (two rings) the sheet has two
    freedoms, folds without strain as well, and asks for 2.4 pitches or so; its drum is half as tall. Likewise with two
    rows (three rings), two quads of four split; its drum is two thirds as tall as without. Three rings with one row
    (six sides and more) have a drum a third as tall, a way of little strain, and ask for 3.7 pitches. Candidates that
    would ask for membranes longer than 4 pitches are refused. Other rows: not offered.

    Membranes hold nothing once deployed (longer than their gap), and arms hang on the hub by hinges that latch; a
    network that membranes alone held would be a mechanism, and no member of this family is one.
    Wins on area for a low, round room; loses light in wide gaps, and stiffness because arms are joined at the hub
    only.
    """

    name: ClassVar[str] = "wrapped_hub"
    title: ClassVar[str] = "Sheet wrapped round a hub"

    sides: Annotated[int, Count(5, 12, "sides of the hub, and arms")]
    rings: Annotated[int, Count(2, 3, "corner steps along a spine")]
    rows: Annotated[int, Count(0, 2, "rows of panels a drum height; 0: none but the hub's edges")]
    reach: Annotated[Column, Real(0.9, 1.3, "1", "farthest corner of the crease pattern over the clear radius")]
    lead: Annotated[Column, Real(0.2, 0.6, "1", "how far corner creases are moved outwards, over two layers' step")]
    grip: Annotated[Column, Real(0.7, 0.95, "1", "middle share of each crease that hinges may take")]

    def topology(self) -> Topology:
        """Panel 0 is the hub; then piece by piece from the hub outwards, each on all n arms. The corner creases close
        loops."""
        n, made, pairs = self.sides, pieces(self.rings, self.rows), self._seam_pairs()
        parent = np.concatenate([[-1], np.zeros(n), 1 + np.arange(n * (len(made) - 1))])
        sense = np.repeat([{"hub": -1, "front": 1, "back": -1, "diagonal": 1}[p.fold] for p in made], n)
        steps = np.repeat([int(p.fold in ("front", "back")) for p in made], n)
        bent = np.repeat([-1 if s.face < 0 else 1 for s in seams(self.rings, self.rows)], n)
        none = np.zeros(len(sense) + len(pairs), dtype=np.int64)
        flat = np.zeros(len(parent), dtype=np.int64)
        return Topology(
            parent=parent.astype(np.int64),
            sense=np.concatenate([sense, bent]).astype(np.int64),
            steps=np.concatenate([steps, 0 * bent]).astype(np.int64),
            stage=none,
            slot=none.copy(),
            level=flat,
            turned=flat.copy(),
            closing=pairs,
        )

    def _seam_pairs(self) -> Ints:
        """[Q n, 2] panels on the two sides of every corner crease."""
        n, made = self.sides, pieces(self.rings, self.rows)
        pairs = []
        for seam in seams(self.rings, self.rows):
            for k in range(n):
                ends = [1 + m * n + (k - made[m].gore) % n for m in (seam.first, seam.second)]
                pairs.append(ends)
        return np.array(pairs, dtype=np.int64)

    def _pitch(self, build: Build) -> Column:
        """Layer pitch [B]: the build's, and room for films and for hardware on the diagonals between two layers."""
        solid = np.maximum(build.thickness, build.thickness / 2.0 + build.knuckle)
        return np.maximum(build.pitch, solid + max(build.panel_gap, FILM_ROOM))

    def _places(self, build: Build) -> Places:
        return places(self.sides, self.rings, self.rows, self._radius(build), self._pitch(build), self.lead)

    def _radius(self, build: Build) -> Column:
        """Circumradius [B] of the hub."""
        return self.reach * build.diameter / closed_form(self.sides, self.rings, self.rows).deployed_diameter

    def _lines(self, build: Build, at: Places) -> Floats:
        """Hinge lines [B, M, 2, 3] of the arm on wall 0, whole creases."""
        t, gap = build.thickness, self._pitch(build) - build.thickness
        height = {"hub": -t - gap / 2.0, "front": gap / 2.0, "back": -t - gap / 2.0, "diagonal": -t / 2.0}
        made = pieces(self.rings, self.rows)
        out = []
        for m, piece in enumerate(made):
            inside = at.of(made[m - 1].corners).mean(axis=1) if m else np.zeros((build.rows, 2))
            out.append(directed_axis(at.of(piece.crease), inside, height[piece.fold]))
        return np.stack(out, axis=1)

    def _arm(self, build: Build) -> Arm:
        at, made, joined = self._places(build), pieces(self.rings, self.rows), seams(self.rings, self.rows)
        ends = np.stack([at.of(s.ends) for s in joined], axis=1)
        z = np.array([float(s.face) for s in joined])[None, :, None, None] * build.thickness[:, None, None, None]
        line = np.concatenate([ends, np.broadcast_to(z, (*ends.shape[:-1], 1))], axis=-1)
        turn = {"hub": -np.pi / 2.0, "front": np.pi, "back": -np.pi, "diagonal": 0.0}
        return Arm(
            sides=self.sides,
            axis=self._lines(build, at),
            stowed=np.array([turn[p.fold] for p in made]),
            first=tuple(s.first for s in joined),
            second=tuple(s.second for s in joined),
            ahead=tuple(-made[s.first].gore for s in joined),
            behind=tuple(-made[s.second].gore for s in joined),
            line=line,
            radius=self._radius(build),
        )

    def geometry(self, build: Build) -> Geometry:
        n, made, at = self.sides, pieces(self.rings, self.rows), self._places(build)
        radius, setback = self._radius(build), build.edge_gap / 2.0
        inradius = radius * np.cos(np.pi / n)
        corner = turned(np.array([1.0, 0.0]), 0, n)
        ring = np.stack([turned(corner, k, n) for k in range(n)])
        hub = ring * ((inradius - np.minimum(setback, inradius / 2.0)) / np.cos(np.pi / n))[:, None, None]
        parts = [outline(at.of(p.corners[::-1]), setback, build.edge_gap) for p in made]
        parts = [compact(trim_to_circle(p, build.diameter / 2.0, TANGENTS), CORNERS + 2) for p in parts]
        wide = max(CORNERS + 2, n)
        arms = [np.stack([turned(p, k, n) for k in range(n)], axis=1) for p in parts]
        panels = np.concatenate([compact(x, wide) for x in (hub[:, None], *arms)], axis=1)
        topology = self.topology()
        lines = np.stack([_spun(self._lines(build, at), k, n) for k in range(n)], axis=2)
        lines = lines.reshape(build.rows, -1, 2, 3)
        i, j = topology.hinges[: lines.shape[1]].T
        seam = self._seam_lines(at, panels, topology.closing)
        face = np.repeat([float(s.face) for s in seams(self.rings, self.rows)], n)
        height = np.broadcast_to((build.thickness[:, None] * face)[:, :, None, None], (*seam.shape[:-1], 1))
        axis = np.concatenate(
            [self._held(lines, panels[:, i], panels[:, j]), np.concatenate([seam, height], axis=-1)], axis=1
        )
        slack = self._slack(build)
        status = self._judge(build, parts, axis[:, : lines.shape[1]])
        status = self._passable(build, slack, status)
        latch = np.zeros((build.rows, 0, 2, 2))
        return Geometry(panels, build.thickness, axis, self._stowed(build, axis), latch, status, slack)

    def _stowed(self, build: Build, axis: Floats) -> Floats:
        """Stowed angles [B, H]: of the arms' hinges as they are, of the corner creases from the poses."""
        topology, own = self.topology(), np.repeat(self._arm(build).stowed, self.sides)
        relative = relative_poses(topology, self.poses(build, np.zeros(1)))[:, 0]
        found = np.stack([turns_about(a, r) for a, r in zip(axis, relative, strict=True)])
        found[:, : len(own)] = own
        return found

    def _held(self, line: Floats, first: Floats, second: Floats) -> Floats:
        """Middle share `grip` of what both outlines have as an edge along hinge lines [B, H, 2, 3]."""
        along = line[..., 1, :2] - line[..., 0, :2]
        along = along / np.linalg.norm(along, axis=-1, keepdims=True)
        across = np.stack([-along[..., 1], along[..., 0]], axis=-1)
        edge = common_edge(first, second, line[..., 0, :2], across)
        middle = edge.mean(axis=-2, keepdims=True)
        half = 0.5 * self.grip[:, None, None] * np.linalg.norm(edge[..., 1, :] - edge[..., 0, :], axis=-1)[..., None]
        ends = np.stack([-half * along, half * along], axis=-2) + middle
        return np.concatenate([ends, line[..., 2:]], axis=-1)

    def _seam_lines(self, at: Places, panels: Floats, pairs: Ints) -> Floats:
        """Middle lines [B, K, 2, 2] of the corner creases where both panels have edge."""
        n = self.sides
        ends = np.stack([turned(at.of(s.ends), k, n) for s in seams(self.rings, self.rows) for k in range(n)], axis=1)
        middle = panels[:, pairs[:, 0]].mean(axis=2)
        line = directed_axis(ends, middle, np.zeros(ends.shape[:2]))[..., :2]
        along = line[..., 1, :] - line[..., 0, :]
        along = along / np.linalg.norm(along, axis=-1, keepdims=True)
        across = np.stack([-along[..., 1], along[..., 0]], axis=-1)
        edge = common_edge(panels[:, pairs[:, 0]], panels[:, pairs[:, 1]], line[..., 0, :], across)
        return directed_axis(edge, middle, np.zeros(edge.shape[:2]))[..., :2]

    def _judge(self, build: Build, parts: list[Floats], axis: Floats) -> Status:
        """Panels of some size, creases of some length, and stacks of neighbouring walls beside each other."""
        least = np.stack([area(p) for p in parts], axis=1).min(axis=1) / self._radius(build) ** 2
        status = Status.fine(build.rows).require(least / 0.01 - 1.0, "a wedge is too small for the edge gap")
        length = np.linalg.norm(axis[..., 1, :] - axis[..., 0, :], axis=-1).min(axis=1)
        status = status.require(length / (2.0 * build.unit_width) - 1.0, "a crease is too short for its hinge units")
        apart = self._stacks_apart(build, parts)
        room = max(build.panel_gap, FILM_ROOM)
        return status.require(apart / room - 1.0, "stowed stacks of neighbouring walls meet at the corners")

    def _stacks_apart(self, build: Build, parts: list[Floats]) -> Column:
        """Least distance [B], or a lower bound of it, of stowed panels on one wall from those on the next, seen from
        above: rectangles parted along the sides of one of them."""
        stowed = arm_poses(self._arm(build).axis, np.tile(self._arm(build).stowed, (build.rows, 1)))
        solid = np.stack([np.concatenate([_lifted(p, z) for z in (0.0 * build.thickness, -build.thickness)], axis=1)
                          for p in parts], axis=1)  # fmt: skip
        plan = transform(stowed, solid)[..., :2]
        ways = [turned(np.array([1.0, 0.0]), 0.5 + q, self.sides) for q in (0.0, self.sides / 4.0)]
        beyond = turned(plan, 1, self.sides)
        best = np.full((build.rows, len(parts), len(parts)), -np.inf)
        for way in (*ways, *(turned(w, 1, self.sides) for w in ways)):
            mine, theirs = plan @ way, beyond @ way
            gap = theirs.min(axis=-1)[:, None, :] - mine.max(axis=-1)[:, :, None]
            back = mine.min(axis=-1)[:, :, None] - theirs.max(axis=-1)[:, None, :]
            best = np.maximum(best, np.maximum(gap, back))
        return np.asarray(best.min(axis=(1, 2)))

    def folds(self, progress: Floats) -> Floats:
        """Angles [S, M] of the hinges of one arm at s = progress [S], linear between the knots of the way."""
        s, told = np.asarray(progress, dtype=np.float64), _thin(self.sides, self.rings, self.rows)
        k = np.clip((s * (KNOTS - 1)).astype(np.int64), 0, KNOTS - 2)
        share = (s * (KNOTS - 1) - k)[:, None]
        return np.asarray(told[k] * (1.0 - share) + told[k + 1] * share)

    def poses(self, build: Build, progress: Floats) -> Floats:
        """Poses [B, S, P, 3, 4] at s = progress [S]: all arms alike, each a chain of true hinges."""
        placed = arm_poses(self._arm(build).axis[:, None], self.folds(progress)[None])
        out = identity_poses(*placed.shape[:2], 1 + self.sides * placed.shape[2])
        for k in range(self.sides):
            there, back = (np.broadcast_to(spin(w, self.sides), placed.shape) for w in (k, -k))
            out[:, :, 1 + k :: self.sides] = compose(compose(there, placed), back)
        out[:, np.asarray(progress) >= 1.0] = np.eye(3, 4)
        return out

    def _partings(self, arm: Arm) -> Column:
        """Greatest distance [B, Q] by which each seam's lines part at LOOKED_AT stations of the way."""
        told = self.folds(np.linspace(0.0, 1.0, LOOKED_AT))
        every = np.broadcast_to(told, (len(arm.radius), *told.shape))
        return np.asarray(np.linalg.norm(partings(arm, every), axis=-1).max(axis=(1, 3)))

    def _slack(self, build: Build) -> Floats:
        """[B, H] free length of the membranes beyond their gap; none of the true hinges."""
        most = SPARE * self._partings(self._arm(build)) + LEAST_SLACK
        true = np.zeros((len(most), len(pieces(self.rings, self.rows)) * self.sides))
        return np.concatenate([true, np.repeat(most, self.sides, axis=1)], axis=1)

    def _passable(self, build: Build, slack: Floats, status: Status) -> Status:
        """Membranes of a few pitches, and gaps wide enough for the diagonals: prisms that turn by r about their
        mid-plane, set back by half the gap e, keep apart while e >= t tan(r / 2) (elementary)."""
        most = slack.max(axis=1) / (LONGEST * self._pitch(build))
        status = status.require(1.0 - most, "no way was found on which membranes of a few layers' length hold the arms")
        need = build.thickness * np.tan(self._bent() / 2.0) + max(build.panel_gap, FILM_ROOM)
        return status.require(build.edge_gap / need - 1.0, "the edge gap is too narrow for the folds of the diagonals")

    def _bent(self) -> float:
        """rad: the greatest fold of a diagonal on the way."""
        diagonal = [p.fold == "diagonal" for p in pieces(self.rings, self.rows)]
        return float(np.abs(_thin(self.sides, self.rings, self.rows)[:, diagonal]).max(initial=0.0))

    def findings(self, build: Build) -> dict[str, Column]:
        """Strain of the ideal sheet, and what thickness costs it.

        ideal_sheet_strain: greatest relative difference of a crease or diagonal between flat and stowed mid-surfaces;
        ideal_sheet_strain_on_the_way: partings of the seams without thickness over the shortest seam;
        stowed_quad_warp_m: how far the fourth corner of an ideal stowed quad stands off the plane of its first three;
        greatest_parting_m: of a seam of these panels, which the membranes' slack must hold; diagonal_fold_rad.
        """
        one, radius = np.ones(build.rows), self._radius(build)
        sheet, thin = (
            wrap(self.sides, self.rings, self.rows, self._pitch(build) / radius),
            _thin_arm(self.sides, self.rings, self.rows),
        )
        shortest = np.linalg.norm(thin.line[0, :, 1] - thin.line[0, :, 0], axis=-1).min()
        return {
            "ideal_sheet_strain": sheet.strain(),
            "ideal_sheet_strain_on_the_way": one * self._partings(thin).max() / shortest,
            "stowed_quad_warp_m": sheet.warp() * radius,
            "greatest_parting_m": self._partings(self._arm(build)).max(axis=1),
            "diagonal_fold_rad": one * self._bent(),
        }

    @classmethod
    def first_cells(cls, most_panels: int) -> Sequence[Cell]:
        shapes = ((6, 2, 0), (5, 2, 0), (8, 2, 0), (7, 2, 0), (6, 3, 0), (6, 2, 1), (6, 3, 2), (6, 3, 1))
        cells: list[Cell] = [{"sides": n, "rings": r, "rows": h} for n, r, h in shapes]
        return [c for c in cells if cls.panel_count(c) <= most_panels]

    @classmethod
    def has_free_edges(cls, cell: Cell) -> bool:
        """Corner creases carry membranes, all others hinges."""
        return False

    @classmethod
    def panel_count(cls, cell: Cell) -> int:
        return 1 + int(cell["sides"]) * len(pieces(int(cell["rings"]), int(cell["rows"])))

    @classmethod
    def allowed(cls, cell: Cell) -> bool:
        """Rows a drum height of which it is known what to split, and not one with three rings of five sides."""
        shape = int(cell["rings"]), int(cell["rows"])
        return shape[1] == 0 or (shape in SPLIT and (shape != (3, 1) or int(cell["sides"]) > 5))


def _spun(lines: Floats, count: int, sides: int) -> Floats:
    """Lines [..., 2, 3] turned about z by count walls."""
    return np.concatenate([turned(lines[..., :2], count, sides), lines[..., 2:]], axis=-1)


@cache
def _thin_arm(sides: int, rings: int, rows: int) -> Arm:
    """An arm without thickness."""
    one = np.ones(1)
    family = WrappedHub(sides, rings, rows, one, 0.0 * one, one)
    return family._arm(Build(VAST, 0.0, one, one, one, one, one))


@cache
def _thin(sides: int, rings: int, rows: int) -> Floats:
    """The way of an arm without thickness [KNOTS, M]."""
    arm = _thin_arm(sides, rings, rows)
    if (rings, rows) in START:
        return least_way(arm, np.array(START[rings, rows]))
    return thin_way_of_two(arm) if rows else thin_way(arm)


def _lifted(plan: Floats, height: Column) -> Floats:
    """Plane points [B, V, 2] at z = height [B]."""
    z = np.broadcast_to(height[:, None, None], (*plan.shape[:2], 1))
    return np.concatenate([plan, z], axis=-1)
