"""A fair contest between searches: one evaluator, one way to code a design, one count of evaluations.

A peer sees a design as a point of the unit cube: its family, the place of its cell in the family's list, and the
columns of all families by name (a cell takes those it has). Peers seek the front of one envelope after the other, each
with its share of the evaluations; whatever anybody evaluates counts in every envelope. A design that is evaluated
again costs nothing.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from synth.cell import Cell, space
from synth.core.arrays import Floats, Ints
from synth.fronts.indicators import hypervolume_share, nondominated
from synth.problem import Problem
from synth.search.evaluator import ProblemEvaluator
from synth.search.types import Goals

Figures = Callable[[Cell, Floats], tuple[Floats, Floats, Floats]]
"""objectives [n, E, M], violation [n, E] and margins [n, E, R] of rows of a cell."""
CALLS = 12
"""A search that asks so many times its evaluations, mostly designs it knows already, is stopped."""


class Spent(Exception):  # noqa: N818  (the end of a budget, not an error)
    """Raised into a search whose evaluations are used up."""


@dataclass(frozen=True)
class Variable:
    """One coordinate of a coded design. size: number of values, 0 where it is continuous."""

    name: str
    size: int
    nominal: bool = False


@dataclass(frozen=True, eq=False)
class Field:
    """What is searched. levels: values of a real column of a cell by name, where the search is held to a grid.

    truth [E]: hypervolumes by listing, where they are known.
    """

    name: str
    problem: Problem
    goals: Goals
    evaluator: ProblemEvaluator
    figures: Figures
    cells: Sequence[Cell]
    levels: dict[str, int] = field(default_factory=dict)
    gridded: bool = False
    truth: Floats | None = None
    _numbers: dict[Cell, int] = field(default_factory=dict)

    @cached_property
    def families(self) -> dict[str, list[Cell]]:
        """Cells by family in an order where neighbours are alike."""
        found: dict[str, list[Cell]] = {}
        for cell in sorted(self.cells, key=repr):
            found.setdefault(cell.family, []).append(cell)
        return found

    @cached_property
    def variables(self) -> list[Variable]:
        out = [Variable("family", len(self.families), True)]
        out.append(Variable("place", max(len(v) for v in self.families.values())))
        told: dict[str, Variable] = {}
        for cell in self.cells:
            for axis in space(self.problem, cell).axes:
                size = len(axis.options) or (self.levels.get(axis.name, 1) if self.gridded else 0)
                told.setdefault(axis.name, Variable(axis.name, size, bool(axis.options)))
        return out + list(told.values())

    @cached_property
    def _columns(self) -> dict[str, Ints]:
        place = {v.name: k for k, v in enumerate(self.variables)}
        return {
            f: np.array([place[n] for n in self.evaluator.names(cells[0])], dtype=np.int64)
            for f, cells in self.families.items()
        }

    def number(self, cell: Cell) -> int:
        """A number for each cell, also for those that a search bred from the list's."""
        return self._numbers.setdefault(cell, len(self._numbers))

    def decode(self, U: Floats) -> list[tuple[Cell, Floats]]:
        """Cell and row [D] of coded designs [n, K]."""
        U, names = np.clip(U, 0.0, 1.0 - 1e-12), list(self.families)
        chosen = [self.families[names[int(u * len(names))]] for u in U[:, 0]]
        cells = [c[int(u * len(c))] for c, u in zip(chosen, U[:, 1], strict=True)]
        rows: list[Floats] = [np.zeros(0)] * len(U)
        for cell in dict.fromkeys(cells):
            mine = [k for k, c in enumerate(cells) if c is cell]
            snapped = self.evaluator.snap(cell, U[np.ix_(mine, self._columns[cell.family])])
            for k, x in zip(mine, snapped, strict=True):
                rows[k] = x
        return list(zip(cells, rows, strict=True))


@dataclass(eq=False)
class Counter:
    """Evaluates for one search and remembers, in order, what every new design gave."""

    field: Field
    budget: int
    objectives: list[Floats] = field(default_factory=list)
    violation: list[Floats] = field(default_factory=list)
    margins: list[Floats] = field(default_factory=list)
    _known: dict[tuple[int, bytes], int] = field(default_factory=dict)
    calls: int = 0

    def of(self, designs: Sequence[tuple[Cell, Floats]]) -> tuple[Floats, Floats]:
        """objectives [n, E, M] and violation [n, E]; raises Spent once the budget is used up."""
        return self.told(designs)[:2]

    def told(self, designs: Sequence[tuple[Cell, Floats]]) -> tuple[Floats, Floats, Floats]:
        """The same with margins [n, E, R]."""
        if len(self.objectives) >= self.budget or self.calls > CALLS * self.budget:
            raise Spent
        self.calls += len(designs)
        keys = [(self.field.number(cell), x.tobytes()) for cell, x in designs]
        new: dict[Cell, dict[bytes, Floats]] = {}
        for (cell, x), key in zip(designs, keys, strict=True):
            if key not in self._known:
                new.setdefault(cell, {})[key[1]] = x
        found: dict[tuple[int, bytes], tuple[Floats, Floats, Floats]] = {}
        for cell, rows in new.items():
            F, v, m = self.field.figures(cell, np.stack(list(rows.values())))
            found.update({(self.field.number(cell), code): (F[k], v[k], m[k]) for k, code in enumerate(rows)})
        for key in keys:
            if key not in self._known:
                self._known[key] = len(self.objectives)
                self.objectives.append(found[key][0])
                self.violation.append(found[key][1])
                self.margins.append(found[key][2])
        places = [self._known[key] for key in keys]
        F, v, m = (np.stack([kept[k] for k in places]) for kept in (self.objectives, self.violation, self.margins))
        return F, v, m

    def coded(self, U: Floats) -> tuple[Floats, Floats]:
        """The same of coded designs [n, K]."""
        return self.of(self.field.decode(U))


def interleaved(counters: Sequence[Counter]) -> tuple[Floats, Floats]:
    """What runs side by side evaluated, in turn: one of each, and so on."""
    order = sorted((k, n) for n, c in enumerate(counters) for k in range(min(len(c.objectives), c.budget)))
    F = np.stack([counters[n].objectives[k] for k, n in order])
    return F, np.stack([counters[n].violation[k] for k, n in order])


def curve(contest: Field, F: Floats, violation: Floats, marks: Ints) -> Floats:
    """[m] hypervolume of all that the first so many evaluations found, mean over envelopes; shares of the truth where
    it is known."""
    goals, count = contest.goals, contest.goals.count
    fronts = [np.zeros((0, F.shape[2]))] * count
    out, before = np.zeros(len(marks)), 0
    for m, mark in enumerate(marks):
        for e in range(count):
            good = F[before:mark, e][violation[before:mark, e] <= 0.0]
            if len(good):
                both = np.concatenate([fronts[e], good])
                fronts[e] = both[np.asarray(nondominated(both))]
            share = hypervolume_share(fronts[e], goals.ideal[e], goals.reference[e]) if len(fronts[e]) else 0.0
            out[m] += share / (count * (1.0 if contest.truth is None else contest.truth[e]))
        before = int(mark)
    return out
