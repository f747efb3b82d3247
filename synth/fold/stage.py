"""What moves against what inside each stage, and how hard: the rigid parts and bounds on their relative motion.

Inside a stage the angles are linear in s, hinges of other stages rest, and the panels
between resting hinges form rigid parts. For two parts X and Y the place of a point of
Y seen from X is a sum of rigid vectors, y = sum_k R_k d_k, one for each part on the way
(from hinge line to hinge line, then to the point), so

    |y''| <= sum_k (|W_k|^2 + |W_k'|) |d_k|,

with W_k the turn rate of part k against X. Where all hinge lines on the way are
parallel, W_k is the signed sum of the rates, W_k' = 0, and distances count across the
lines only; else |W_k| <= w_k = sum of |rates| and |W_k'| <= w_k^2 / 2 (own derivation).

Where joints also slide (screws between the leaves of slack hinges), the reference point of
joint k moves past part k - 1 at a speed u_k that a screw keeps, with |acceleration| <= r_k u_k,
r_k its own turn rate; d_k grows by at most the slides at its two ends times the length of
the stage, and the product rule adds 2 w_{k-1} u_k + r_k u_k for every joint (own derivation).
"""

from dataclasses import dataclass

import numpy as np

from synth.core.arrays import Bools, Floats, Ints, dot, transform, unit
from synth.core.topology import Topology

NO_HINGE = -1
SAME_WAY = 1e-9
"""Lines whose unit directions differ by less than this are parallel."""


@dataclass(frozen=True, eq=False)
class Parts:
    """Rigid parts of one stage: C = moving hinges + 1.

    stage: number of the interval. part [P]: rigid part of each panel; start [P, 3, 4]: poses at
    its start; rate [H]: d angle / d s. moving [M]: hinges that move.
    For ordered pairs of parts [C, C]: hops: moving hinges between; entry: the last of them
    (the one next to the second part); parallel: whether all between are; base and slope:
    |y''| <= base + slope * distance from the entry line (from its middle where not parallel).
    """

    stage: int
    part: Ints
    start: Floats
    rate: Floats
    moving: Ints
    hops: Ints
    entry: Ints
    parallel: Bools
    base: Floats
    slope: Floats


@dataclass
class _Arrival:
    """Reaching a part from a given first part: last hinge, turn rates, bounds gathered so far."""

    hinge: int
    slide: float
    hops: int
    signed: float
    total: float
    parallel: bool
    across: float
    free: float

    def on(self, k: int, w: float, u: float, reach: float, sign: float, same: bool, across: float) -> "_Arrival":
        """One joint farther: joint k turns at w and slides at u, its point at most reach from the last."""
        return _Arrival(
            hinge=k,
            slide=u,
            hops=self.hops + 1,
            signed=self.signed * sign + w,
            total=self.total + abs(w),
            parallel=self.parallel and same and u == 0.0,
            across=self.across + self.signed**2 * across,
            free=self.free + 1.5 * self.total**2 * reach + (2.0 * self.total + abs(w)) * u,
        )


def parts_of(
    topology: Topology,
    axis: Floats,
    rate: Floats,
    start: Floats,
    stage: int,
    slide: Floats | None = None,
    length: float = 0.0,
) -> Parts:
    """Parts of one stage: axis [H, 2, 3] and rate [H] of the tree hinges, start [P, 3, 4] poses at its start.

    slide [H]: speeds of the middles of the lines past both leaves, in a stage of this length of s; none: all zero.
    axis is then told in the coordinates of the first leaf at the start of the stage.
    """
    slide = np.zeros(len(rate)) if slide is None else slide
    moving = np.flatnonzero((rate != 0.0) | (slide != 0.0))
    part = np.zeros(topology.panels, dtype=np.int64)
    number = {int(h): k + 1 for k, h in enumerate(moving)}
    for panel in range(1, topology.panels):
        part[panel] = number.get(panel - 1, part[topology.parent[panel]])
    count = len(moving) + 1
    lines = transform(start[topology.parent[moving + 1]], axis[moving])
    middle, way = lines.mean(axis=1), unit(lines[:, 1] - lines[:, 0])
    joins: list[list[tuple[int, int, float]]] = [[] for _ in range(count)]
    for k, h in enumerate(moving):
        i, j = int(part[topology.parent[h + 1]]), k + 1
        joins[i].append((k, j, 1.0))
        joins[j].append((k, i, -1.0))
    hops, entry = np.zeros((count, count), dtype=np.int64), np.full((count, count), NO_HINGE)
    parallel = np.ones((count, count), dtype=bool)
    base, slope = np.zeros((count, count)), np.zeros((count, count))
    gap, same, apart, across = _between(middle, way)
    speed, shift = rate[moving].tolist(), slide[moving].tolist()
    for first in range(count):
        todo: list[tuple[int, _Arrival | None]] = [(first, None)]
        while todo:
            here, arrival = todo.pop()
            for k, there, sign in joins[here]:
                if arrival is not None and arrival.hinge == k:
                    continue
                w, u = speed[k] * sign, shift[k]
                if arrival is None:
                    found = _Arrival(k, u, 1, w, abs(w), u == 0.0, 0.0, abs(w) * u)
                else:
                    e = arrival.hinge
                    reach = apart[e][k] + (arrival.slide + u) * length
                    found = arrival.on(k, w, u, reach, gap[e][k], same[e][k], across[e][k])
                hops[first, there], entry[first, there] = found.hops, moving[k]
                parallel[first, there] = found.parallel
                strays = 1.5 * found.total**2 * u * length
                base[first, there] = found.across if found.parallel else found.free + strays
                slope[first, there] = found.signed**2 if found.parallel else 1.5 * found.total**2
                todo.append((there, found))
    return Parts(stage, part, start, rate, moving, hops, entry, parallel, base, slope)


def _between(
    middle: Floats, way: Floats
) -> tuple[list[list[float]], list[list[bool]], list[list[float]], list[list[float]]]:
    """For pairs of moving hinge lines: sign of their directions, parallel, distance of middles, the same across."""
    sign = np.sign(way @ way.T)
    same = np.linalg.norm(way[:, None] - sign[..., None] * way[None], axis=-1) < SAME_WAY
    offset = middle[:, None] - middle[None]
    apart = np.linalg.norm(offset, axis=-1)
    along = dot(offset, np.broadcast_to(way[:, None], offset.shape))
    across = np.linalg.norm(offset - along[..., None] * way[:, None], axis=-1)
    return sign.tolist(), same.tolist(), apart.tolist(), across.tolist()


def twists(topology: Topology, axis: Floats, rate: Floats, placed: Floats) -> tuple[Floats, Floats]:
    """Turn rate W [S, P, 3] and velocity V [S, P, 3] of the point at the origin of every panel, per unit of s.

    A point x fixed to panel p moves with V_p + W_p x x. axis [H, 2, 3], rate [S, H], placed [S, P, 3, 4].
    """
    turn, shift = np.zeros((*placed.shape[:2], 3)), np.zeros((*placed.shape[:2], 3))
    tree = topology.panels - 1
    for panel in range(1, topology.panels):
        parent = int(topology.parent[panel])
        turn[:, panel], shift[:, panel] = turn[:, parent], shift[:, parent]
        w = rate[:, panel - 1]
        live = np.flatnonzero(w)
        if len(live):
            line = transform(placed[live, parent], np.broadcast_to(axis[:tree][panel - 1], (len(live), 2, 3)))
            omega = w[live, None] * unit(line[:, 1] - line[:, 0])
            turn[live, panel] += omega
            shift[live, panel] += np.cross(line[:, 0], omega)
    return turn, shift
