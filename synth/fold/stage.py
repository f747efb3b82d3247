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
    """Rigid parts of one stage. part [P]: rigid part of each panel; start [P, 3, 4]: poses at its start;
    moving [M]: hinges that move."""

    stage: int
    part: Ints
    start: Floats
    moving: Ints


@dataclass(frozen=True, eq=False)
class Tables:
    """What bounds the relative motion of ordered pairs of panels in each stage, [K, P, P] each.

    hops: moving hinges between; entry: the last of them (the one next to the second panel);
    parallel: whether all between are; base and slope: |y''| <= base + slope * distance from the
    entry line (from its middle where not parallel).
    """

    hops: Ints
    entry: Ints
    parallel: Bools
    base: Floats
    slope: Floats

    @staticmethod
    def empty(stages: int, panels: int) -> "Tables":
        shape = (stages, panels, panels)
        hops, entry = np.zeros(shape, dtype=np.int64), np.full(shape, NO_HINGE)
        return Tables(hops, entry, np.ones(shape, dtype=bool), np.zeros(shape), np.zeros(shape))


def parts_of(
    topology: Topology,
    axis: Floats,
    rate: Floats,
    start: Floats,
    slide: Floats | None = None,
    length: Floats | None = None,
) -> tuple[tuple[Parts, ...], Tables]:
    """Parts of K stages: axis [K, H, 2, 3] and rate [K, H] of the tree hinges, start [K, P, 3, 4] poses at their start.

    slide [K, H]: speeds of the middles of the lines past both leaves, in stages of length [K] of s; none: all zero.
    axis is then told in the coordinates of the first leaf at the start of the stage.
    """
    slide = np.zeros_like(rate) if slide is None else slide
    length = np.zeros(len(rate)) if length is None else length
    moves = (rate != 0.0) | (slide != 0.0)
    alike: dict[bytes, list[int]] = {}
    for stage, row in enumerate(moves):
        alike.setdefault(row.tobytes(), []).append(stage)
    found: dict[int, Parts] = {}
    tables = Tables.empty(len(rate), topology.panels)
    for stages in alike.values():
        k, moving = np.array(stages), np.flatnonzero(moves[stages[0]])
        part = np.zeros(topology.panels, dtype=np.int64)
        number = {int(h): c + 1 for c, h in enumerate(moving)}
        for panel in range(1, topology.panels):
            part[panel] = number.get(panel - 1, part[topology.parent[panel]])
        head = topology.parent[moving + 1]
        lines = transform(start[k[:, None], head], axis[k[:, None], moving])
        ways = _Ways(part[head], lines, rate[k][:, moving].T, slide[k][:, moving].T, length[k])
        ways.tell(tables, k, part, moving)
        found.update({stage: Parts(stage, part, start[stage], moving) for stage in stages})
    return tuple(found[stage] for stage in range(len(rate))), tables


class _Ways:
    """Ways between the C = M + 1 parts of G stages in which the same M hinges move, and what gathers along them.

    Part k + 1 hangs by moving hinge k on part before[k], which has a lower number. State of the way from a part to
    another, [to, from] or [to, from, G]: last hinge (M at its beginning), hops, signed and total turn rate, slide of
    the last joint, whether all lines are parallel, bounds across them and free.
    """

    def __init__(self, before: Ints, lines: Floats, speed: Floats, slide: Floats, length: Floats) -> None:
        """before [M]; lines [G, M, 2, 3]; speed, slide [M, G]; length [G]."""
        count, stages = len(before), len(length)
        self.before, self.speed, self.slide, self.length = before, speed, slide, length
        self.last = np.full((count + 1, count + 1), count)
        self.hops = np.zeros((count + 1, count + 1), dtype=np.int64)
        shape = (count + 1, count + 1, stages)
        self.parallel = np.ones(shape, dtype=bool)
        self.signed, self.total, self.slid, self.across, self.free = (np.zeros(shape) for _ in range(5))
        self.facing, self.same, self.apart, self.aside = _between(lines)
        below = np.eye(count + 1, dtype=bool)
        for k in reversed(range(count)):
            below[before[k]] |= below[k + 1]
        # upwards from the parts farthest out, then downwards to all that hang elsewhere
        for k in reversed(range(count)):
            self._step(k, k + 1, int(before[k]), np.flatnonzero(below[k + 1]), -1.0)
        for k in range(count):
            self._step(k, int(before[k]), k + 1, np.flatnonzero(~below[k + 1]), 1.0)

    def _step(self, k: int, here: int, there: int, first: Ints, sign: float) -> None:
        """Ways from parts `first` go on from part here to part there by hinge k."""
        e, w, u = self.last[here, first], self.speed[k] * sign, self.slide[k]
        signed, total = self.signed[here, first], self.total[here, first]
        reach = self.apart[e, k] + (self.slid[here, first] + u) * self.length
        self.last[there, first], self.hops[there, first] = k, self.hops[here, first] + 1
        self.signed[there, first] = signed * self.facing[e, k] + w
        self.total[there, first] = total + np.abs(w)
        self.slid[there, first] = u
        self.parallel[there, first] = self.parallel[here, first] & self.same[e, k] & (u == 0.0)
        self.across[there, first] = self.across[here, first] + signed**2 * self.aside[e, k]
        more = 1.5 * total**2 * reach + (2.0 * total + np.abs(w)) * u
        self.free[there, first] = self.free[here, first] + more

    def tell(self, tables: Tables, stage: Ints, part: Ints, moving: Ints) -> None:
        """Writes the rows [G] of the tables, told for panels whose rigid parts are part [P]."""
        strays = 1.5 * self.total**2 * self.slid * self.length
        base = np.where(self.parallel, self.across, self.free + strays)
        slope = np.where(self.parallel, self.signed**2, 1.5 * self.total**2)
        first, second = part[:, None], part[None, :]
        tables.hops[stage] = self.hops[second, first]
        tables.entry[stage] = np.append(moving, NO_HINGE)[self.last[second, first]]
        for name, told in (("parallel", self.parallel), ("base", base), ("slope", slope)):
            getattr(tables, name)[stage] = np.moveaxis(told[second, first], -1, 0)


def _between(lines: Floats) -> tuple[Floats, Bools, Floats, Floats]:
    """For moving hinge lines [G, M, 2, 3] and a next one, [M + 1, M, G]: sign of their directions, parallel, distance
    of middles, the same across the first; the last row stands for no hinge before."""
    middle, way = lines.mean(axis=-2), unit(lines[..., 1, :] - lines[..., 0, :])
    sign = np.sign(way @ np.swapaxes(way, -1, -2))
    same = np.linalg.norm(way[:, :, None] - sign[..., None] * way[:, None], axis=-1) < SAME_WAY
    offset = middle[:, :, None] - middle[:, None]
    apart = np.linalg.norm(offset, axis=-1)
    along = dot(offset, np.broadcast_to(way[:, :, None], offset.shape))
    across = np.linalg.norm(offset - along[..., None] * way[:, :, None], axis=-1)
    stages, count = lines.shape[:2]

    def told(pairs: np.ndarray, alone: float) -> np.ndarray:
        return np.concatenate([np.moveaxis(pairs, 0, -1), np.full((1, count, stages), alone, dtype=pairs.dtype)])

    return told(sign, 1.0), told(same, 1.0), told(apart, 0.0), told(across, 0.0)


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
