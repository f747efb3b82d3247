"""A population of one cell for one envelope: NSGA-II, asked and told in any order and number.

Mating, ranking and crowding are pymoo's; the state is plain arrays, so that a checkpoint does not bind to
pymoo's objects, verdicts can mark rows, and rows found for another envelope can be told too.
"""

from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
from pymoo.core.mating import Mating
from pymoo.core.population import Population
from pymoo.core.problem import Problem
from pymoo.operators.crossover.sbx import SBX
from pymoo.operators.mutation.pm import PM
from pymoo.operators.selection.tournament import TournamentSelection
from pymoo.operators.survival.rank_and_crowding.metrics import get_crowding_function
from pymoo.util.nds.non_dominated_sorting import NonDominatedSorting

from synth.core.arrays import Bools, Floats, Ints


@cache
def _problem(columns: int) -> Any:
    return Problem(n_var=columns, n_obj=2, n_ieq_constr=1, xl=0.0, xu=1.0)


def _beats(pop: Any, pairs: Any, random_state: Any = None, **_: Any) -> Any:
    """Binary tournament: the lower place wins (rows are kept in order of violation, rank and crowding)."""
    place = pop.get("place")
    return np.where(place[pairs[:, 0]] <= place[pairs[:, 1]], pairs[:, 0], pairs[:, 1])[:, None]


@cache
def _mating() -> Any:
    return Mating(TournamentSelection(func_comp=_beats), SBX(eta=15, prob=0.9), PM(eta=20), n_max_iterations=10)


def ordered(F: Floats, violation: Floats, keep: int) -> Ints:
    """Rows of the `keep` survivors, best first: feasible by rank, then crowding (rare first), the rest by violation.

    Source: Deb, Pratap, Agarwal, Meyarivan 2002 (constraint domination in its feasibility-first form).
    """
    feasible = np.flatnonzero(violation <= 0.0)
    chosen: list[int] = []
    if len(feasible):
        crowding = get_crowding_function("cd")
        for front in NonDominatedSorting().do(F[feasible], n_stop_if_ranked=keep):
            rows = feasible[np.sort(front)]
            room = keep - len(chosen)
            rare = np.asarray(crowding.do(F[rows], n_remove=max(len(rows) - room, 0)))
            chosen += rows[np.argsort(-rare, kind="stable")][:room].tolist()
            if len(chosen) >= keep:
                break
    rest = np.flatnonzero(violation > 0.0)
    if len(chosen) < keep and len(rest):
        chosen += rest[np.argsort(violation[rest], kind="stable")][: keep - len(chosen)].tolist()
    return np.asarray(chosen, dtype=np.int64)


@dataclass(eq=False)
class Breeding:
    """X [n, D], F [n, M], violation [n]: the population, best first. inbox: rows told and not yet ranked."""

    size: int
    X: Floats
    F: Floats
    violation: Floats
    waiting: list[tuple[Floats, Floats, Floats]]

    @staticmethod
    def empty(size: int, columns: int, objectives: int) -> "Breeding":
        return Breeding(size, np.zeros((0, columns)), np.zeros((0, objectives)), np.zeros(0), [])

    def tell(self, X: Floats, F: Floats, violation: Floats) -> None:
        """Takes evaluated rows; they are ranked once they are needed or many."""
        self.waiting.append((X, F, violation))
        if sum(len(x) for x, _, _ in self.waiting) > 4 * self.size:
            self.settle()

    def settle(self) -> None:
        """Ranks what waits."""
        if not self.waiting:
            return
        X = np.concatenate([self.X, *(w[0] for w in self.waiting)])
        F = np.concatenate([self.F, *(w[1] for w in self.waiting)])
        v = np.concatenate([self.violation, *(w[2] for w in self.waiting)])
        self.waiting = []
        self._keep(X, F, v)

    def _keep(self, X: Floats, F: Floats, violation: Floats) -> None:
        rows = ordered(F, violation, self.size)
        self.X, self.F, self.violation = X[rows], F[rows], violation[rows]

    def ask(self, rows: int, rng: np.random.Generator) -> Floats:
        """Up to `rows` children [k, D] by tournament, simulated binary crossover and polynomial mutation."""
        self.settle()
        if len(self.X) < 2:
            return np.asarray(rng.random((rows, self.X.shape[1])))
        pop = Population.new("X", self.X)
        pop.set("place", np.arange(len(self.X)))
        children = _mating().do(_problem(self.X.shape[1]), pop, rows, random_state=rng)
        return np.asarray(children.get("X"), dtype=np.float64).reshape(-1, self.X.shape[1])

    def condemn(self, same: "Bools", violation: float) -> None:
        """Marks rows of the population that failed verification as violating."""
        self.violation = np.where(same, np.maximum(self.violation, violation), self.violation)
        self._keep(self.X, self.F, self.violation)
