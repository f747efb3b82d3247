"""Indicators against exact values. Source of the values: fronts of Zitzler, Deb, Thiele 2000 and Deb et al. 2002;
integrals and hand sets derived (recomputed by hand and with two programs); every flag below is "derived"."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from hypothesis.extra.numpy import arrays

from synth.fronts.indicators import (
    contributions,
    dominance_share,
    dominators,
    hypervolume,
    hypervolume_share,
    knee,
    knee_depth,
    least,
    nondominated,
)
from tests.near import near

HAND_SETS = [
    ([(0, 1), (0.25, 0.5), (1, 0)], [1.1, 1.1], 0.585),
    ([(1, 2, 3), (2, 1, 3), (3, 3, 1)], [4, 4, 4], 10.0),
    ([(1, 2, 3), (2, 1, 3), (3, 3, 1), (2, 2, 2), (4, 4, 4), (5, 0, 0)], [4, 4, 4], 13.0),
    ([(1, 2, 3, 4), (4, 3, 2, 1), (2, 2, 2, 2)], [5, 5, 5, 5], 93.0),
]


@pytest.mark.parametrize(("points", "reference", "expected"), HAND_SETS)
def test_hypervolume_of_hand_sets(points: list[tuple[float, ...]], reference: list[float], expected: float) -> None:
    found = hypervolume(np.array(points, dtype=float), np.array(reference))
    assert near(found, expected, rel=1e-9, why="inclusion-exclusion, derived")


@pytest.mark.parametrize(("count", "expected"), [(11, 0.820509341707), (101, 0.871462947103)])
def test_hypervolume_of_the_zdt1_front_sampled(count: int, expected: float) -> None:
    f1 = np.linspace(0.0, 1.0, count)
    found = hypervolume(np.stack([f1, 1.0 - np.sqrt(f1)], axis=1), np.array([1.1, 1.1]))
    assert near(found, expected, rel=1e-9, why="staircase sum, derived")


@pytest.mark.parametrize(("power", "expected"), [(0.5, 0.876666666667), (2.0, 0.543333333333)])
def test_hypervolume_of_dense_zdt_fronts_nears_the_true_one(power: float, expected: float) -> None:
    # a staircase under a monotone front of rise 1 sampled at n equal steps misses less than 1 / n
    f1 = np.linspace(0.0, 1.0, 20001)
    found = hypervolume(np.stack([f1, 1.0 - f1**power], axis=1), np.array([1.1, 1.1]))
    assert near(found, expected, abs=1e-4, why="sampled, derived integral")
    assert found < expected


@pytest.mark.parametrize(("objectives", "reference", "expected"), [(2, 1.1, 0.424601836603), (3, 1.0, 0.476401224402)])
def test_dtlz2_samples_stay_just_below_the_true_volume(objectives: int, reference: float, expected: float) -> None:
    rng = np.random.default_rng(4)
    points = np.abs(rng.standard_normal((200000, objectives)))
    points /= np.linalg.norm(points, axis=1, keepdims=True)
    found = hypervolume(points, np.full(objectives, reference))
    assert found < expected
    assert near(found, expected, rel=0.004, why="200,000 random points of the octant, derived ball volumes")
    ball = math.pi / 4 if objectives == 2 else math.pi / 6
    assert near(reference**objectives - ball, expected, rel=1e-9)


def test_points_at_or_beyond_the_reference_point_add_nothing() -> None:
    base = np.array([[1.0, 2.0], [2.0, 1.0]])
    more = np.concatenate([base, [[3.0, 0.0], [0.5, 3.0], [9.0, 9.0]]])
    assert hypervolume(base, np.array([3.0, 3.0])) == hypervolume(more, np.array([3.0, 3.0])) == 3.0
    assert hypervolume(np.zeros((0, 2)), np.array([1.0, 1.0])) == 0.0


def test_hypervolume_of_one_objective_is_a_length() -> None:
    assert hypervolume(np.array([[0.25], [0.5]]), np.array([1.0])) == 0.75
    assert contributions(np.array([[0.25], [0.5]]), np.array([1.0])).tolist() == [0.25, 0.0]


def test_share_is_of_the_box_between_ideal_and_reference() -> None:
    share = hypervolume_share(np.array([[12.0, -4.0]]), np.array([10.0, -5.0]), np.array([20.0, 0.0]))
    assert near(share, 0.8 * 0.8, rel=1e-12)
    assert hypervolume_share(np.array([[0.0, -9.0]]), np.array([10.0, -5.0]), np.array([20.0, 0.0])) == 1.0
    assert hypervolume_share(np.zeros((0, 2)), np.zeros(2), np.ones(2)) == 0.0
    assert hypervolume_share(np.array([[0.5, 0.5]]), np.full(2, np.nan), np.ones(2)) == 0.0


def test_contributions_are_what_is_lost_without_the_point() -> None:
    rng = np.random.default_rng(0)
    points = rng.random((12, 3))
    whole = hypervolume(points, np.ones(3))
    for k, gain in enumerate(contributions(points, np.ones(3))):
        assert abs(whole - hypervolume(np.delete(points, k, axis=0), np.ones(3)) - gain) < 1e-12


def test_knee_is_the_point_farthest_below_the_line_of_the_extremes() -> None:
    points = np.array([[0.0, 10.0], [1.0, 4.0], [2.0, 3.0], [5.0, 2.0], [10.0, 0.0]])
    distance = (1.0 - points.sum(axis=1) / 10.0) / math.sqrt(2.0)
    assert knee(points) == int(np.argmax(distance)) == 1
    assert near(knee_depth(points), 0.5, rel=1e-12)
    assert knee_depth(np.array([[0.0, 1.0], [0.5, 0.5], [1.0, 0.0]])) == 0.0
    with pytest.raises(ValueError, match="empty"):
        knee(np.zeros((0, 2)))


def test_least_of_each_breaks_ties_by_the_others() -> None:
    points = np.array([[1.0, 9.0], [1.0, 3.0], [4.0, 0.0], [2.0, 0.0]])
    assert least(points).tolist() == [1, 3]


def test_dominance_share_counts_strictly_dominated_points_only() -> None:
    ours = np.array([[1.0, 1.0]])
    theirs = np.array([[1.0, 1.0], [1.0, 2.0], [0.5, 3.0], [2.0, 2.0]])
    assert dominance_share(ours, theirs) == 0.5
    assert dominance_share(ours, theirs[:0]) == 0.0


FRONTS = arrays(np.float64, st.tuples(st.integers(1, 25), st.integers(1, 5)), elements=st.integers(0, 6).map(float))


@given(FRONTS)
def test_nondominated_is_what_the_definition_says(points: np.ndarray) -> None:
    flags = nondominated(points)
    for k, p in enumerate(points):
        beaten = any((q <= p).all() and (q < p).any() for q in points)
        repeated = any((q == p).all() for q in points[:k])
        assert flags[k] == (not beaten and not repeated)
    assert dominators(points, points[flags]).min() >= 1
