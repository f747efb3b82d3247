"""Searches of other libraries on the contest's terms; each seeks the front of one envelope until it is stopped.

Libraries beyond the project's own are imported where they are used: who lacks one is told so.
"""

import warnings
from collections.abc import Callable
from typing import Any

import numpy as np
from pymoo.algorithms.moo.nsga2 import NSGA2, RankAndCrowdingSurvival
from pymoo.algorithms.moo.nsga3 import NSGA3
from pymoo.algorithms.moo.unsga3 import UNSGA3
from pymoo.core.mixed import MixedVariableGA
from pymoo.core.problem import Problem
from pymoo.core.variable import Choice, Integer, Real
from pymoo.optimize import minimize
from pymoo.util.ref_dirs import get_reference_directions

from synth.core.arrays import Floats
from tests.bench.contest import Counter, Spent, Variable

POPULATION = 100
Peer = Callable[[Counter, int, int], None]
"""peer(counter, envelope, seed): asks the counter until it raises Spent."""


def random(counter: Counter, envelope: int, seed: int) -> None:
    """Random sampling."""
    rng = np.random.default_rng(seed)
    while True:
        counter.coded(rng.random((POPULATION, len(counter.field.variables))))


def _scored(counter: Counter, envelope: int, U: Floats) -> tuple[Floats, Floats]:
    F, violation = counter.coded(U)
    return counter.field.goals.normalised(envelope, F[:, envelope]), violation[:, envelope]


class _Encoded(Problem):  # type: ignore[misc]
    def __init__(self, counter: Counter, envelope: int) -> None:
        columns, objectives = len(counter.field.variables), counter.field.goals.ideal.shape[1]
        super().__init__(n_var=columns, n_obj=objectives, n_ieq_constr=1, xl=0.0, xu=1.0)
        self._counter, self._envelope = counter, envelope

    def _evaluate(self, x: Any, out: Any, *args: Any, **kwargs: Any) -> None:
        out["F"], violation = _scored(self._counter, self._envelope, np.asarray(x, dtype=np.float64))
        out["G"] = violation[:, None]


class _Mixed(Problem):  # type: ignore[misc]
    def __init__(self, counter: Counter, envelope: int) -> None:
        self._told = counter.field.variables
        kinds = {v.name: _pymoo_variable(v) for v in self._told}
        super().__init__(vars=kinds, n_obj=counter.field.goals.ideal.shape[1], n_ieq_constr=1)
        self._counter, self._envelope = counter, envelope

    def _evaluate(self, x: Any, out: Any, *args: Any, **kwargs: Any) -> None:
        U = np.array([[coordinate(v, row[v.name]) for v in self._told] for row in x])
        out["F"], violation = _scored(self._counter, self._envelope, U)
        out["G"] = violation[:, None]


def _pymoo_variable(v: Variable) -> Any:
    if v.nominal:
        return Choice(options=list(range(v.size)))
    return Integer(bounds=(0, v.size - 1)) if v.size > 1 else Real(bounds=(0.0, 1.0))


def coordinate(v: Variable, value: float) -> float:
    """Where a value stands on its coordinate: whole numbers in the middles of equal bins."""
    return (float(value) + 0.5) / v.size if v.size > 1 else float(value)


def _pymoo(counter: Counter, problem: Any, algorithm: Any, seed: int) -> None:
    while True:  # a run that ends by itself (all children known) starts again with another seed
        minimize(problem, algorithm, ("n_gen", 100_000), seed=seed, verbose=False)
        seed += 7919


def nsga2_mixed(counter: Counter, envelope: int, seed: int) -> None:
    algorithm = MixedVariableGA(pop_size=POPULATION, survival=RankAndCrowdingSurvival())
    _pymoo(counter, _Mixed(counter, envelope), algorithm, seed)


def nsga2(counter: Counter, envelope: int, seed: int) -> None:
    _pymoo(counter, _Encoded(counter, envelope), NSGA2(pop_size=POPULATION), seed)


def _directions(counter: Counter) -> Any:
    return get_reference_directions("das-dennis", counter.field.goals.ideal.shape[1], n_partitions=12)


def nsga3(counter: Counter, envelope: int, seed: int) -> None:
    _pymoo(counter, _Encoded(counter, envelope), NSGA3(_directions(counter), pop_size=POPULATION), seed)


def unsga3(counter: Counter, envelope: int, seed: int) -> None:
    _pymoo(counter, _Encoded(counter, envelope), UNSGA3(_directions(counter), pop_size=POPULATION), seed)


def _optuna(counter: Counter, envelope: int, sampler: Any, most: int) -> None:
    import optuna

    optuna.logging.set_verbosity(optuna.logging.ERROR)
    objectives = counter.field.goals.ideal.shape[1]
    study = optuna.create_study(directions=["minimize"] * objectives, sampler=sampler)
    for _ in range(most):
        trial = study.ask()
        u = [coordinate(v, _suggested(trial, v)) for v in counter.field.variables]
        F, violation = _scored(counter, envelope, np.array([u]))
        trial.set_user_attr("violation", float(violation[0]))
        study.tell(trial, F[0].tolist())
    raise Spent


def _suggested(trial: Any, v: Variable) -> float:
    if v.nominal:
        return float(trial.suggest_categorical(v.name, list(range(v.size))))
    if v.size > 1:
        return float(trial.suggest_int(v.name, 0, v.size - 1))
    return float(trial.suggest_float(v.name, 0.0, 1.0))


def _held(trial: Any) -> tuple[float]:
    return (trial.user_attrs["violation"],)


def optuna_nsga2(counter: Counter, envelope: int, seed: int) -> None:
    import optuna

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        sampler = optuna.samplers.NSGAIISampler(population_size=POPULATION, seed=seed, constraints_func=_held)
        _optuna(counter, envelope, sampler, 10**9)


TRIALS = 2000


def optuna_tpe(counter: Counter, envelope: int, seed: int) -> None:
    """To 2,000 trials over all envelopes: what it proposes next costs more and more time."""
    import optuna

    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        sampler = optuna.samplers.TPESampler(seed=seed, constraints_func=_held)
        _optuna(counter, envelope, sampler, TRIALS // counter.field.goals.count)


class _Penalised:
    """pygmo's NSGA-II takes no constraints: whatever violates is worse than the reference point by its violation."""

    def __init__(self, counter: Counter, envelope: int) -> None:
        self._counter, self._envelope = counter, envelope
        self.spent = False

    def __deepcopy__(self, memo: Any) -> "_Penalised":
        return self

    def get_bounds(self) -> tuple[list[float], list[float]]:
        columns = len(self._counter.field.variables)
        return [0.0] * columns, [1.0] * columns

    def get_nobj(self) -> int:
        return int(self._counter.field.goals.ideal.shape[1])

    def batch_fitness(self, flat: Any) -> Any:
        U = np.asarray(flat).reshape(-1, len(self._counter.field.variables))
        try:
            F, violation = _scored(self._counter, self._envelope, U)
        except Spent:
            self.spent = True
            F, violation = np.ones((len(U), self.get_nobj())), np.ones(len(U))
        return np.where((violation > 0.0)[:, None], 1.0 + violation[:, None], F).ravel()

    def fitness(self, u: Any) -> Any:
        return self.batch_fitness(u)


def pygmo_nsga2(counter: Counter, envelope: int, seed: int) -> None:
    import pygmo

    asked = _Penalised(counter, envelope)
    method = pygmo.nsga2(gen=1, seed=seed)
    method.set_bfe(pygmo.bfe())
    algorithm = pygmo.algorithm(method)
    population = pygmo.population(pygmo.problem(asked), size=POPULATION, seed=seed)
    while not asked.spent:
        population = algorithm.evolve(population)
    raise Spent


PEERS: dict[str, Peer] = {
    "random": random,
    "pymoo NSGA-II, mixed": nsga2_mixed,
    "pymoo NSGA-II": nsga2,
    "pymoo NSGA-III": nsga3,
    "pymoo U-NSGA-III": unsga3,
    "Optuna NSGA-II": optuna_nsga2,
    "Optuna TPE": optuna_tpe,
    "pygmo NSGA-II": pygmo_nsga2,
}
NEEDS = {"Optuna NSGA-II": "optuna", "Optuna TPE": "optuna", "pygmo NSGA-II": "pygmo"}
