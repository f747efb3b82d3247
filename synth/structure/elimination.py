"""Block elimination of a panel network: panels are blocks, joints couple them, all candidates at once.

For a tree of panels no fill appears and the cost grows with the number of panels only; latches that close
loops add fill, kept low by eliminating the panel with the fewest neighbours first.
"""

from dataclasses import dataclass

import numpy as np

from synth.core.arrays import Floats, Ints


@dataclass(frozen=True)
class Plan:
    """order: panels as they are eliminated; later[p]: panels that p is coupled to when its turn comes."""

    order: tuple[int, ...]
    later: tuple[tuple[int, ...], ...]


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
    return Plan(tuple(order), tuple(later))


Blocks = dict[tuple[int, int], Floats]
"""Blocks [B, n_p, n_q] of a symmetric matrix by panel pair: all (p, p), and (p, q) with p > q where coupled."""


def _t(a: Floats) -> Floats:
    return np.swapaxes(a, -1, -2)


def _get(blocks: Blocks, p: int, q: int) -> Floats:
    return blocks[p, q] if p >= q else _t(blocks[q, p])


class Elimination:
    """Block Cholesky factors of a positive definite matrix K; the blocks given are not changed.

    root[p] = C^-1 with C the Cholesky factor of the pivot block, beside[p] = C^-1 times the coupling to later panels.
    Cholesky rather than inverse pivots: stiff springs between free panels cancel to nothing, and only so the
    rounding stays at the unit round-off times the stiffest spring. Raises LinAlgError where K is not positive definite.
    """

    def __init__(self, steps: Plan, blocks: Blocks) -> None:
        self.steps = steps
        self.start: dict[int, list[int]] = {}
        self.root: dict[int, Floats] = {}
        self.beside: dict[int, Floats] = {}
        work = dict(blocks)
        for p in steps.order:
            factor: Floats = np.asarray(np.linalg.cholesky(work[p, p]), dtype=np.float64)
            # the inverse of an upper triangle takes no pivoting, so this is plain back substitution
            self.root[p] = _t(np.asarray(np.linalg.inv(_t(factor)), dtype=np.float64))
            if steps.later[p]:
                self.beside[p] = self.root[p] @ _t(self._column(work, p))
                self._subtract(work, p, _t(self.beside[p]) @ self.beside[p])

    def _column(self, work: Blocks, p: int) -> Floats:
        """Blocks below the diagonal of column p, stacked."""
        size = {q: work[q, q].shape[-1] for q in self.steps.later[p]}
        own = work[p, p]
        self.start[p] = [0, *np.cumsum(list(size.values())).tolist()]
        parts = []
        for q, n in size.items():
            known = (max(p, q), min(p, q)) in work
            parts.append(_get(work, q, p) if known else np.zeros((len(own), n, own.shape[-1])))
        return _joined(parts)

    def _subtract(self, work: Blocks, p: int, update: Floats) -> None:
        """Takes an update [B, S, S] from the blocks of the panels that come later than p."""
        later, start = self.steps.later[p], self.start[p]
        for a, q in enumerate(later):
            for b, r in enumerate(later[: a + 1]):
                part = update[:, start[a] : start[a + 1], start[b] : start[b + 1]]
                work[q, r] = work[q, r] - part if (q, r) in work else -part

    def solve(self, load: dict[int, Floats]) -> dict[int, Floats]:
        """K^-1 load, each [B, n_p, R] by panel."""
        work = dict(load)
        turned: dict[int, Floats] = {}
        for p in self.steps.order:
            turned[p] = self.root[p] @ work[p]
            if self.steps.later[p]:
                push, start = _t(self.beside[p]) @ turned[p], self.start[p]
                for a, q in enumerate(self.steps.later[p]):
                    work[q] = work[q] - push[:, start[a] : start[a + 1]]
        return self._back(turned)

    def _back(self, turned: dict[int, Floats]) -> dict[int, Floats]:
        found: dict[int, Floats] = {}
        for p in reversed(self.steps.order):
            rest = turned[p]
            if self.steps.later[p]:
                rest = rest - self.beside[p] @ _joined([found[q] for q in self.steps.later[p]])
            found[p] = _t(self.root[p]) @ rest
        return found

    def respond(self, load: dict[int, Floats], columns: dict[int, Ints], count: int) -> dict[int, Floats]:
        """K^-1 load for many loads, each of which touches few panels: [B, n_p, count] by panel.

        load[p] [B, n_p, c_p] holds the columns[p] (rising) of the `count` columns that are not zero on panel p. The
        forward sweep carries a column only where it has come to.
        """
        work, active = dict(load), dict(columns)
        turned: dict[int, Floats] = {}
        for p in self.steps.order:
            here = self.root[p] @ work[p]
            turned[p] = np.zeros((*here.shape[:2], count))
            turned[p][..., active[p]] = here
            if not self.steps.later[p]:
                continue
            push, start = _t(self.beside[p]) @ here, self.start[p]
            for a, q in enumerate(self.steps.later[p]):
                both = np.union1d(active[q], active[p])
                wider = np.zeros((*work[q].shape[:2], len(both)))
                wider[..., np.searchsorted(both, active[q])] = work[q]
                wider[..., np.searchsorted(both, active[p])] -= push[:, start[a] : start[a + 1]]
                work[q], active[q] = wider, both
        return self._back(turned)


def _joined(parts: list[Floats]) -> Floats:
    return parts[0] if len(parts) == 1 else np.concatenate(parts, axis=-2)
