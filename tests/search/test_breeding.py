import numpy as np

from synth.core.arrays import Floats
from synth.search.breeding import Breeding, ordered


def disc(X: Floats) -> tuple[Floats, Floats]:
    """Two objectives with the front x1 = ... = 0.5; feasible where x0 >= 0.2."""
    off = ((X[:, 1:] - 0.5) ** 2).sum(axis=1)
    return np.stack([X[:, 0] + off, 1.0 - X[:, 0] + off], axis=1), np.maximum(0.2 - X[:, 0], 0.0)


def bred(seed: int, generations: int) -> Breeding:
    rng = np.random.default_rng(seed)
    population = Breeding.empty(24, 6, 2)
    X = rng.random((24, 6))
    for _ in range(generations):
        population.tell(X, *disc(X))
        X = population.ask(24, rng)
    population.settle()
    return population


def test_a_population_nears_the_front_and_stays_feasible() -> None:
    population = bred(1, 60)
    assert (population.violation == 0.0).all()
    gap = population.F.sum(axis=1) - 1.0
    assert np.median(gap) < 0.01 < np.median(bred(1, 3).F.sum(axis=1) - 1.0)
    assert np.ptp(population.F[:, 0]) > 0.6


def test_the_same_seed_breeds_the_same_rows_and_leaves_the_global_generator_alone() -> None:
    before = np.random.get_state()[1].copy()
    assert (bred(3, 5).X == bred(3, 5).X).all()
    assert not np.array_equal(bred(3, 5).X, bred(4, 5).X)
    assert (np.random.get_state()[1] == before).all()


def test_feasible_rows_come_first_then_the_least_violation() -> None:
    F = np.array([[0.0, 0.0], [2.0, 2.0], [1.0, 1.0], [0.1, 0.1]])
    assert ordered(F, np.array([0.5, 0.0, 0.0, 0.2]), 4).tolist() == [2, 1, 3, 0]
    assert ordered(F, np.array([0.5, 0.3, 0.1, 0.2]), 2).tolist() == [2, 3]


def test_a_crowded_row_goes_before_the_ends_of_a_front() -> None:
    F = np.array([[0.0, 1.0], [0.5, 0.5], [0.51, 0.49], [0.52, 0.48], [1.0, 0.0]])
    kept = ordered(F, np.zeros(5), 4)
    assert {0, 4} <= set(kept.tolist()) and 2 not in kept


def test_a_condemned_row_sinks_and_its_children_stop() -> None:
    population = bred(2, 20)
    best = population.X[0].copy()
    population.condemn((best == population.X).all(axis=1), 1.0)
    assert population.violation[-1] == 1.0
    assert (population.X[-1] == best).all()


def test_columnless_and_young_populations_still_answer() -> None:
    rng = np.random.default_rng(0)
    young = Breeding.empty(8, 3, 2)
    young.tell(rng.random((1, 3)), np.zeros((1, 2)), np.zeros(1))
    assert young.ask(5, rng).shape == (5, 3)
