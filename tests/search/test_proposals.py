import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from synth.search.candidate import design_id
from synth.search.proposals import differ, graft
from synth.search.seen import Seen
from synth.search.spread import spread, step
from tests.search.toys import ToyCell


@given(st.integers(1, 30), st.integers(1, 6), st.integers(0, 100))
def test_a_spread_has_one_row_in_each_strip(rows: int, columns: int, seed: int) -> None:
    X = spread(rows, columns, np.random.default_rng(seed))
    for column in X.T:
        assert sorted((column * rows).astype(int).tolist()) == list(range(rows))


def test_steps_and_differences_stay_in_the_box_and_move_every_row() -> None:
    rng = np.random.default_rng(0)
    elites = rng.random((5, 4))
    for X in (step(elites, 300, rng), differ(elites, rng.random((9, 4)), 300, rng)):
        assert X.shape == (300, 4) and X.min() >= 0.0 and X.max() <= 1.0
        moved = np.array([np.abs(elites - x).max(axis=1).min() for x in X])
        assert (moved > 0.0).mean() > 0.95
    distance = np.array([np.abs(elites - x).max(axis=1).min() for x in step(elites, 2000, rng)])
    assert np.median(distance) < 0.05 < distance.max()


def test_a_graft_takes_over_columns_by_name_only() -> None:
    rng = np.random.default_rng(0)
    donor = (("own", "width"), np.array([0.9, 0.25]))
    X = graft(np.full((400, 2), 0.75), ("thickness", "width"), [donor], rng)
    assert np.abs(X[:, 0] - 0.75).max() < 0.2
    taken = np.abs(X[:, 1] - 0.25) < 0.15
    assert 0.7 < taken.mean() < 0.9


def test_a_row_is_new_once() -> None:
    seen = Seen()
    X = np.array([[0.1, 0.2], [0.3, 0.4], [0.1, 0.2], [0.0, 0.5], [-0.0, 0.5]])
    assert seen.fresh(X).tolist() == [0, 1, 3]
    assert seen.fresh(X).tolist() == []
    more = np.array([[0.5, 0.5], [0.6, 0.5], [0.7, 0.5]])
    assert seen.fresh(more, 1).tolist() == [0]
    assert seen.fresh(more).tolist() == [1, 2]
    assert len(seen) == 6
    assert (np.diff(seen.known.astype(object)) > 0).all()


def test_a_design_has_one_id() -> None:
    cell = ToyCell("fan", 3)
    ids = {design_id(cell, np.array([0.5, z])) for z in (0.0, -0.0)}
    ids.add(design_id(ToyCell("fan", 3), np.array([0.5, 0.0])))
    assert len(ids) == 1
    assert design_id(ToyCell("fan", 4), np.array([0.5, 0.0])) not in ids
    assert len(ids.pop()) == 12
