"""Notches where hinges and what they pass turn about parallel lines: nothing slides along an edge.

A stand-off in a notch is `Build.post` deep on either side of its hinge line. What it passes has an edge along that
line, so a notch leaves PASSING_CLEARANCE and MARGIN beyond the post. In mid-turn the end of a post swings about its own
line inside a circle of that radius (see fold.leaves), and panels that turn with the hinge keep their distance from the
line, so no more is asked (elementary).
"""

from dataclasses import dataclass

import numpy as np

from synth.core.arrays import Bools, Column, Floats, Ints
from synth.core.build import Build
from synth.core.geometry import Notches
from synth.families._fins import END_MARGIN, MARGIN, PASSING_CLEARANCE

BESIDE = 0.5e-3
"""m free on either side of a hinge unit in its notch."""
LEFT = 1.01e-3
"""m of panel between a notch and the panel's other edges (a hair more than the hardware's layout asks for)."""
ALONG = 1e-6
"""Edges that lean by a smaller sine from the notched one are parallel to it."""


@dataclass(frozen=True, eq=False)
class Passed:
    """Upright edges that stand-offs pass, K of them.

    panel, hinge [K]; middle [B, K, 2] of the edges between cells; outward [K]: +1 or -1, their normals along x;
    room [B]: how far the outlines stand off the hinge line; from_line [B, K] and tall [B, K] m: of panels that leave
    the post by a turn about a level line, how far that line is from the middle of the edge, and how high the post
    stands above it (0: they leave along the edge's plane).
    """

    panel: Ints
    hinge: Ints
    middle: Floats
    outward: Ints
    room: Column
    from_line: Floats
    tall: Floats

    def depth(self, build: Build) -> Column:
        """[B] m inside the outline: 0 where the post has room, else no shallower than LEFT."""
        asked = build.post + PASSING_CLEARANCE + MARGIN - self.room
        return np.asarray(np.where(asked > 0.0, np.maximum(asked, LEFT), 0.0))

    def wider(self, half: Column, build: Build) -> Floats:
        """[B, K] m that a notch is wider on either side than a unit and its room, for hinge lines of half length [B].

        What lies beyond a post, seen from the level line, goes on a circle about that line. It clears a post of
        height H whose far side stands at L if its radius is at least sqrt(L^2 + H^2) (elementary); L is least for the
        unit next to the line.
        """
        far = self.from_line - (half - END_MARGIN - build.unit_width)[:, None]
        return np.asarray(np.hypot(np.maximum(far, 0.0), self.tall) - np.maximum(far, 0.0))

    def longest(self, half: Column, outline: Floats, build: Build) -> Column:
        """Half length [B] of hinge lines, at most half [B], for which notches keep LEFT from other edges of the
        outlines [B, P, V, 2]."""
        room = self._along(outline, build).min(axis=1, initial=np.inf) + END_MARGIN - BESIDE
        short = np.minimum(half, room)
        # a shorter line has its units farther from the level line, and their notches are no wider
        return np.asarray(np.minimum(short, room - self.wider(short, build).max(axis=1, initial=0.0)))

    def _along(self, outline: Floats, build: Build) -> Floats:
        """How far from the middle of its edge [B, K] a notch may reach."""
        mine = outline[:, self.panel]
        step = np.roll(mine, -1, axis=2) - mine
        length = np.linalg.norm(step, axis=-1)
        normal = np.stack([step[..., 1], -step[..., 0]], axis=-1) / np.where(length > 0.0, length, 1.0)[..., None]
        across = np.abs(normal[..., 1])
        # on the outline's edge and at the bottom of the notch
        edge = build.edge_gap / 2.0
        ends = [self.middle[..., 0] - self.outward * inset[:, None] for inset in (edge, edge + self.depth(build))]
        best = np.full(self.middle.shape[:2], np.inf)
        for x in ends:
            point = np.stack([x, self.middle[..., 1]], axis=-1)
            inside = np.einsum("bkvx,bkvx->bkv", normal, mine - point[:, :, None])
            reach = (inside - LEFT) / np.where(across > ALONG, across, 1.0)
            best = np.minimum(best, np.where((across > ALONG) & (length > ALONG), reach, np.inf).min(axis=2))
        return best

    def notches(self, half: Column, build: Build) -> Notches:
        """What is asked of the hardware's layout, for hinge lines of half length [B]."""
        shape = (build.rows, len(self.panel))
        normal = np.stack([self.outward, 0 * self.outward], axis=-1).astype(np.float64)
        depth = np.broadcast_to(self.depth(build)[:, None], shape)
        wider = self.wider(half, build)
        return Notches(self.panel, self.hinge, self.middle, np.broadcast_to(normal, (*shape, 2)), depth, wider)


def between(level: Ints, first: int, second: int) -> Bools:
    """Which panels [P] lie between two others in a stack."""
    low, high = sorted((int(level[first]), int(level[second])))
    return np.asarray((level > low) & (level < high))


def cut_to(seam: Floats, half: Column) -> Floats:
    """Lines [B, H, 2, 2], none longer than twice half [B], about their middles."""
    middle = seam.mean(axis=2, keepdims=True)
    length = np.linalg.norm(seam[:, :, 1] - seam[:, :, 0], axis=-1) / 2.0
    share = np.minimum(1.0, np.maximum(half, 0.0)[:, None] / np.maximum(length, 1e-12))
    return np.asarray(middle + share[:, :, None, None] * (seam - middle))
