"""Exact clearance of two bodies that turn against each other about one line.

In cylinder coordinates about the line a turn shifts only the polar angle. Two solids
never meet while their ranges along the line, or their ranges of radius, or the ranges of
angle that they sweep, are disjoint (necessary condition of meeting: one common point has
all three in common; elementary).
"""

from dataclasses import dataclass

import numpy as np

from synth.core.arrays import Floats, Ints, unit
from synth.fold.solids import Solids

LEAST = 1e-6
"""m taken off gaps of ranges along the line and of radius."""
LEAST_TURN = 1e-7
"""rad: the same for ranges of angle."""
FULL = 2.0 * np.pi


@dataclass(frozen=True, eq=False)
class Ranges:
    """Ranges of n solids about a line: along [2, n], radius [2, n], first angle and width of the arc [n] (rad)."""

    along: Floats
    radius: Floats
    angle: Floats
    width: Floats

    def take(self, which: Ints) -> "Ranges":
        return Ranges(self.along[:, which], self.radius[:, which], self.angle[which], self.width[which])


def ranges(solids: Solids, which: Ints, placed: Floats, line: Floats) -> Ranges:
    """Ranges of solids which [n] about line [2, 3], panels standing at placed [P, 3, 4].

    The least radius is told from below: the best of separating directions towards the
    nearest corner and across each projected edge.
    """
    way = unit(line[1] - line[0])
    seed = np.eye(3)[int(np.abs(way).argmin())]
    u = unit(np.cross(way, seed))
    frame = np.stack([u, np.cross(way, u), way])
    count = len(which)
    out = Ranges(np.zeros((2, count)), np.zeros((2, count)), np.zeros(count), np.zeros(count))
    for k, shape in enumerate(solids.shapes):
        mine = np.flatnonzero(solids.shape[which] == k)
        if not len(mine):
            continue
        index = solids.place[which[mine]]
        pose = placed[solids.panel[which[mine]]]
        turn = np.einsum("ij,njk->ikn", frame, pose[:, :, :3])
        shift = np.einsum("ij,nj->in", frame, pose[:, :, 3] - line[0])
        corners = np.einsum("ikn,kwn->iwn", turn, shape.corners_of(index)) + shift[:, None]
        p, q = corners[0], corners[1]
        radius = np.hypot(p, q)
        out.along[:, mine] = corners[2].min(axis=0), corners[2].max(axis=0)
        middle = np.arctan2(q.mean(axis=0), p.mean(axis=0))
        angle = np.mod(np.arctan2(q, p) - middle + np.pi, FULL) - np.pi
        least, most = angle.min(axis=0), angle.max(axis=0)
        width = most - least
        around = width >= np.pi - 1e-9
        out.angle[mine], out.width[mine] = middle + least, np.where(around, FULL, width)
        nearest = np.where(around, 0.0, _from_below(p, q, radius, turn, shape.nx[:, index], shape.ny[:, index]))
        out.radius[:, mine] = nearest, radius.max(axis=0)
    return out


def _from_below(p: Floats, q: Floats, radius: Floats, turn: Floats, nx: Floats, ny: Floats) -> Floats:
    """Lower bound [n] of the distance from the line to convex projections with corners p, q [W, n]."""
    near = radius.argmin(axis=0)[None]
    ways = [(np.take_along_axis(p, near, 0)[0], np.take_along_axis(q, near, 0)[0])]
    edges = [turn[:2, 1] * nx[k] - turn[:2, 0] * ny[k] for k in range(len(nx))] + [turn[:2, 2]]
    ways += [(-e[1], e[0]) for e in edges]
    best = np.zeros(p.shape[1])
    for a, b in ways:
        size = np.hypot(a, b)
        along = (a * p + b * q) / np.where(size > 1e-9, size, 1.0)
        found = np.maximum(along.min(axis=0), -along.max(axis=0))
        best = np.maximum(best, np.where(size > 1e-9, found, 0.0))
    return best


def parting(first: Ranges, second: Ranges, start: Floats | float, end: Floats | float) -> Floats:
    """Lower bound [n, m] (or [n], arrays made to match) of the distance while the second turns from start to end (rad).

    Not positive where no range excludes a meeting. Arcs apart by g leave at least
    r sin(min(g, 90 deg)), r the greater of the two least radii (elementary).
    first is given as a column by the caller where all pairs are wanted.
    """
    out = np.maximum(_gap(first.along, second.along), _gap(first.radius, second.radius)) - LEAST
    low = second.angle + np.minimum(start, end)
    swept = second.width + np.abs(np.asarray(end) - start)
    before = np.mod(low - (first.angle + first.width), FULL)
    gap = np.minimum(before, FULL - before - swept - first.width)
    apart = np.maximum(first.radius[0], second.radius[0]) * np.sin(np.clip(gap, 0.0, np.pi / 2.0))
    return np.asarray(np.maximum(out, np.where(gap > LEAST_TURN, apart, -LEAST)))


def _gap(a: Floats, b: Floats) -> Floats:
    return np.asarray(np.maximum(a[0] - b[1], b[0] - a[1]))


def column(r: Ranges) -> Ranges:
    """The same with a trailing axis of one, to pair every solid with every other."""
    return Ranges(r.along[..., None], r.radius[..., None], r.angle[:, None], r.width[:, None])
