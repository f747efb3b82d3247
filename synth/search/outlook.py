"""What known rows foretell of cells, born and unborn, and which of many rows promise most."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from synth.core.arrays import Bools, Floats
from synth.search.foresight import OTHERS, Foretold, Known, Model, joined, model
from synth.search.spread import spread, step
from synth.search.state import FRESH, CellState, State
from synth.search.types import Evaluator

PARENTS, CHILDREN = 20, 60
"""The rows that promise most, and steps around them that are looked at too."""
GENERATIONS = 3
"""So many times in a bold batch."""
FORESEEN = 0.75
"""Share of a batch that foresight picks."""
HOPES = 4
"""Rows not put forward that tell what a cell still promises."""
PROBES = 12
"""Rows that tell what an unborn cell promises."""
GLANCE = 100
"""Rows that tell what a cell promises in an envelope that none of its batches was for."""


@dataclass(eq=False)
class Outlook:
    """Models made between two tellings, when nothing that they are made of changes: of cells by number, of families by
    name, each by envelope."""

    state: State
    _cells: dict[tuple[int, int], Model | None] = field(default_factory=dict)
    _families: dict[tuple[str, int], Model | None] = field(default_factory=dict)

    def cell(self, cell: CellState, envelope: int) -> Model | None:
        """What the latest rows of a cell and of its family's others foretell."""
        key = (cell.number, envelope)
        if key not in self._cells:
            others = self.state.lore.get(cell.family, Known()).beside(cell.traits, OTHERS)
            self._cells[key] = model(cell.told_rows, others, envelope, cell.nominal, self.state.lacking)
        return self._cells[key]

    def family(self, family: str, envelope: int, nominal: Bools) -> Model | None:
        """What the latest rows of a family foretell of a cell with such columns."""
        key = (family, envelope)
        if key not in self._families:
            lore = self.state.lore.get(family, Known())
            self._families[key] = model(Known(), lore, envelope, nominal, self.state.lacking)
        known = self._families[key]
        return known if known is not None and known.columns == len(nominal) else None

    def at(self, known: Model, traits: Floats, X: Floats, envelope: int) -> Foretold:
        """What is foretold of rows of a cell of those traits, scaled to the envelope's box."""
        rows = np.concatenate([np.tile(traits, (len(X), 1)), X], axis=1)
        goals = self.state.goals
        return known.at(rows).scaled(goals.ideal[envelope], goals.reference[envelope])


def prospects(outlook: Outlook, evaluator: Evaluator, cells: Sequence[Any]) -> Floats:
    """[n]: what unborn cells promise in the envelope where they promise most: the best of a few rows each, foretold
    from the rows of their families; not a number where too little is known."""
    state, found = outlook.state, np.full(len(cells), np.nan)
    for k, cell in enumerate(cells):
        traits, named = evaluator.traits(cell)
        nominal = np.concatenate([named, evaluator.nominal(cell)])
        X = evaluator.snap(cell, spread(PROBES, len(nominal) - len(named), state.rng))
        for e in np.flatnonzero(np.asarray(evaluator.open(cell), dtype=bool) & state.goals.open):
            known = outlook.family(cell.family, int(e), nominal)
            if known is not None:
                worth = state.archives[int(e)].ground().worth(outlook.at(known, traits, X, int(e)))
                found[k] = np.fmax(found[k], float(worth.max()))
    return found


def glance(outlook: Outlook, evaluator: Evaluator, envelope: int, cells: Sequence[CellState]) -> None:
    """Notes what started cells promise in an envelope that none of their batches was for yet: without it they would
    have to wait there for a batch by chance."""
    state = outlook.state
    for cell in cells:
        if envelope in cell.hopes or not cell.open[envelope]:
            continue
        known = outlook.cell(cell, envelope)
        if known is None:
            continue
        X = evaluator.snap(cell.cell, spread(GLANCE, len(cell.names), state.rng))
        X = X[cell.seen.unknown(X)]
        if len(X):
            told = outlook.at(known, cell.traits, X, envelope)
            cell.hopes[envelope] = told.take(state.archives[envelope].ground().best(told, HOPES))


def promising(
    outlook: Outlook,
    evaluator: Evaluator,
    envelope: int,
    cell: CellState,
    X: Floats,
    names: list[str],
    rows: int,
    bold: bool,
) -> tuple[Floats, list[str]]:
    """New rows among many, in the order in which to put them forward: most of `rows` are those that the cell's known
    rows foretell most of, steps around such rows included (in a bold batch steps around those too, and so on); the
    others as they come."""
    state, new = outlook.state, cell.seen.unknown(X)
    new = new[state.rng.permutation(len(new))]
    X, names = X[new], [names[int(k)] for k in new]
    known = outlook.cell(cell, envelope) if len(new) > rows else None
    if known is None:
        return X, names
    ground = state.archives[envelope].ground()

    def foretold(rows: Floats) -> Foretold:
        return outlook.at(known, cell.traits, rows, envelope)

    told = foretold(X)
    worth = ground.worth(told)
    for _ in range(GENERATIONS if bold else 1):
        parents = np.argsort(-worth, kind="stable")[:PARENTS]
        both = np.concatenate([X, evaluator.snap(cell.cell, step(X[parents], CHILDREN, state.rng))])
        fresh = cell.seen.unknown(both)
        fresh = fresh[fresh >= len(X)]
        more = foretold(both[fresh])
        told, worth = joined([told, more]), np.concatenate([worth, ground.worth(more)])
        X, names = np.concatenate([X, both[fresh]]), names + [FRESH] * len(fresh)
    count = int(np.ceil(FORESEEN * rows))
    picked = ground.best(told, count + HOPES, worth)
    cell.hopes[envelope] = told.take(picked[count:])
    picked = picked[:count]
    rest = np.setdiff1d(np.arange(len(X)), picked)
    order = np.concatenate([picked, rest])
    return X[order], [names[int(k)] for k in order]
