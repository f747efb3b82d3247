"""The search's side of a problem: its cells, and the work that a worker does on a task."""

from collections.abc import Sequence
from zlib import crc32

import numpy as np

from synth.cell import Cell, Space, first_cells, kinds, relatives, space
from synth.core.arrays import Bools, Floats
from synth.evaluate import evaluate
from synth.ledger import NO_DESIGN, STRUCTURAL, judge
from synth.problem.bounds import bounds
from synth.problem.objective import OBJECTIVES
from synth.problem.problem import Problem
from synth.problem.requirement import requirements
from synth.record.draft import drafts, packed
from synth.record.file import tidy
from synth.search.types import Scores, Task
from synth.verify import verify


class ProblemEvaluator:
    """Cells of a problem. closed: family name to [E], True where bounds rule the family out of an envelope."""

    def __init__(self, problem: Problem, closed: dict[str, Bools]) -> None:
        self._problem, self._closed = problem, closed
        self._least = np.array([bounds(problem, e).least_panels for e in problem.envelope])
        self._spaces: dict[Cell, Space] = {}

    def _space(self, cell: Cell) -> Space:
        if cell not in self._spaces:
            self._spaces[cell] = space(self._problem, cell)
        return self._spaces[cell]

    def cells(self) -> Sequence[Cell]:
        """Starting cells that some envelope leaves open."""
        found: list[Cell] = []
        for family in self._problem.families:
            found += [c for c in first_cells(self._problem, family) if self.open(c).any()]
        return found

    def relatives(self, cell: Cell, rng: np.random.Generator) -> Sequence[Cell]:
        """Cells one step away."""
        return [c for c in relatives(self._problem, cell, rng) if self.open(c).any()]

    def names(self, cell: Cell) -> tuple[str, ...]:
        """Column names of a cell."""
        return tuple(axis.name for axis in self._space(cell).axes)

    def nominal(self, cell: Cell) -> Bools:
        """Columns that are choices."""
        return np.array([bool(axis.options) for axis in self._space(cell).axes], dtype=bool)

    def traits(self, cell: Cell) -> tuple[Floats, Bools]:
        """Logarithms of counts; a number for the name of each layout."""
        build = {"passing": "gap", **dict(cell.build)}  # a cell that says nothing passes hardware in the gap
        fixed = [*(value for _, value in cell.fixed), *(build[k] for k in sorted(build))]
        named = np.array([isinstance(value, str) for value in fixed], dtype=bool)
        told = [float(crc32(v.encode())) if isinstance(v, str) else float(np.log(max(v, 0.5))) for v in fixed]
        return np.array(told), named

    def lacking(self) -> Bools:
        """Whatever needs the structure, which the screen may skip."""
        metrics = [OBJECTIVES[name].metric for name in self._problem.search.objectives]
        metrics += [r.metric for r in requirements(self._problem)]
        return np.array([name in STRUCTURAL for name in metrics], dtype=bool)

    def snap(self, cell: Cell, X: Floats) -> Floats:
        """Rows with every choice moved to the middle of its bin; coordinates that change nothing to the middle."""
        out = np.clip(np.array(X, dtype=np.float64), 0.0, 1.0)
        axes = self._space(cell).axes
        for k, axis in enumerate(axes):
            if axis.options:
                out[:, k] = (axis.decode(out[:, k]) + 0.5) / len(axis.options)
            elif axis.low == axis.high:
                out[:, k] = 0.5
        names = [axis.name for axis in axes]
        chosen, face = names.index("build.section"), names.index("build.face_share")
        solid = np.array([name == "solid" for name in axes[chosen].options])
        out[solid[axes[chosen].decode(out[:, chosen])], face] = 0.5
        return out

    def open(self, cell: Cell) -> Bools:
        """[E]: envelopes that bounds leave open to the cell: to its family, and to so few panels."""
        panels = kinds(cell).panel_count(dict(cell.fixed))
        return np.asarray(~self._shut(cell.family) & (panels >= self._least))

    def cost(self, cell: Cell) -> float:
        """Panels: the work grows a little faster than that."""
        return float(kinds(cell).panel_count(dict(cell.fixed)))

    def _shut(self, family: str) -> Bools:
        return self._closed.get(family, np.zeros(len(self._problem.envelope), dtype=bool))


def work(problem: Problem, task: Task) -> Scores:
    """What a worker does: scores of the rows of a task, in every envelope."""
    if task.level == "verify":
        return _verified(problem, task)
    columns = space(problem, task.cell).columns(task.X)
    ledger = judge(problem, evaluate(problem, task.cell, columns))
    return Scores(ledger.objectives, ledger.violation, ledger.reason, ledger.margins)


def _verified(problem: Problem, task: Task) -> Scores:
    """One row worked out in full; extra: its records, one an envelope, without ids, packed for the way back."""
    found = verify(problem, task.cell, task.X)
    if isinstance(found, str):
        columns = space(problem, task.cell).columns(task.X)
        ledger = judge(problem, evaluate(problem, task.cell, columns))
        bad = ledger.violation + NO_DESIGN
        reason = np.array([found], dtype=object)
        return Scores(ledger.objectives, bad, reason, ledger.margins, np.zeros(1, dtype=bool))
    ledger = judge(problem, found.evaluation)
    reason = np.array([found.reason], dtype=object)
    extra = packed(drafts(problem, task.cell, task.X, found, ledger))
    # as front.csv tells them: what ties there must tie here, or a front would hold a dominated row
    goals = np.vectorize(tidy, otypes=[np.float64])(ledger.objectives)
    return Scores(goals, ledger.violation, reason, ledger.margins, np.array([found.verified]), extra)
