"""Searches that start from what a search under other limits found."""

import numpy as np
import pytest

from synth.core.arrays import Floats
from synth.search.inherit import Moved, inherit, put_forward
from synth.search.outcome import fronts, outcome
from synth.search.state import State
from synth.search.types import Scores, Task
from tests.near import near
from tests.search import toys
from tests.search.runs import new, run, shares, told
from tests.search.toys import Toy, ToyEvaluator

SAME = Moved(np.ones(2), np.zeros(2))


def test_margins_under_another_limit() -> None:
    before, after, value = [10.0, 4.0, -2.0], [12.0, 3.0, -2.0], np.array([9.0, 5.0, -3.0])
    directions = ["max", "min", "max"]

    def margins(limits: list[float]) -> Floats:
        signs = np.array([1.0, -1.0, 1.0])
        return np.asarray(signs * (np.array(limits) - value) / np.abs(limits))

    moved = Moved.between(before, after, directions)
    assert near(moved.margins(margins(before)), margins(after), rel=1e-12)
    assert moved.margins(margins(before))[2] == margins(before)[2]


def test_nothing_is_lost_where_nothing_changes() -> None:
    toy = Toy(levels=6)
    first = new(toy, 600)
    found = run(toy, first)
    second = new(toy, 1, seed=9, front=first.settings.front)
    inherit(second, ToyEvaluator(toy), first, SAME)
    assert {c.id for f in fronts(second) for c in f} == {c.id for f in fronts(first) for c in f}
    again = outcome(second, stopped=False)
    assert again.hypervolume == found.hypervolume
    known = len(second.verdicts)
    inherit(second, ToyEvaluator(toy), first, SAME)
    assert len(second.verdicts) == known


def test_a_start_from_a_neighbour_is_worth_many_evaluations() -> None:
    toy = Toy(levels=12)
    first = new(toy, 1200)
    run(toy, first)
    alone, helped = new(toy, 150, seed=5), new(toy, 150, seed=5)
    inherit(helped, ToyEvaluator(toy), first, SAME)
    assert min(shares(toy, run(toy, helped))) > min(shares(toy, run(toy, alone)))


def test_inheriting_is_deterministic_and_can_be_resumed() -> None:
    import pickle

    toy = Toy(levels=8, bias=0.1)
    first = new(toy, 400)
    run(toy, first)

    def begun() -> State:
        state = new(toy, 200, seed=3)
        inherit(state, ToyEvaluator(toy), first, SAME)
        return state

    one, two = begun(), pickle.loads(pickle.dumps(begun()))
    assert told(run(toy, one)) == told(run(toy, two))


@pytest.mark.parametrize("limits", [(0.7, 0.9), (0.5, 0.8)])
def test_the_looser_front_is_never_worse(limits: tuple[float, float]) -> None:
    """The error limit of the toy moved from a tight to a loose one: rows, verdicts and margins follow."""
    tight, loose = limits
    first = new(Toy(levels=8), 500)
    run_with(Toy(levels=8), first, tight)
    second = new(Toy(levels=8), 125, seed=2, front=8)  # fewer rows than the tighter front: those owed stay
    moved = Moved.between([1.0, tight], [1.0, loose], ["max", "max"])
    inherit(second, ToyEvaluator(Toy(levels=8)), first, moved)
    run_with(Toy(levels=8), second, loose)
    for e, front in enumerate(fronts(first)):
        second.owed[e] = [m for c in front if (m := moved.candidate(c, 0, second.cells[0].correction)) is not None]
    for e, (a, b) in enumerate(zip(fronts(first), fronts(second), strict=True)):
        assert len(a) and len(b)
        better = np.stack([c.objectives[e] for c in b])
        for c in a:
            assert (better <= c.objectives[e]).all(axis=1).any()


def run_with(toy: Toy, state: State, limit: float) -> None:
    """The toy judged with another error limit."""
    from synth.search.pool import InProcess
    from synth.search.run import search

    def work(about: Toy, task: Task) -> Scores:
        scores = toys.work(about, task)
        assert scores.margins is not None
        margins = scores.margins.copy()
        margins[..., 1] = (limit - (1.0 - margins[..., 1])) / limit
        violation = np.maximum(-margins, 0.0).sum(axis=2)
        return Scores(scores.objectives, violation, scores.reason, margins, scores.verified)

    with InProcess(work, toy) as pool:
        search(state, ToyEvaluator(toy), pool)


def test_rows_put_forward_are_evaluated_first_and_paid_for() -> None:
    toy = Toy(levels=12)
    first = new(toy, 1000)
    run(toy, first)
    second = new(toy, 60, seed=4)
    put_forward(second, ToyEvaluator(toy), first, 10)
    waiting = sum(len(c.waiting) for c in second.cells)
    assert 10 <= waiting <= 20
    found = run(toy, second)
    assert not any(len(c.waiting) for c in second.cells)
    assert found.evaluations == [60, 60]
    assert min(shares(toy, found)) > min(shares(toy, run(toy, new(toy, 60, seed=4))))
