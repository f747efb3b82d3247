"""Block elimination of a panel network: panels are blocks, joints couple them, all candidates at once.

For a tree of panels no fill appears and the cost grows with the number of panels only; latches that close
loops add fill, kept low by eliminating the panel with the fewest neighbours first. Panels that do not touch when their
turn comes (the leaves of a tree, say) are worked together.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from synth.core.arrays import Floats, Ints


@dataclass(frozen=True)
class Plan:
    """order: panels as they are eliminated; later[p]: panels that p is coupled to when its turn comes. groups: the same
    order in parts of panels that do not wait for each other, with equally many later ones. place[p]: number of p in an
    order in which all panels that p hears of before its turn come just before it, from number first[p] on."""

    order: tuple[int, ...]
    later: tuple[tuple[int, ...], ...]
    groups: tuple[tuple[int, ...], ...]
    place: tuple[int, ...]
    first: tuple[int, ...]


@lru_cache(maxsize=1024)
def plan(panels: int, pairs: tuple[tuple[int, int], ...]) -> Plan:
    """Elimination order by least degree (ties: the highest id first), for a graph of coupled panels."""
    near: list[set[int]] = [set() for _ in range(panels)]
    for i, j in pairs:
        near[i].add(j)
        near[j].add(i)
    order, left = [], set(range(panels))
    later: list[tuple[int, ...]] = [()] * panels
    while left:
        p = min(left, key=lambda q: (len(near[q]), -q))
        left.remove(p)
        order.append(p)
        later[p] = tuple(sorted(near[p]))
        for q in near[p]:
            near[q] |= near[p] - {q}
            near[q].discard(p)
    return Plan(tuple(order), tuple(later), _groups(order, later), *_nested(order, later))


def _nested(order: Sequence[int], later: Sequence[tuple[int, ...]]) -> tuple[tuple[int, ...], tuple[int, ...]]:
    """Postorder of the elimination tree, in which the parent of a panel is the next of its later ones."""
    turn = {p: k for k, p in enumerate(order)}
    below: dict[int, list[int]] = {p: [] for p in order}
    tops: list[int] = []
    for p in order:
        (below[min(later[p], key=turn.__getitem__)] if later[p] else tops).append(p)
    place, first = [0] * len(order), [0] * len(order)
    count = 0
    waiting = [(p, False) for p in reversed(tops)]
    while waiting:
        p, done = waiting.pop()
        if done:
            place[p], count = count, count + 1
        else:
            first[p] = count
            waiting += [(p, True), *((q, False) for q in reversed(below[p]))]
    return tuple(place), tuple(first)


def _groups(order: Sequence[int], later: Sequence[tuple[int, ...]]) -> tuple[tuple[int, ...], ...]:
    level = dict.fromkeys(order, 0)
    for p in order:
        for q in later[p]:
            level[q] = max(level[q], level[p] + 1)
    found: dict[tuple[int, int], list[int]] = {}
    for p in order:
        found.setdefault((level[p], len(later[p])), []).append(p)
    return tuple(tuple(sorted(found[key])) for key in sorted(found))


Blocks = dict[tuple[int, int], Floats]
"""Blocks [B, n_p, n_q] of a symmetric matrix by panel pair: all (p, p), and (p, q) with p > q where coupled."""


def _t(a: Floats) -> Floats:
    return np.swapaxes(a, -1, -2)


def inverse_factor(matrix: Floats) -> Floats:
    """C^-1 of positive definite matrices [..., n, n] with C their Cholesky factor. Raises LinAlgError for others."""
    factor: Floats = np.asarray(np.linalg.cholesky(matrix), dtype=np.float64)
    if factor[..., 0, 0].size >= MANY:
        inverse = np.zeros(factor.shape)
        _invert(factor, inverse)
        return inverse
    # the inverse of an upper triangle takes no pivoting, so this is plain back substitution
    return _t(np.asarray(np.linalg.inv(_t(factor)), dtype=np.float64))


MANY = 32
"""From so many matrices on a triangle is inverted by halves over all of them: products of blocks take a third of the
time of the general inverse a matrix, but a fixed time a call."""


def _invert(factor: Floats, inverse: Floats) -> None:
    """Writes the inverse of lower triangles [..., n, n] into zeros: [[A, 0], [B, C]] has -C^-1 B A^-1 below."""
    n = factor.shape[-1]
    if n == 1:
        np.divide(1.0, factor, out=inverse)
        return
    if n == 2:
        a, b, c = factor[..., 0, 0], factor[..., 1, 0], factor[..., 1, 1]
        inverse[..., 0, 0], inverse[..., 1, 1] = 1.0 / a, 1.0 / c
        inverse[..., 1, 0] = -b * inverse[..., 0, 0] * inverse[..., 1, 1]
        return
    k = n // 2
    _invert(factor[..., :k, :k], inverse[..., :k, :k])
    _invert(factor[..., k:, k:], inverse[..., k:, k:])
    np.negative(inverse[..., k:, k:] @ (factor[..., k:, :k] @ inverse[..., :k, :k]), out=inverse[..., k:, :k])


Places = Ints | slice
"""Numbers along an axis, as a slice where they follow each other: that takes no copy."""


def _places(numbers: Sequence[int]) -> Places:
    first, last = numbers[0], numbers[-1]
    if tuple(numbers) == tuple(range(first, last + 1)):
        return slice(first, last + 1)
    return np.array(numbers, dtype=np.int64)


@dataclass(frozen=True, eq=False)
class _Part:
    """Panels eliminated together, [B, G, ...]: inverse of the pivot block, back = inverse times the coupling to the
    later panels of each; where each later panel's part begins. bunches: those of the panels that share their later
    ones, as places in the part, with these."""

    panels: tuple[int, ...]
    inverse: Floats
    back: Floats | None = None
    start: tuple[int, ...] = ()
    bunches: tuple[tuple[Places, tuple[int, ...]], ...] = ()

    def rows_of(self, values: Floats, which: Places) -> Floats:
        """Rows of a bunch's panels one below the other: [B, g n, C] of [B, G, n, C]."""
        some = values[:, which]
        return some.reshape(len(some), -1, some.shape[-1])


class Elimination:
    """Block Cholesky factors of a positive definite matrix K; the blocks given are not changed.

    Cholesky rather than inverse pivots: stiff springs between free panels cancel to nothing, and only so the
    rounding stays at the unit round-off times the stiffest spring. Raises LinAlgError where K is not positive definite.
    """

    def __init__(self, steps: Plan, blocks: Blocks) -> None:
        self.steps = steps
        self.size = {p: blocks[p, p].shape[-1] for p in steps.order}
        self.parts: list[_Part] = []
        work = dict(blocks)
        for group in self._alike():
            root = inverse_factor(_stacked([work[p, p] for p in group]))
            inverse = _t(root) @ root
            if not steps.later[group[0]]:
                self.parts.append(_Part(group, inverse))
                continue
            sizes = [self.size[q] for q in steps.later[group[0]]]
            start = (0, *np.cumsum(sizes).tolist())
            beside = root @ _t(_stacked([self._column(work, p) for p in group]))
            part = _Part(group, inverse, _t(root) @ beside, start, self._bunches(group))
            self.parts.append(part)
            for which, later in part.bunches:
                below = part.rows_of(beside, which)
                self._subtract(work, later, start, _t(below) @ below)

    def _alike(self) -> list[tuple[int, ...]]:
        """Groups of the plan, split where blocks differ in size."""
        later, found = self.steps.later, []
        for group in self.steps.groups:
            by: dict[tuple[int, ...], list[int]] = {}
            for p in group:
                by.setdefault(tuple(self.size[q] for q in (p, *later[p])), []).append(p)
            found += [tuple(panels) for panels in by.values()]
        return found

    def _bunches(self, group: tuple[int, ...]) -> tuple[tuple[Places, tuple[int, ...]], ...]:
        by: dict[tuple[int, ...], list[int]] = {}
        for k, p in enumerate(group):
            by.setdefault(self.steps.later[p], []).append(k)
        return tuple((_places(k), later) for later, k in by.items())

    def _column(self, work: Blocks, p: int) -> Floats:
        """Blocks below the diagonal of column p, stacked."""
        own = work[p, p]
        parts = []
        for q in self.steps.later[p]:
            block = work.get((q, p)) if q > p else work.get((p, q))
            if block is None:
                parts.append(np.zeros((len(own), work[q, q].shape[-1], own.shape[-1])))
            else:
                parts.append(block if q > p else _t(block))
        return _joined(parts)

    def _subtract(self, work: Blocks, later: tuple[int, ...], start: tuple[int, ...], update: Floats) -> None:
        """Takes an update [B, S, S] from the blocks of later panels."""
        for a, q in enumerate(later):
            for b, r in enumerate(later[: a + 1]):
                part = update[:, start[a] : start[a + 1], start[b] : start[b + 1]]
                work[q, r] = work[q, r] - part if (q, r) in work else -part

    def solve(self, load: Floats) -> Floats:
        """K^-1 of loads [B, P, N, R]; freedoms beyond the size of a panel's block do not move."""
        work = load.copy()
        alone: list[Floats] = []
        for part in self.parts:
            here = work[:, _places(part.panels), : part.inverse.shape[-1]]
            alone.append(part.inverse @ here)
            if part.back is None:
                continue
            for which, later in part.bunches:
                push = _t(part.rows_of(part.back, which)) @ part.rows_of(here, which)
                for a, q in enumerate(later):
                    work[:, q, : self.size[q]] -= push[:, part.start[a] : part.start[a + 1]]
        full = all(n == load.shape[2] for n in self.size.values())
        found = np.empty_like(work) if full else np.zeros_like(work)
        for part, own in zip(reversed(self.parts), reversed(alone), strict=True):
            if part.back is not None:
                for which, later in part.bunches:
                    beyond = _joined([found[:, q, : self.size[q]] for q in later])
                    moved = part.rows_of(part.back, which) @ beyond
                    own[:, which] -= moved.reshape(len(moved), -1, own.shape[2], own.shape[3])
            found[:, _places(part.panels), : own.shape[2]] = own
        return found

    def respond(self, load: Mapping[int, Floats], columns: Mapping[int, Ints], count: int) -> dict[int, Floats]:
        """K^-1 load for many loads, each of which touches few panels: [B, n_p, count] by panel.

        load[p] [B, n_p, c_p] holds the columns[p] (rising) of the `count` columns that are not zero on panel p.
        """
        rank, ranges = self._ranges(columns, count)
        found = self._moved(*self._carried(load, columns, rank, ranges), count)
        return {p: motion[..., rank] for p, motion in found.items()}

    def covariance(self, load: Mapping[int, Floats], columns: Mapping[int, Ints], count: int) -> dict[int, Floats]:
        """Blocks (p, p) [B, n_p, n_p] of K^-1 W W^T K^-1, W the loads of `respond`.

        In a tree a panel moves by what the loads do that have come to it on the way in, its own share less back times
        the motion of its later panel, and by back times what all other loads do to that one: no panel is asked for its
        response to each load.
        """
        rank, ranges = self._ranges(columns, count)
        alone, ranges = self._carried(load, columns, rank, ranges)
        if any(len(later) > 1 for later in self.steps.later):
            return {p: motion @ _t(motion) for p, motion in self._moved(alone, ranges, count).items()}
        moved: dict[int, Floats] = {}
        found: dict[int, Floats] = {}
        for part in reversed(self.parts):
            for k, p in enumerate(part.panels):
                if part.back is None:
                    moved[p] = alone[p]
                    found[p] = moved[p] @ _t(moved[p])
                    continue
                back, (q,) = part.back[:, k], self.steps.later[p]
                beyond = moved[q][..., ranges[p][0] - ranges[q][0] : ranges[p][1] - ranges[q][0]]
                moved[p] = alone[p] - back @ beyond
                rest = found[q] - beyond @ _t(beyond)
                found[p] = moved[p] @ _t(moved[p]) + back @ rest @ _t(back)
        return found

    def _ranges(self, columns: Mapping[int, Ints], count: int) -> tuple[Ints, dict[int, tuple[int, int]]]:
        """New numbers [count] of the columns, such that those that come to a panel on the way in are a range of them,
        and that range. All of them where a column touches panels that do not hear of each other."""
        place, first = self.steps.place, self.steps.first
        key = np.full(count, len(place), dtype=np.int64)
        for p, mine in columns.items():
            key[mine] = np.minimum(key[mine], place[p])
        rank = np.empty(count, dtype=np.int64)
        rank[np.argsort(key, kind="stable")] = np.arange(count)
        nested = all((key[mine] >= first[p]).all() for p, mine in columns.items())
        if not nested:
            return rank, dict.fromkeys(columns, (0, count))
        rising = np.sort(key)
        low = np.searchsorted(rising, [first[p] for p in columns]).tolist()
        high = np.searchsorted(rising, [place[p] for p in columns], side="right").tolist()
        return rank, dict(zip(columns, zip(low, high, strict=True), strict=True))

    def _carried(
        self, load: Mapping[int, Floats], columns: Mapping[int, Ints], rank: Ints, ranges: dict[int, tuple[int, int]]
    ) -> tuple[dict[int, Floats], dict[int, tuple[int, int]]]:
        """Each panel's motion with its later panels at rest, for the columns that have come to it; their ranges."""
        work: dict[int, Floats] = {}
        fed = {q for later in self.steps.later for q in later}
        for p, own in load.items():
            low, high = ranges[p]
            if p not in fed and own.shape[-1] == high - low and (rank[columns[p]] == np.arange(low, high)).all():
                work[p] = own
                continue
            work[p] = np.zeros((*own.shape[:2], high - low))
            work[p][..., _range(rank[columns[p]] - low)] = own
        alone: dict[int, Floats] = {}
        for part in self.parts:
            for k, p in enumerate(part.panels):
                alone[p] = part.inverse[:, k] @ work[p]
                if part.back is None:
                    continue
                push, low, high = _t(part.back[:, k]) @ work[p], *ranges[p]
                for a, q in enumerate(self.steps.later[p]):
                    work[q][..., low - ranges[q][0] : high - ranges[q][0]] -= push[:, part.start[a] : part.start[a + 1]]
        return alone, ranges

    def _moved(
        self, alone: Mapping[int, Floats], ranges: Mapping[int, tuple[int, int]], count: int
    ) -> dict[int, Floats]:
        """Motions [B, n_p, count] for all columns."""
        found: dict[int, Floats] = {}
        for part in reversed(self.parts):
            for k, p in enumerate(part.panels):
                found[p] = np.zeros((*alone[p].shape[:2], count))
                if part.back is not None:
                    np.matmul(-part.back[:, k], _joined([found[q] for q in self.steps.later[p]]), out=found[p])
                found[p][..., ranges[p][0] : ranges[p][1]] += alone[p]
        return found


def _range(columns: Ints) -> Ints | slice:
    """Numbers in their order, as a slice where each is the next of the one before: far cheaper to write to."""
    if len(columns) and columns[-1] - columns[0] + 1 == len(columns) and (columns[1:] > columns[:-1]).all():
        return slice(int(columns[0]), int(columns[-1]) + 1)
    return columns


def _joined(parts: list[Floats]) -> Floats:
    return parts[0] if len(parts) == 1 else np.concatenate(parts, axis=-2)


def _stacked(parts: list[Floats]) -> Floats:
    """[B, G, ...] of G arrays [B, ...]."""
    return parts[0][:, None] if len(parts) == 1 else np.stack(parts, axis=1)
