import numpy as np
import pytest

from synth.ledger import NO_DESIGN, UNSCREENED
from synth.search.archive import share
from synth.search.foresight import ENOUGH, NONE, STOPPED, WHOLE, Foretold, Known, Model, depths, joined, model
from synth.search.ground import LEAST, Ground
from tests.near import near

ORDERED = np.zeros(3, dtype=bool)
LACKING = np.zeros(4, dtype=bool)


def known(rows: int, seed: int = 0, told: bool = True) -> Known:
    """Rows of a cell with one trait (1.0) and two columns; two smooth objectives; two requirements, of which one fails
    where the columns' sum is above 1.2. told: whether margins are."""
    X = np.random.default_rng(seed).random((rows, 3))
    X[:, 0] = 1.0
    F, margins = figures(X)
    short = -np.minimum(margins, 0.0).sum(axis=1)[:, None]
    made = Known()
    where = depths(short, margins[:, None] if told else None, LACKING)
    made.tell(X, F[:, None], margins[:, None] if told else np.zeros((rows, 1, 0)), *where)
    return made


def foreseen(rows: Known, nominal: np.ndarray = ORDERED, lacking: np.ndarray = LACKING) -> Model:
    found = model(rows, Known(), 0, nominal, lacking)
    assert found is not None
    return found


def figures(X: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    a, b = X[:, 1], X[:, 2]
    F = np.stack([1.0 + a - 0.4 * b + 0.3 * a * b, 1.0 / (0.5 + a) + b * b], axis=1)
    return F, np.stack([1.2 - a - b, 5.0 + a * b], axis=1)


def sure(points: np.ndarray, chance: float | np.ndarray = 1.0) -> Foretold:
    """Points that are known to be where they are."""
    return Foretold(points, np.zeros_like(points), np.broadcast_to(np.asarray(chance, dtype=float), len(points)))


@pytest.mark.parametrize("told", [True, False])
def test_what_is_foretold_is_near_what_comes(told: bool) -> None:
    found = foreseen(known(80, told=told))
    X = known(300, 1).X
    F, margins = figures(X)
    foretold = found.at(X)
    off = np.sqrt(((foretold.points - F) ** 2).mean(axis=0)) / F.std(axis=0)
    assert off.max() < 0.05, "a twentieth of how far the figures spread"
    holds = margins.min(axis=1) >= 0.0
    assert ((foretold.chance >= 0.5) == holds).mean() > 0.95


def test_errors_are_told_as_large_as_they_are_and_larger_far_off() -> None:
    """Twice what a row is foretold wrong by is beyond the error told in few of 300 (one in 20 for normal errors)."""
    rows = known(60)
    found = foreseen(rows)
    X = known(300, 1).X
    foretold = found.at(X)
    off = np.abs(foretold.points - figures(X)[0])
    assert 0.9 < (off <= 2.0 * foretold.error).mean() < 1.0
    assert np.median(off / foretold.error) > 0.05, "nor are they told far too large"
    apart = np.array([[1.0, 2.0, 0.5], [1.0, -1.0, 0.5], [1.0, 0.5, 2.0], [1.0, 0.5, -1.0]])
    assert (found.at(apart).error > 3.0 * found.at(rows.X).error.max(axis=0)).all(), "less where rows are known"


def test_two_margins_that_may_fail_hold_together_less_often_than_each() -> None:
    rows = known(80)
    twice = Known()
    margins = rows.margins[:, :, [0, 0]]
    twice.tell(rows.X, rows.objectives, margins, rows.depth, rows.miss)
    once, both = foreseen(rows), foreseen(twice)
    a = np.random.default_rng(6).random(300)
    X = np.stack([np.ones(300), a, 1.2 - a + np.linspace(-0.01, 0.01, 300)], axis=1)  # by the wall
    one, two = once.at(X).chance, both.at(X).chance
    open_ = (one > 0.05) & (one < 0.95)
    assert open_.sum() > 30 and (two[open_] < one[open_]).all()


def test_known_rows_are_met_and_too_few_foretell_nothing() -> None:
    rows = known(60)
    found = foreseen(rows)
    near(found.at(rows.X).points, rows.objectives[:, 0], abs=5e-3, why="figures of near twins need not be met exactly")
    assert model(known(ENOUGH - 1), Known(), 0, ORDERED, LACKING) is None
    assert model(Known(), Known(), 0, ORDERED, LACKING) is None


def test_rows_that_nobody_could_work_out_tell_no_margins() -> None:
    rows = known(40)
    lost = np.random.default_rng(9).random((3, 3))
    rows.tell(lost, np.zeros((3, 1, 2)), np.zeros((3, 1, 0)), *depths(np.full((3, 1), 1e6), None, LACKING))
    assert rows.margins.shape == (43, 1, 2)
    found = foreseen(rows)
    assert found.at(lost).chance.max() < found.at(rows.X[:40]).chance.max()


def test_values_without_order_are_told_apart_and_other_cells_help() -> None:
    """Objective +1 for the middle one of three choices: no line through the choices can tell that."""
    rng = np.random.default_rng(2)
    X = np.stack([np.ones(90), rng.integers(3, size=90) / 2.0, rng.random(90)], axis=1)
    F = (X[:, 2] + (X[:, 1] == 0.5))[:, None, None]
    rows = Known()
    rows.tell(X, F, np.zeros((90, 1, 0)), *depths(np.zeros((90, 1)), None, LACKING[:1]))
    found = foreseen(rows, np.array([False, True, False]), LACKING[:1])
    at = np.array([[1.0, c, 0.4] for c in (0.0, 0.5, 1.0)])
    assert np.abs(found.at(at).points[:, 0] - np.array([0.4, 1.4, 0.4])).max() < 0.03  # two of them differ by 1
    assert len(rows.beside(np.ones(1), 40).X) == 0
    others = rows.beside(np.zeros(1), 40)
    assert len(others.X) == 40 and model(Known(), others, 0, ORDERED, LACKING[:1]) is not None


def test_worth_is_the_hypervolume_that_a_point_adds() -> None:
    front = np.array([[0.2, 0.6, 0.4], [0.6, 0.2, 0.5], [0.4, 0.4, 0.3]])
    points = np.random.default_rng(3).random((40, 3)) * 0.6
    ground = Ground(front, 3)
    added = np.array([share(np.concatenate([front, p[None]])) for p in points]) - share(front)
    found = ground.won(sure(points)).sum(axis=1) / 1024.0
    assert np.abs(found - added).max() < 1024.0**-0.5  # what the docstring says; they reach up to 0.3
    assert np.corrcoef(found, added)[0, 1] > 0.99
    assert ((ground.worth(sure(points)) > 0.0) == (added > 0.0)).all()
    assert (ground.worth(sure(points))[added > 0.0] > ground.worth(sure(points, 0.3))[added > 0.0]).all()


def test_expected_gain_of_an_uncertain_point_is_the_mean_over_where_it_may_lie() -> None:
    """Against a plain average over 4,000 draws of even errors, each drawn point's share counted by itself."""
    rng = np.random.default_rng(4)
    ground = Ground(np.array([[0.3, 0.6], [0.6, 0.3]]), 2)
    points, error = np.array([[0.35, 0.4], [0.5, 0.62], [0.2, 0.2]]), np.array([[0.05, 0.1], [0.1, 0.02], [0.0, 0.05]])
    told = Foretold(points, error, np.ones(3))
    drawn = points + np.sqrt(3.0) * error * rng.uniform(-1.0, 1.0, (4000, 3, 2))
    each = np.array([ground.won(sure(d)).sum(axis=1) for d in drawn])
    spread = each.std(axis=0) / np.sqrt(4000.0)
    assert (np.abs(ground.won(told).sum(axis=1) - each.mean(axis=0)) <= 4.0 * spread + 1e-3).all()
    hoped, known_ = ground.won(told).sum(axis=1)[1], ground.won(sure(points)).sum(axis=1)[1]
    assert hoped > 0.0 and known_ == 0.0, "it may win though what is foretold of it alone would not"


def test_a_pick_takes_the_earlier_ones_into_account() -> None:
    points = np.array([[0.1, 0.5], [0.11, 0.51], [0.5, 0.1], [0.12, 0.52], [0.9, 0.95]])
    ground = Ground(np.array([[0.7, 0.7]]), 2)
    assert set(ground.best(sure(points), 2).tolist()) == {0, 2}
    assert ground.best(sure(points, np.array([1.0, 1.0, 0.1, 1.0, 1.0])), 1).tolist() == [0]


def test_without_a_front_the_row_nearest_to_holding_comes_first_and_beside_one_a_small_chance_is_given() -> None:
    points = np.array([[0.1, 0.1], [0.6, 0.6]])
    unlikely = sure(points, np.array([1e-9, 1e-4]))
    assert Ground(np.zeros((0, 2)), 2).best(unlikely, 1).tolist() == [1]
    beside = Ground(np.array([[0.7, 0.7]]), 2)
    assert beside.best(unlikely, 1).tolist() == [0]
    near(beside.worth(unlikely), beside.worth(sure(points, LEAST)), rel=1e-12)


def test_several_are_joined_in_order() -> None:
    a, b = sure(np.array([[0.1, 0.2]]), 0.5), sure(np.array([[0.3, 0.4], [0.5, 0.6]]), 0.25)
    both = joined([a, b])
    near(both.points, np.array([[0.1, 0.2], [0.3, 0.4], [0.5, 0.6]]), rel=1e-12)
    near(both.take(np.array([2, 0])).chance, np.array([0.25, 0.5]), rel=1e-12)


def test_how_far_rows_were_worked_out_and_what_no_margin_explains() -> None:
    """Objective, then two requirements, the second of the structure: what is told of it in stopped rows counts not."""
    lacking = np.array([False, False, True])
    margins = np.array([[[0.3, 0.1]], [[-0.2, -0.5]], [[-0.2, -1.0]], [[-0.2, -1.0]], [[0.5, -1.0]]])
    violation = np.array([0.0, 0.7, UNSCREENED + 0.2, NO_DESIGN + 0.6, NO_DESIGN])[:, None]
    depth, miss = depths(violation, margins, lacking)
    assert depth[:, 0].tolist() == [WHOLE, WHOLE, STOPPED, NONE, NONE]
    near(miss[:, 0], np.array([0.0, 0.0, 0.0, 0.4, 0.0]), abs=1e-9)
    depth, miss = depths(violation, None, lacking[:1])
    assert depth[:, 0].tolist() == [WHOLE, WHOLE, NONE, NONE, NONE]
    near(miss, violation, rel=1e-12)


def test_rows_that_the_screen_stopped_tell_what_it_saw() -> None:
    """The first requirement, which rows fail beyond a + b = 1.2, is learned beyond it from rows stopped there only; the
    second objective is not, whatever stands in its place."""
    whole = known(200)
    a, b = whole.X[:, 1], whole.X[:, 2]
    stopped = a + b > 1.2
    margins, F = whole.margins.copy(), whole.objectives.copy()
    F[stopped, 0, 1], margins[stopped, 0, 1] = 1e9, -1e9
    violation = -np.minimum(whole.margins, 0.0).sum(axis=2) + np.where(stopped, UNSCREENED, 0.0)[:, None]
    lacking = np.array([False, True, False, True])
    rows = Known()
    rows.tell(whole.X, F, margins, *depths(violation, margins, lacking))
    X = known(300, 1).X
    told, (want, margin) = foreseen(rows, lacking=lacking).at(X), figures(X)
    beyond = X[:, 1] + X[:, 2] > 1.3
    assert np.abs(told.points[beyond, 0] - want[beyond, 0]).max() < 0.03  # from 0.6 to 1.9
    assert np.abs(told.points[:, 1]).max() < 10.0, "of what was not worked out nothing is learned"
    assert told.chance[beyond].max() < 0.5 < told.chance[margin.min(axis=1) > 0.1].min()


def test_the_further_a_row_is_from_being_a_design_the_less_its_chance() -> None:
    rows = known(80)
    a = rows.X[:, 1]
    violation = np.where(a > 0.6, NO_DESIGN + (a - 0.6), 0.0)[:, None]
    margins = np.ones((80, 1, 2))
    made = Known()
    made.tell(rows.X, rows.objectives, margins, *depths(violation, margins, LACKING))
    line = np.linspace(0.3, 0.95, 14)
    chance = foreseen(made).at(np.stack([np.ones(14), line, np.full(14, 0.5)], axis=1)).chance
    assert (chance[line < 0.5] > 0.9).all() and (chance[line > 0.7] < 0.1).all()


def test_products_of_powers_are_foretold_from_few_rows() -> None:
    """a^2 b^-3 in logarithmic columns is a plane: 12 rows tell it to a twentieth, with either sign."""
    X = np.random.default_rng(5).random((40, 3))
    X[:, 0] = 1.0
    F = np.exp(2.0 * X[:, 1] - 3.0 * X[:, 2])[:, None] * np.array([1.0, -4.0])
    rows = Known()
    rows.tell(X[:12], F[:12, None], np.zeros((12, 1, 0)), *depths(np.zeros((12, 1)), None, LACKING[:2]))
    told = foreseen(rows, lacking=LACKING[:2]).at(X[12:])
    assert np.abs(told.points / F[12:] - 1.0).max() < 0.05
