"""Which cell gets the next batch of an envelope: one that lately paid, now and then one little known."""

import numpy as np

from synth.core.arrays import Floats
from synth.search.foresight import joined
from synth.search.state import CellState, State

FADE = 0.85
"""What is left of a cell's earlier gains after each further batch."""
SPREAD = 0.5
"""A cell's chance shrinks to this share with each batch it has got in the round."""
BLIND = 3.0
"""So many times as often the least known cell gets a batch while an envelope holds nothing."""


def note(cell: CellState, gains: Floats, rows: int) -> None:
    """Adds a told batch: gains [E] in hypervolume share (or in violation where nothing is feasible yet)."""
    cell.gain = FADE * cell.gain + gains
    cell.told = True
    cell.weight = FADE * cell.weight + rows
    cell.idle = 0 if bool((gains > 0.0).any()) else cell.idle + 1


def chances(state: State, envelope: int, cells: list[CellState]) -> Floats:
    """[n] probabilities: in equal parts by recent gain a row, by members held, and by what rows not yet put forward
    promise; scaled by the share of verdicts passed.

    With neither gain nor members: by how near the cells came to being feasible.
    """
    rate = np.array([c.gain[envelope] / max(c.weight[envelope], 1.0) for c in cells])
    holders = state.holders(envelope)
    held = np.array([float(holders.get(c.number, 0)) for c in cells])
    hope = hopes(state, envelope, cells)
    parts = [p / p.sum() for p in (rate, held, hope) if p.sum() > 0.0]
    if not state.archives[envelope].members:
        best = np.array([min(float(c.best[envelope]), 1e6) for c in cells])
        near = 1.0 / (0.05 + best - best.min())
        parts.append(near / near.sum())
    if not parts:
        parts = [np.full(len(cells), 1.0 / len(cells))]
    chance = np.mean(parts, axis=0)
    trust = np.array([(c.passed + 1.0) / (c.passed + c.failed + 1.0) for c in cells])
    chance = chance * trust
    return np.asarray(chance / chance.sum())


def hopes(state: State, envelope: int, cells: list[CellState]) -> Floats:
    """[n]: the most that a row foretold in each cell, and not put forward, promises beside the front of today."""
    owners = [k for k, c in enumerate(cells) if envelope in c.hopes and len(c.hopes[envelope])]
    found = np.zeros(len(cells))
    if owners:
        told = [cells[k].hopes[envelope] for k in owners]
        ground = state.archives[envelope].ground()
        each = np.maximum(ground.worth(joined(told)), 0.0)
        np.maximum.at(found, np.repeat(owners, [len(t) for t in told]), each)
    return found


def choose(state: State, envelope: int, given: dict[int, int]) -> CellState | None:
    """The living cell that gets the next batch; given: batches by cell number already formed in this round."""
    cells = [c for c in state.cells if c.alive and c.told and c.open[envelope] and not c.exhausted]
    if not cells:
        return None
    explore = state.settings.explore * (1.0 if state.archives[envelope].members else BLIND)
    if float(state.rng.random()) < explore:
        return min(cells, key=lambda c: (c.spent, c.number))
    chance = chances(state, envelope, cells) * np.array([SPREAD ** given.get(c.number, 0) for c in cells])
    return cells[int(state.rng.choice(len(cells), p=chance / chance.sum()))]
