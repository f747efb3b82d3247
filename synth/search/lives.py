"""Births and deaths of cells."""

from typing import Any

import numpy as np

from synth.search.bandit import hopes
from synth.search.breeding import Breeding
from synth.search.correction import Correction
from synth.search.outlook import Outlook, prospects
from synth.search.state import CellState, State
from synth.search.types import Evaluator

SOME = 24
"""Starting cells that are looked at for each birth."""
BORN = 1.0 / 3.0
"""Most of a round's tasks that go to newborn cells."""
HOPEFUL = 5e-4
"""A cell of which so much is foretold, in hypervolume share, is not given up."""
SHELTER = 1.0 / 3.0
"""Until this share of the budget is spent, the last cell of a family is kept alive."""


def born(state: State, evaluator: Evaluator, cell: Any, parent: int) -> CellState | None:
    """A new living cell, or None where it is known already or has no chance in any open envelope."""
    key = repr(cell)
    if key in state.known:
        return None
    state.known.add(key)
    chance = np.asarray(evaluator.open(cell), dtype=bool) & state.goals.open
    if not chance.any():
        return None
    names, (traits, named) = tuple(evaluator.names(cell)), evaluator.traits(cell)
    (count, objectives), size = state.goals.ideal.shape, state.settings.population
    made = CellState(
        number=len(state.cells),
        cell=cell,
        family=cell.family,
        names=names,
        open=chance,
        parent=parent,
        cost=float(evaluator.cost(cell)),
        breeding={int(e): Breeding.empty(size, len(names), objectives) for e in np.flatnonzero(chance)},
        gain=np.zeros(count),
        weight=np.zeros(count),
        best=np.full(count, np.inf),
        traits=traits,
        nominal=np.concatenate([named, np.asarray(evaluator.nominal(cell), dtype=bool)]),
        correction=state.cells[parent].correction.inherited() if parent >= 0 else Correction(),
    )
    state.cells.append(made)
    return made


def births(outlook: Outlook, evaluator: Evaluator) -> None:
    """Fills the places that are free, at first from the starting cells, then a few in each round.

    Cells that hold members take no place. After the first fill at most a third of a round's tasks goes to newborn
    cells, waiting starting cells and relatives of cells that hold members in turn, so that births never eat the budget.
    """
    state = outlook.state
    while state.queue and len(state.cells) < max(state.settings.live // 3, min(state.settings.live, 16)):
        born(state, evaluator, state.queue.pop(0), -1)
    holding = {c.cell for a in state.archives for c in a.members}
    room = state.settings.live - sum(c.number not in holding for c in state.living)
    for turn in range(min(max(int(BORN * state.settings.tasks), 1), room)):
        made = None
        if state.queue and (state.rounds + turn) % 2 == 0:
            made = born(state, evaluator, _start(outlook, evaluator), -1)
        elif state.rounds > 0:
            made = _relative(outlook, evaluator)
        if made is None and state.queue:
            born(state, evaluator, _start(outlook, evaluator), -1)


def _start(outlook: Outlook, evaluator: Evaluator) -> Any:
    """The next starting cell: of some in the queue the one that its family's rows foretell most of, half of the time
    simply the first."""
    state = outlook.state
    if state.rng.random() < 0.5:
        return state.queue.pop(0)
    some = np.sort(state.rng.permutation(len(state.queue))[:SOME])
    told = prospects(outlook, evaluator, [state.queue[int(k)] for k in some])
    return state.queue.pop(int(some[int(np.nanargmax(told))]) if np.isfinite(told).any() else 0)


def _relative(outlook: Outlook, evaluator: Evaluator) -> CellState | None:
    """A relative of a cell drawn by the members it holds over all open envelopes; None where a few draws find none."""
    state = outlook.state
    held: dict[int, float] = {}
    for e in np.flatnonzero(state.goals.open):
        holders = state.holders(int(e))
        total = sum(holders.values())
        for number, count in holders.items():
            held[number] = held.get(number, 0.0) + count / total
    if not held:
        held = {c.number: 1.0 for c in state.cells if c.alive and c.told}
    numbers = sorted(held)
    for _ in range(4):
        if not numbers:
            return None
        chance = np.array([held[n] for n in numbers])
        parent = numbers[int(state.rng.choice(len(numbers), p=chance / chance.sum()))]
        options = [c for c in evaluator.relatives(state.cells[parent].cell, state.rng) if repr(c) not in state.known]
        while options:
            told = prospects(outlook, evaluator, options)
            pick = int(np.nanargmax(told)) if np.isfinite(told).any() else int(state.rng.integers(len(options)))
            made = born(state, evaluator, options.pop(pick), parent)
            if made is not None:
                return made
        numbers.remove(parent)
    return None


def deaths(state: State) -> None:
    """Ends cells that do not pay.

    A cell dies when nothing new can be put forward in it, when verification refused it `failures` times and never
    passed it, or when it holds no member and `patience` batches brought no gain. The last started cell is spared,
    and so is the last of a family while the search is young.
    """
    holding = {c.cell for a in state.archives for c in a.members}
    settings = state.settings
    budget = max(int(settings.evaluations * state.goals.open.sum()), 1)
    young = state.spent.sum() < SHELTER * budget
    for cell in state.living:
        if cell.failed >= settings.failures and not cell.passed:
            cell.end("verification refused it again and again")
            _purge(state, cell.number)
        elif cell.exhausted:
            cell.end("every design in it was tried")
    started = [c for c in state.living if c.told]
    # the longest idle go first, so that what is spared is the better part
    for cell in sorted(started, key=lambda c: (-c.idle, c.number)):
        if cell.number in holding or cell.idle < settings.patience or len(state.living) <= 1:
            continue
        if young and sum(c.family == cell.family for c in state.living) <= 1:
            continue
        if not state.queue and len(state.living) <= settings.live // 4:
            continue
        if max(float(hopes(state, int(e), [cell])[0]) for e in np.flatnonzero(cell.open)) > HOPEFUL:
            continue
        cell.end("its batches brought nothing")


def _purge(state: State, number: int) -> None:
    """Takes what was never verified of a dead cell out of the archives: its kind fails."""
    for archive in state.archives:
        archive.members = [c for c in archive.members if c.cell != number or c.verified]
        archive.reserve = [c for c in archive.reserve if c.cell != number or c.verified]
        archive.refresh()
