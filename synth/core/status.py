"""Why a candidate is not a design: short sentences, carried beside the numbers.

A bad candidate never raises and never carries NaN: it gets a status and a residual
(>= 0 where all is well; the farther below zero the worse) so that a search keeps a slope.
"""

from dataclasses import dataclass

import numpy as np

from synth.core.arrays import Bools, Column, Ints

OK = ""


@dataclass(frozen=True, eq=False)
class Status:
    """reason [B]: an empty text or one sentence; residual [B]: least normalised slack, below zero where failed."""

    reason: np.ndarray
    residual: Column

    @staticmethod
    def fine(rows: int) -> "Status":
        return Status(np.full(rows, OK, dtype=object), np.zeros(rows))

    @property
    def ok(self) -> Bools:
        return np.asarray(self.residual >= 0.0)

    def require(self, slack: Column, reason: str) -> "Status":
        """Adds the condition slack >= 0 (normalised; about -1: fully violated); the first failure keeps its words."""
        holds = (slack >= 0.0) & (slack < np.inf)
        if holds.all():
            return self
        slack = np.where(np.isfinite(slack), slack, -10.0)
        fails = ~holds
        words = np.where(fails & (self.reason == OK), reason, self.reason)
        return Status(words.astype(object), np.where(fails, np.minimum(self.residual, slack), self.residual))

    def also(self, other: "Status") -> "Status":
        """Both sets of conditions; the first failure keeps its words."""
        if other.ok.all():
            return self
        words = np.where(self.reason == OK, other.reason, self.reason).astype(object)
        return Status(words, np.minimum(self.residual, other.residual))

    def at(self, rows: Ints, count: int) -> "Status":
        """This status put at `rows` of a batch of `count`, all else fine."""
        out = Status.fine(count)
        out.reason[rows], out.residual[rows] = self.reason, self.residual
        return out
