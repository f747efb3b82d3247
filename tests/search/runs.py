"""Runs of the toy problem, told in a form that can be compared."""

from collections.abc import Callable

import numpy as np

from synth.core.arrays import Floats
from synth.fronts.indicators import hypervolume_share
from synth.search.outcome import Outcome
from synth.search.pool import InProcess, Pool
from synth.search.run import search
from synth.search.settings import Settings
from synth.search.state import State, begin
from tests.search.toys import Toy, ToyEvaluator, everything, work


def new(toy: Toy, evaluations: int, seed: int = 1, **other: int) -> State:
    return begin(ToyEvaluator(toy), toy.goals, Settings.for_budget(evaluations, seed, toy.goals.count, **other))


def run(toy: Toy, state: State, pool: Pool | None = None, stop: Callable[[], bool] | None = None) -> Outcome:
    if pool is not None:
        return search(state, ToyEvaluator(toy), pool, stop=stop)
    with InProcess(work, toy) as own:
        return search(state, ToyEvaluator(toy), own, stop=stop)


def told(outcome: Outcome) -> list[tuple[str, int, bytes, float, bool]]:
    """Every row of every front, bit by bit."""
    rows = [m for front in outcome.fronts for m in front]
    return [(m.design, m.envelope, m.objectives.tobytes(), m.violation, m.feasible) for m in rows]


def truth(toy: Toy) -> list[float]:
    """True hypervolume of each envelope, by listing every design."""
    objectives, margins = everything(toy)
    goals = toy.goals
    found = []
    for e in range(goals.count):
        good: Floats = objectives[(margins[:, e] >= 0.0).all(axis=1)]
        found.append(hypervolume_share(good, goals.ideal[e], goals.reference[e]))
    return found


def shares(toy: Toy, outcome: Outcome) -> list[float]:
    """Found over true hypervolume of each envelope."""
    return [float(h / t) for h, t in zip(outcome.hypervolume, truth(toy), strict=True)]


def points(outcome: Outcome, envelope: int) -> Floats:
    return np.stack([m.objectives for m in outcome.fronts[envelope]])
