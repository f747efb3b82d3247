"""What known rows foretell of cells, born and unborn, and which of many rows promise most."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from synth.core.arrays import Floats
from synth.search.foresight import ENOUGH, OTHERS, Foretold, Known, Model, joined, model
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
Models = dict[tuple[str, int], Model | None]
"""Of families, by envelope."""


def foreknown(state: State, cell: CellState, envelope: int) -> Model | None:
    """What is known of a cell and its family, as a model of an envelope."""
    lore = state.lore.get(cell.family, Known())
    if cell.told_rows.whole(envelope) + lore.whole(envelope) < ENOUGH:
        return None
    others = lore.beside(cell.traits, OTHERS)
    return model(cell.told_rows, others, envelope, cell.nominal, state.lacking)


def prospects(state: State, evaluator: Evaluator, cells: Sequence[Any], models: Models) -> Floats:
    """[n]: what unborn cells promise in the envelope where they promise most: the best of a few rows each, foretold
    from the rows of their families; not a number where too little is known. models: those made since the last answers
    were told; new ones are added."""
    found = np.full(len(cells), np.nan)
    for k, cell in enumerate(cells):
        traits, named = evaluator.traits(cell)
        nominal = np.concatenate([named, evaluator.nominal(cell)])
        X = evaluator.snap(cell, spread(PROBES, len(nominal) - len(named), state.rng))
        for e in np.flatnonzero(np.asarray(evaluator.open(cell), dtype=bool) & state.goals.open):
            key = (cell.family, int(e))
            if key not in models:
                models[key] = model(Known(), state.lore.get(cell.family, Known()), int(e), nominal, state.lacking)
            known = models[key]
            if known is not None and known.columns == len(nominal):
                worth = state.archives[int(e)].ground().worth(_at(state, known, traits, X, int(e)))
                found[k] = np.fmax(found[k], float(worth.max()))
    return found


def glance(state: State, evaluator: Evaluator, envelope: int, cells: Sequence[CellState]) -> None:
    """Notes what started cells promise in an envelope that none of their batches was for yet: without it they would
    have to wait there for a batch by chance."""
    for cell in cells:
        if envelope in cell.hopes or not cell.open[envelope]:
            continue
        known = foreknown(state, cell, envelope)
        if known is None:
            continue
        X = evaluator.snap(cell.cell, spread(GLANCE, len(cell.names), state.rng))
        X = X[cell.seen.unknown(X)]
        if len(X):
            told = _at(state, known, cell.traits, X, envelope)
            cell.hopes[envelope] = told.take(state.archives[envelope].ground().best(told, HOPES))


def _at(state: State, known: Model, traits: Floats, X: Floats, envelope: int) -> Foretold:
    """What is foretold of rows of a cell of those traits, scaled to the envelope's box."""
    rows = np.concatenate([np.tile(traits, (len(X), 1)), X], axis=1)
    return known.at(rows).scaled(state.goals.ideal[envelope], state.goals.reference[envelope])


def promising(
    state: State,
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
    new = cell.seen.unknown(X)
    new = new[state.rng.permutation(len(new))]
    X, names = X[new], [names[int(k)] for k in new]
    known = foreknown(state, cell, envelope) if len(new) > rows else None
    if known is None:
        return X, names
    ground = state.archives[envelope].ground()

    def foretold(rows: Floats) -> Foretold:
        return _at(state, known, cell.traits, rows, envelope)

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
