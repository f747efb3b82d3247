"""A made-up problem with any number of objectives, for the cost of the driver."""

import time
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from synth.core.arrays import Bools, Floats
from synth.search.types import Goals, Scores, Task
from tests.search.toys import ToyCell

COLUMNS = 12


@dataclass(frozen=True)
class Bowl:
    """Twelve columns, M objectives on a sphere whose radius depends on the cell; three envelopes."""

    objectives: int
    delay_s: float = 0.0

    @property
    def goals(self) -> Goals:
        ones = np.ones((3, self.objectives))
        return Goals(("a", "b", "c"), 0.0 * ones, 2.5 * ones)


def work(bowl: Bowl, task: Task) -> Scores:
    """Objectives on a sphere of radius 1 + distance of the other columns from the cell's own optimum."""
    if bowl.delay_s:
        time.sleep(bowl.delay_s * len(task.X))
    m = bowl.objectives
    X, best = task.X, 0.2 + 0.06 * task.cell.n
    radius = 1.0 + ((X[:, m - 1 :] - best) ** 2).sum(axis=1) + 0.02 * abs(task.cell.n - 5)
    angle = 0.5 * np.pi * X[:, : m - 1]
    f = np.repeat(radius[:, None], m, axis=1)
    for k in range(m):
        f[:, k] *= np.prod(np.cos(angle[:, : m - 1 - k]), axis=1)
        if k:
            f[:, k] *= np.sin(angle[:, m - 1 - k])
    violation = np.maximum(np.array([1.6, 1.8, 2.0])[None] * 0.7 - X[:, -1:] - 0.5, 0.0)
    verified = np.ones(len(X), dtype=bool) if task.level == "verify" else None
    return Scores(np.repeat(f[:, None], 3, axis=1), violation, np.full(len(X), "", dtype=object), None, verified)


class BowlEvaluator:
    """Driver's side: cells of two families with counts 2 to 9."""

    def __init__(self, objectives: int) -> None:
        self.objectives = objectives

    def cells(self) -> Sequence[Any]:
        return [ToyCell(f, n) for f in ("fan", "roll") for n in range(2, 8)]

    def relatives(self, cell: ToyCell, rng: np.random.Generator) -> Sequence[Any]:
        return [ToyCell(cell.family, n) for n in (cell.n - 1, cell.n + 1) if 2 <= n <= 9]

    def names(self, cell: ToyCell) -> tuple[str, ...]:
        return tuple(f"x{k}" for k in range(COLUMNS))

    def nominal(self, cell: ToyCell) -> Bools:
        return np.zeros(COLUMNS, dtype=bool)

    def traits(self, cell: ToyCell) -> tuple[Floats, Bools]:
        return np.array([float(cell.n)]), np.zeros(1, dtype=bool)

    def lacking(self) -> Bools:
        return np.zeros(self.objectives, dtype=bool)

    def snap(self, cell: ToyCell, X: Floats) -> Floats:
        return np.clip(X, 0.0, 1.0)

    def open(self, cell: ToyCell) -> Bools:
        return np.ones(3, dtype=bool)

    def cost(self, cell: ToyCell) -> float:
        return 1.0
