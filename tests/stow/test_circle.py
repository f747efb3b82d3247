"""Least enclosing circles against brute force over all pairs and triples."""

from itertools import combinations

import numpy as np
import pytest

from synth.stow.circle import least_circle
from tests.near import near


def brute(points: np.ndarray) -> float:
    best = np.inf
    for a, b in combinations(points, 2):
        centre = (a + b) / 2
        best = min(best, _if_all_inside(points, centre, float(np.linalg.norm(a - centre)), best))
    for a, b, c in combinations(points, 3):
        matrix = 2.0 * np.array([b - a, c - a])
        if abs(np.linalg.det(matrix)) > 1e-12:
            centre = np.linalg.solve(matrix, [b @ b - a @ a, c @ c - a @ a])
            best = min(best, _if_all_inside(points, centre, float(np.linalg.norm(a - centre)), best))
    return best


def _if_all_inside(points: np.ndarray, centre: np.ndarray, radius: float, best: float) -> float:
    return radius if np.linalg.norm(points - centre, axis=1).max() <= radius * (1 + 1e-9) else best


@pytest.mark.parametrize("count", [2, 3, 5, 12])
def test_equals_brute_force(count: int) -> None:
    rng = np.random.default_rng(count)
    points = rng.normal(size=(40, count, 2)) * rng.uniform(0.1, 3.0, (40, 1, 2))
    _, radius = least_circle(points)
    near(radius, [brute(p) for p in points], rel=1e-9, why="both exact to rounding")


def test_encloses_many_points_and_touches_at_least_two() -> None:
    points = np.random.default_rng(0).normal(size=(20, 500, 2))
    centre, radius = least_circle(points)
    distance = np.linalg.norm(points - centre[:, None], axis=-1)
    assert np.all(distance.max(axis=1) <= radius)
    touching = distance > radius[:, None] * (1 - 1e-9)
    assert np.all(touching.sum(axis=1) >= 2)
    for row in range(20):
        seen = np.sort(np.arctan2(*(points[row, touching[row]] - centre[row]).T[::-1]))
        gaps = np.diff(np.concatenate([seen, seen[:1] + 2 * np.pi]))
        assert gaps.max() <= np.pi + 1e-6, "the least circle is held on all sides"


@pytest.mark.parametrize("regular", [3, 4, 6, 48])
def test_regular_polygons_repeated_and_shifted(regular: int) -> None:
    turn = np.arange(regular) * 2 * np.pi / regular
    polygon = np.stack([np.cos(turn), np.sin(turn)], axis=-1) * 0.7 + [3.0, -2.0]
    centre, radius = least_circle(np.concatenate([polygon, polygon])[None])
    near(radius, [0.7], rel=1e-12)
    near(centre, [[3.0, -2.0]], rel=1e-12)


def test_points_on_a_line_and_a_single_point() -> None:
    line = np.linspace(-1, 2, 9)[:, None] * [0.6, 0.8]
    near(least_circle(line[None])[1], [1.5], rel=1e-12)
    assert least_circle(np.ones((2, 4, 2)))[1].tolist() == [0.0, 0.0]


def test_shuffling_rows_shuffles_results() -> None:
    rng = np.random.default_rng(4)
    points, order = rng.normal(size=(9, 30, 2)), rng.permutation(9)
    centre, radius = least_circle(points)
    again = least_circle(points[order])
    assert np.array_equal(again[0], centre[order]) and np.array_equal(again[1], radius[order])
    alone = np.concatenate([least_circle(points[[b]])[1] for b in range(9)])
    assert np.array_equal(alone, radius)
