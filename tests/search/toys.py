"""A small made-up problem with the shape of the real one: families, cells, envelopes, cheap and settled figures.

Three families of cells (counts n = 2..9), columns "thickness", "width" and one of the family's own, every column a
grid of `levels` values, so that all designs can be listed. Larger n packs smaller but weighs more and is less flat.
Two nested envelopes: a design that is bigger than an envelope allows violates it.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from synth.core.arrays import Bools, Floats
from synth.search.types import Goals, Scores, Task

FAMILIES = ("fan", "roll", "stack")
ALLOWED = np.array([0.55, 0.9])


@dataclass(frozen=True, order=True)
class ToyCell:
    family: str
    n: int


@dataclass(frozen=True)
class Toy:
    """levels: grid values of a column; bias: how optimistic the cheap order is; refuses: cells whose path never works;
    delay_s: time an evaluated row takes."""

    levels: int = 12
    bias: float = 0.0
    refuses: tuple[tuple[str, int], ...] = ()
    impossible: bool = False
    delay_s: float = 0.0
    crash: str = ""

    @property
    def goals(self) -> Goals:
        inside = np.array([[False, True], [False, False]])
        return Goals(("small", "large"), np.zeros((2, 3)), np.array([[0.6, 3.0, 1.5], [1.0, 3.0, 1.5]]), inside)


def names(cell: ToyCell) -> tuple[str, ...]:
    return ("thickness", "width", f"{cell.family}.own")


def figures(toy: Toy, cell: ToyCell, X: Floats, settled: bool) -> tuple[Floats, Floats]:
    """objectives [n, 3] (size, mass, error) and margins [n, 2, 2] (fit of each envelope, error limit)."""
    k = FAMILIES.index(cell.family)
    t, w, own = 0.05 + X[:, 0], X[:, 1], X[:, 2]
    best = 0.15 + 0.07 * ((3 * k + cell.n) % 10)
    size = 1.1 / cell.n ** (0.6 + 0.1 * k) + 0.25 * t * (1 + k) / 2 + 0.3 * (own - best) ** 2
    mass = t * (1.0 + 0.12 * cell.n) * (1.2 - 0.1 * k) + 0.4 * w + 0.1
    error = 0.04 * cell.n ** (1.2 - 0.2 * k) / (t * (0.3 + w)) ** 0.5 + 0.3 * (own - best) ** 2
    error = error * (1.0 + toy.bias * (1 + k) / 3) if settled else error
    limit = -1.0 if toy.impossible else 1.0
    fit = (ALLOWED[None, :] - size[:, None]) / ALLOWED[None, :]
    flat = np.broadcast_to((limit - error)[:, None] / abs(limit), fit.shape)
    return np.stack([size, mass, error], axis=1), np.stack([fit, flat], axis=2)


def work(toy: Toy, task: Task) -> Scores:
    """The work function that pools are given."""
    import os
    import time

    cell: ToyCell = task.cell
    if toy.delay_s:
        time.sleep(toy.delay_s * len(task.X))
    if toy.crash and cell.n == 4 and cell.family == "fan" and bool((task.X[:, 0] > 0.8).any()):
        if toy.crash == "raise":
            raise ZeroDivisionError("this row breaks the evaluation")
        if toy.crash == "die":
            os._exit(9)
    objectives, margins = figures(toy, cell, task.X, task.level == "verify")
    if toy.crash == "rubbish" and cell.n == 4:
        objectives[0] = np.nan
    rows = len(task.X)
    verified = None
    if task.level == "verify":
        verified = np.full(rows, (cell.family, cell.n) not in toy.refuses)
    return Scores(
        objectives=np.repeat(objectives[:, None], 2, axis=1),
        violation=np.maximum(-margins, 0.0).sum(axis=2),
        reason=np.full(rows, "", dtype=object),
        margins=margins,
        verified=verified,
    )


class ToyEvaluator:
    """The driver's side of the toy."""

    def __init__(self, toy: Toy) -> None:
        self.toy = toy

    def cells(self) -> Sequence[Any]:
        return [ToyCell(f, n) for f in FAMILIES for n in (2, 4)]

    def relatives(self, cell: ToyCell, rng: np.random.Generator) -> Sequence[Any]:
        return [ToyCell(cell.family, n) for n in (cell.n - 1, cell.n + 1) if 2 <= n <= 9]

    def names(self, cell: ToyCell) -> tuple[str, ...]:
        return names(cell)

    def nominal(self, cell: ToyCell) -> Bools:
        return np.zeros(len(names(cell)), dtype=bool)

    def traits(self, cell: ToyCell) -> tuple[Floats, Bools]:
        return np.array([float(cell.n)]), np.zeros(1, dtype=bool)

    def lacking(self) -> Bools:
        return np.zeros(5, dtype=bool)

    def snap(self, cell: ToyCell, X: Floats) -> Floats:
        top = self.toy.levels - 1
        return np.asarray(np.round(np.clip(X, 0.0, 1.0) * top) / top)

    def open(self, cell: ToyCell) -> Bools:
        return np.ones(2, dtype=bool)

    def cost(self, cell: ToyCell) -> float:
        return float(cell.n)


def everything(toy: Toy) -> tuple[Floats, Floats]:
    """Settled objectives [N, 3] and margins [N, 2, 2] of every design that verification passes."""
    line = np.arange(toy.levels) / (toy.levels - 1)
    X = np.stack(np.meshgrid(line, line, line, indexing="ij"), axis=-1).reshape(-1, 3)
    cells = [ToyCell(f, n) for f in FAMILIES for n in range(2, 10) if (f, n) not in toy.refuses]
    found = [figures(toy, cell, X, True) for cell in cells]
    return np.concatenate([f for f, _ in found]), np.concatenate([m for _, m in found])
