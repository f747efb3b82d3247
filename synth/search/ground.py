"""What a front leaves to be won, and which of many foretold rows to put forward."""

from functools import cache

import numpy as np
from numpy.typing import NDArray

from synth.core.arrays import Bools, Floats, Ints
from synth.search.foresight import Foretold

Singles = NDArray[np.float32]

SPREAD = 1024
"""Points that stand for the box in which hypervolume is counted."""
LEAST = 0.005
"""Least chance to hold that a row is given beside a front: margins that are foretold to fail often fail together."""
LEAD = 0.1
"""Weight of a point's lead over the front beside the hypervolume that it is expected to add."""
LAG = 0.01
"""Weight of how far a foretold point lies behind the front."""
AMONG = 4
"""A batch is picked among so many times its rows, those that promise most alone."""


class Ground:
    """What a front [m, M] of scaled points leaves to be won: points spread over the unit box that no member dominates.

    The share of them that a point dominates estimates the hypervolume that it would add (Monte Carlo over a fixed
    additive recurrence: Roberts 2018's generalised golden ratio; error about 1 / sqrt(SPREAD)). A foretold point
    dominates each with a chance: its objectives are taken as independent, each even over sqrt(3) standard errors to
    both sides. The sum of the chances is the expected hypervolume improvement (Emmerich 2005 took normal errors; even
    ones cost a tenth of the time).
    """

    def __init__(self, front: Floats, objectives: int) -> None:
        self.front = front
        spread = _box(objectives)
        if len(front):
            spread = spread[~_dominate(front, spread).any(axis=0)]
        self.left = spread

    def worth(self, told: Foretold) -> Floats:
        """[n]: what foretold points promise: hypervolume expected to be added, with a little for the lead over the
        front that decides where the share is below what the spread resolves, times the chance that the row holds;
        less a little for what lies behind the front."""
        return _weighed(self.won(told).sum(axis=1) / SPREAD, self._room(told), self._chance(told))

    def won(self, told: Foretold) -> Singles:
        """[n, left]: chance that each point dominates each point of what is left."""
        steep = 0.5 / np.maximum(np.sqrt(3.0) * told.error, 1e-9)
        start, slope = (0.5 - steep * told.points).astype(np.float32), steep.astype(np.float32)
        left = self.left.astype(np.float32)
        found = np.ones((len(told), len(left)), dtype=np.float32)
        for k in range(told.points.shape[1]):
            part = slope[:, k, None] * left[:, k]
            part += start[:, k, None]
            found *= np.clip(part, 0.0, 1.0, out=part)
        return found

    def best(self, told: Foretold, rows: int, worth: Floats | None = None) -> Ints:
        """Which `rows` of foretold points promise most, best first, each with the earlier ones taken in: what those are
        expected to win is no longer left. worth [n]: of each alone, where it is known."""
        some = np.arange(len(told))
        if len(told) > AMONG * rows:
            # what promises little alone promises no more beside the earlier choices
            alone = self.worth(told) if worth is None else worth
            some = np.argsort(-alone, kind="stable")[: AMONG * rows]
        few = told.take(some)
        return np.asarray(some[_greedy(few.points, self._chance(few), self.won(few), self._room(few), rows)])

    def _room(self, told: Foretold) -> Floats:
        return _lead(told.points, self.front) if len(self.front) else np.ones(len(told))

    def _chance(self, told: Foretold) -> Floats:
        # without a front the row nearest to holding is wanted, however far off
        return np.maximum(told.chance, LEAST if len(self.front) else 1e-12)


def _greedy(points: Floats, chance: Floats, won: Singles, room: Floats, rows: int) -> Ints:
    chosen: list[int] = []
    left = np.full(won.shape[1], 1.0 / SPREAD)
    for _ in range(min(rows, len(points))):
        worth = _weighed(won @ left, room, chance)
        worth[chosen] = -np.inf
        k = int(worth.argmax())
        chosen.append(k)
        room = np.minimum(room, (points[k] - points).max(axis=1))
        left = left * (1.0 - chance[k] * won[k])
    return np.array(chosen, dtype=np.int64)


def _weighed(won: Floats, room: Floats, chance: Floats) -> Floats:
    return np.asarray((won + LEAD * np.maximum(room, 0.0)) * chance + LAG * np.minimum(room, 0.0))


def _dominate(points: Floats, others: Floats) -> Bools:
    """[n, m]: which of the others each point is at most as great as in everything."""
    found = points[:, None, 0] <= others[None, :, 0]
    for k in range(1, points.shape[1]):
        found &= points[:, None, k] <= others[None, :, k]
    return np.asarray(found)


@cache
def _box(objectives: int) -> Floats:
    """[SPREAD, M] points evenly spread over the unit box."""
    root = 2.0
    for _ in range(60):  # the root of x^(M + 1) = x + 1
        root = (1.0 + root) ** (1.0 / (objectives + 1))
    step = root ** -np.arange(1, objectives + 1)
    return np.asarray((0.5 + np.arange(1, SPREAD + 1)[:, None] * step) % 1.0)


def _lead(points: Floats, front: Floats) -> Floats:
    """[n]: how far each point could be worsened in all objectives until a member dominates it (the maximin improvement
    of Balling 2003): the least over the front of the greatest lead in any objective."""
    lead = front[None, :, 0] - points[:, None, 0]
    for k in range(1, points.shape[1]):
        np.maximum(lead, front[None, :, k] - points[:, None, k], out=lead)
    return np.asarray(lead.min(axis=1))
