import numpy as np

from synth.search.archive import share
from synth.search.foresight import ENOUGH, Ground, Known, model, signed
from tests.near import near

NONE = np.zeros(3, dtype=bool)


def known(rows: int, seed: int = 0) -> Known:
    """Rows of a cell with one trait (1.0) and two columns; two smooth objectives; a sum above 1.2 fails."""
    X = np.random.default_rng(seed).random((rows, 3))
    X[:, 0] = 1.0
    F, short = figures(X)
    made = Known()
    made.tell(X, F[:, None], short[:, None])
    return made


def figures(X: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    a, b = X[:, 1], X[:, 2]
    spare = 1.2 - a - b
    F = np.stack([1.0 + a - 0.4 * b + 0.3 * a * b, 1.0 / (0.5 + a) + b * b], axis=1)
    return F, signed(np.maximum(-spare, 0.0)[:, None], spare[:, None, None])[:, 0]


def test_what_is_foretold_is_near_what_comes() -> None:
    found = model(known(80), Known(), 0, NONE)
    assert found is not None
    X = known(300, 1).X
    F, short = figures(X)
    told, holds = found.at(X)
    off = np.sqrt(((told - F) ** 2).mean(axis=0)) / F.std(axis=0)
    assert off.max() < 0.05, "a twentieth of how far the figures spread"
    assert ((holds <= 0.0) == (short <= 0.0)).mean() > 0.95


def test_known_rows_are_met_and_too_few_foretell_nothing() -> None:
    rows = known(60)
    found = model(rows, Known(), 0, NONE)
    assert found is not None
    near(found.at(rows.X)[0], rows.objectives[:, 0], abs=5e-3, why="figures of near twins need not be met exactly")
    assert model(known(ENOUGH - 1), Known(), 0, NONE) is None
    assert model(Known(), Known(), 0, NONE) is None


def test_values_without_order_are_told_apart_and_other_cells_help() -> None:
    """Objective +1 for the middle one of three choices: no line through the choices can tell that."""
    rng = np.random.default_rng(2)
    X = np.stack([np.ones(90), rng.integers(3, size=90) / 2.0, rng.random(90)], axis=1)
    F = (X[:, 2] + (X[:, 1] == 0.5))[:, None, None]
    rows = Known()
    rows.tell(X, F, np.full((90, 1), -0.5))
    found = model(rows, Known(), 0, np.array([False, True, False]))
    assert found is not None
    at = np.array([[1.0, c, 0.4] for c in (0.0, 0.5, 1.0)])
    assert np.abs(found.at(at)[0][:, 0] - np.array([0.4, 1.4, 0.4])).max() < 0.03  # two of them differ by 1
    assert len(rows.beside(np.ones(1), 40).X) == 0
    others = rows.beside(np.zeros(1), 40)
    assert len(others.X) == 40 and model(Known(), others, 0, NONE) is not None


def test_worth_is_the_hypervolume_that_a_point_adds() -> None:
    front = np.array([[0.2, 0.6, 0.4], [0.6, 0.2, 0.5], [0.4, 0.4, 0.3]])
    points = np.random.default_rng(3).random((40, 3)) * 0.6
    ground = Ground(front, 3)
    added = np.array([share(np.concatenate([front, p[None]])) for p in points]) - share(front)
    found = ground.won(points).sum(axis=1) / 1024.0
    assert np.abs(found - added).max() < 1024.0**-0.5  # what the docstring says; they reach up to 0.3
    assert np.corrcoef(found, added)[0, 1] > 0.99
    sure = np.full(40, -1.0)
    assert ((ground.worth(points, sure) > 0.0) == (added > 0.0)).all()
    assert (ground.worth(points, sure)[added > 0.0] > ground.worth(points, sure + 1.4)[added > 0.0]).all()


def test_a_pick_takes_the_earlier_ones_into_account() -> None:
    points = np.array([[0.1, 0.5], [0.11, 0.51], [0.5, 0.1], [0.12, 0.52], [0.9, 0.95]])
    ground = Ground(np.array([[0.7, 0.7]]), 2)
    assert set(ground.best(points, np.full(5, -1.0), 2).tolist()) == {0, 2}
    assert ground.best(points, np.array([-1.0, -1.0, 0.9, -1.0, -1.0]), 1).tolist() == [0]


def test_shortfall_goes_on_below_zero_where_a_row_holds() -> None:
    margins = np.array([[[0.2, 0.5]], [[-0.2, 0.5]]])
    near(signed(np.array([[0.0], [0.2]]), margins)[:, 0], np.array([-0.5, 0.5]), rel=1e-12)
    assert signed(np.array([[0.0]]), None)[0, 0] == 0.0
