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
    order in parts of panels that do not wait for each other, with equally many later ones."""

    order: tuple[int, ...]
    later: tuple[tuple[int, ...], ...]
    groups: tuple[tuple[int, ...], ...]


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
    return Plan(tuple(order), tuple(later), _groups(order, later))


def _groups(order: Sequence[int], later: Sequence[tuple[int, ...]]) -> tuple[tuple[int, ...], ...]:
    level = dict.fromkeys(order, 0)
    for p in order:
        for q in later[p]:
            level[q] = max(level[q], level[p] + 1)
    found: dict[tuple[int, int], list[int]] = {}
    for p in order:
        found.setdefault((level[p], len(later[p])), []).append(p)
    return tuple(tuple(found[key]) for key in sorted(found))


Blocks = dict[tuple[int, int], Floats]
"""Blocks [B, n_p, n_q] of a symmetric matrix by panel pair: all (p, p), and (p, q) with p > q where coupled."""


def _t(a: Floats) -> Floats:
    return np.swapaxes(a, -1, -2)


def inverse_factor(matrix: Floats) -> Floats:
    """C^-1 of positive definite matrices [..., n, n] with C their Cholesky factor. Raises LinAlgError for others."""
    factor: Floats = np.asarray(np.linalg.cholesky(matrix), dtype=np.float64)
    # the inverse of an upper triangle takes no pivoting, so this is plain back substitution
    return _t(np.asarray(np.linalg.inv(_t(factor)), dtype=np.float64))


@dataclass(frozen=True, eq=False)
class _Part:
    """Panels eliminated together, [B, G, ...]: inverse of the pivot block, back = inverse times the coupling to the
    later panels of each; where each later panel's part begins."""

    panels: tuple[int, ...]
    inverse: Floats
    back: Floats | None = None
    start: tuple[int, ...] = ()


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
            self.parts.append(_Part(group, inverse, _t(root) @ beside, start))
            update = _t(beside) @ beside
            for k, p in enumerate(group):
                self._subtract(work, p, start, update[:, k])

    def _alike(self) -> list[tuple[int, ...]]:
        """Groups of the plan, split where blocks differ in size."""
        later, found = self.steps.later, []
        for group in self.steps.groups:
            by: dict[tuple[int, ...], list[int]] = {}
            for p in group:
                by.setdefault(tuple(self.size[q] for q in (p, *later[p])), []).append(p)
            found += [tuple(panels) for panels in by.values()]
        return found

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

    def _subtract(self, work: Blocks, p: int, start: tuple[int, ...], update: Floats) -> None:
        """Takes an update [B, S, S] from the blocks of the panels that come later than p."""
        later = self.steps.later[p]
        for a, q in enumerate(later):
            for b, r in enumerate(later[: a + 1]):
                part = update[:, start[a] : start[a + 1], start[b] : start[b + 1]]
                work[q, r] = work[q, r] - part if (q, r) in work else -part

    def solve(self, load: Mapping[int, Floats]) -> dict[int, Floats]:
        """K^-1 load, each [B, n_p, R] by panel."""
        work, later = dict(load), self.steps.later
        alone: list[Floats] = []
        for part in self.parts:
            here = _stacked([work[p] for p in part.panels])
            alone.append(part.inverse @ here)
            if part.back is not None:
                push = _t(part.back) @ here
                for k, p in enumerate(part.panels):
                    for a, q in enumerate(later[p]):
                        work[q] = work[q] - push[:, k, part.start[a] : part.start[a + 1]]
        found: dict[int, Floats] = {}
        for part, own in zip(reversed(self.parts), reversed(alone), strict=True):
            if part.back is not None:
                own = own - part.back @ _stacked([_joined([found[q] for q in later[p]]) for p in part.panels])
            found.update({p: own[:, k] for k, p in enumerate(part.panels)})
        return found

    def respond(self, load: Mapping[int, Floats], columns: Mapping[int, Ints], count: int) -> dict[int, Floats]:
        """K^-1 load for many loads, each of which touches few panels: [B, n_p, count] by panel.

        load[p] [B, n_p, c_p] holds the columns[p] (rising) of the `count` columns that are not zero on panel p.
        """
        alone, active = self._carried(load, columns)
        found: dict[int, Floats] = {}
        for part in reversed(self.parts):
            for k, p in enumerate(part.panels):
                found[p] = np.zeros((*alone[p].shape[:2], count))
                if part.back is not None:
                    np.matmul(-part.back[:, k], _joined([found[q] for q in self.steps.later[p]]), out=found[p])
                found[p][..., _range(active[p])] += alone[p]
        return found

    def covariance(self, load: Mapping[int, Floats], columns: Mapping[int, Ints]) -> dict[int, Floats]:
        """Blocks (p, p) [B, n_p, n_p] of K^-1 W W^T K^-1, W the loads of `respond`.

        A panel moves by what the loads do that have come to it on the way in, its own share less back times the motion
        of its later panels, and by back times what all other loads do to those: no panel is asked for its response to
        each load. Exact, loops too, for the later panels of a panel are later panels of each other.
        """
        alone, active = self._carried(load, columns)
        both = {(q, r) for later in self.steps.later for q in later for r in later if q != r}
        moved: dict[int, Floats] = {}
        found: dict[tuple[int, int], Floats] = {}
        for part in reversed(self.parts):
            for k, p in enumerate(part.panels):
                later, own = self.steps.later[p], alone[p]
                if part.back is None:
                    moved[p], found[p, p] = own, own @ _t(own)
                    continue
                back = part.back[:, k]
                mine = [moved[q][..., _range(np.searchsorted(active[q], active[p]))] for q in later]
                beyond = _joined(mine)
                moved[p] = own - back @ beyond
                rest = back @ (_square(found, later) - beyond @ _t(beyond))
                found[p, p] = moved[p] @ _t(moved[p]) + rest @ _t(back)
                for a, q in enumerate(later):
                    if (p, q) in both:
                        found[p, q] = moved[p] @ _t(mine[a]) - rest[..., part.start[a] : part.start[a + 1]]
        return {p: found[p, p] for p in self.steps.order}

    def _carried(
        self, load: Mapping[int, Floats], columns: Mapping[int, Ints]
    ) -> tuple[dict[int, Floats], dict[int, Ints]]:
        """Each panel's motion with its later panels at rest, for the columns that have come to it; those columns."""
        work, active = dict(load), dict(columns)
        alone: dict[int, Floats] = {}
        for part in self.parts:
            for k, p in enumerate(part.panels):
                alone[p] = part.inverse[:, k] @ work[p]
                if part.back is None:
                    continue
                push = _t(part.back[:, k]) @ work[p]
                for a, q in enumerate(self.steps.later[p]):
                    both = np.union1d(active[q], active[p])
                    wider = np.zeros((*work[q].shape[:2], len(both)))
                    wider[..., _range(np.searchsorted(both, active[q]))] = work[q]
                    wider[..., _range(np.searchsorted(both, active[p]))] -= push[:, part.start[a] : part.start[a + 1]]
                    work[q], active[q] = wider, both
        return alone, active


def _square(found: Mapping[tuple[int, int], Floats], panels: tuple[int, ...]) -> Floats:
    """Covariance [B, n, n] of the motions of these panels together, from blocks either way round."""
    if len(panels) == 1:
        return found[panels[0], panels[0]]
    rows = [[found[p, q] if (p, q) in found else _t(found[q, p]) for q in panels] for p in panels]
    return np.concatenate([np.concatenate(row, axis=-1) for row in rows], axis=-2)


def _range(columns: Ints) -> Ints | slice:
    """Rising numbers, as a slice where none is left out: far cheaper to write to."""
    if len(columns) and columns[-1] - columns[0] + 1 == len(columns):
        return slice(int(columns[0]), int(columns[-1]) + 1)
    return columns


def _joined(parts: list[Floats]) -> Floats:
    return parts[0] if len(parts) == 1 else np.concatenate(parts, axis=-2)


def _stacked(parts: list[Floats]) -> Floats:
    """[B, G, ...] of G arrays [B, ...]."""
    return parts[0][:, None] if len(parts) == 1 else np.stack(parts, axis=1)
