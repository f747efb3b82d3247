"""Problems whose every design can be listed: real variables on grids of a few values, and the search held to them.

What verification would say is stubbed by the cheap figures, for search and listing alike: this is about the search,
and listing thousands of proofs is not.
"""

import itertools
from collections.abc import Mapping
from dataclasses import dataclass, field

import numpy as np

from synth.cell import Cell, first_cells, relatives, space, vocabulary
from synth.core.arrays import Bools, Floats
from synth.evaluate import evaluate
from synth.ledger import judge
from synth.problem import Problem
from synth.search.evaluator import ProblemEvaluator
from synth.search.types import Scores, Task


@dataclass(frozen=True, eq=False)
class Grid:
    """The problem and all its designs: cells, and for each the rows [N, D].

    levels: grid values of a real variable, evenly over its coordinate; 1 where not named (the middle).
    """

    problem: Problem
    levels: Mapping[str, int]
    _counts: dict[Cell, list[int]] = field(default_factory=dict)

    def __post_init__(self) -> None:
        unknown = sorted(set(self.levels) - set(vocabulary().variables))
        if unknown:
            raise ValueError(f"levels name no variables: {', '.join(unknown)}")

    def counts(self, cell: Cell) -> list[int]:
        """Values of each column of a cell."""
        if cell not in self._counts:
            axes = space(self.problem, cell).axes
            self._counts[cell] = [len(a.options) or self.levels.get(a.name, 1) for a in axes]
        return self._counts[cell]

    def snapped(self, cell: Cell, X: Floats) -> Floats:
        """Rows moved to the nearest design of the grid."""
        counts = np.array(self.counts(cell), dtype=np.float64)
        # the middles of equal bins, for choices and reals alike
        return np.asarray((self.places(cell, X) + 0.5) / counts)

    def places(self, cell: Cell, X: Floats) -> Floats:
        """Which grid value of each column rows [n, D] lie nearest to, whole numbers from 0."""
        counts = np.array(self.counts(cell), dtype=np.float64)
        return np.asarray(np.minimum(np.floor(np.clip(X, 0.0, 1.0) * counts), counts - 1.0))

    def rows(self, cell: Cell) -> Floats:
        """Every row of a cell, the last column fastest."""
        lines = [(np.arange(n) + 0.5) / n for n in self.counts(cell)]
        return np.array(list(itertools.product(*lines)))

    def cells(self) -> list[Cell]:
        """Every cell that can be reached from the starting ones one step at a time."""
        rng = np.random.default_rng(0)
        found = [c for f in self.problem.families for c in first_cells(self.problem, f)]
        for cell in found:
            found += [c for c in relatives(self.problem, cell, rng) if c not in found]
        return found


class Snapping(ProblemEvaluator):
    """The real evaluator on the grid."""

    def __init__(self, grid: Grid) -> None:
        super().__init__(grid.problem, {})
        self._grid = grid

    def snap(self, cell: Cell, X: Floats) -> Floats:
        return self._grid.snapped(cell, X)


def cheap(asked: Problem, task: Task) -> Scores:
    """What a worker does, with the cheap figures standing in for the verdict."""
    ledger = judge(asked, evaluate(asked, task.cell, space(asked, task.cell).columns(task.X)))
    verified: Bools | None = ledger.reason == "" if task.level == "verify" else None
    return Scores(ledger.objectives, ledger.violation, ledger.reason, ledger.margins, verified)
