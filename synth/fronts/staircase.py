"""The best of one objective that a front reaches for a given amount of another. Both are minimised."""

from dataclasses import dataclass

import numpy as np

from synth.core.arrays import Floats, Ints


@dataclass(frozen=True, eq=False)
class Staircase:
    """Steps of a front in two of its objectives: x [k] rising, y [k] falling, rows [k] of the front behind them.

    From x[i] on (up to x[i + 1]) the least y is y[i].
    """

    x: Floats
    y: Floats
    rows: Ints

    def at(self, x: float) -> float:
        """Least y of the points with at most this much x; infinite below the first step."""
        place = int(np.searchsorted(self.x, x * (1.0 + 1e-12) if x >= 0.0 else x * (1.0 - 1e-12), side="right"))
        return float(self.y[place - 1]) if place else float("inf")


def staircase(x: Floats, y: Floats) -> Staircase:
    """Non-dominated points of two columns [n]; of equal ones the first row. No points give no steps."""
    order = np.lexsort((np.arange(len(x)), y, x))
    least = np.minimum.accumulate(y[order]) if len(x) else y[order]
    before = np.concatenate([[np.inf], least[:-1]]) if len(x) else least
    steps = order[y[order] < before]
    return Staircase(x[steps], y[steps], np.asarray(steps, dtype=np.int64))


def stations(first: float, last: float, count: int) -> Floats:
    """[count + 1] values evenly from first to last; [0] where they do not rise."""
    return np.linspace(first, last, count + 1) if last > first else np.zeros(0)
