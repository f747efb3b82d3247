"""Least boxes: closed forms, brute force over spins, and batch against exact."""

import numpy as np
import pytest

from synth.core.arrays import transform
from synth.core.layers import stack_height
from synth.fold.tree import poses
from synth.stow.box import box_sizes, hull, stowed_box
from tests.fold import chains
from tests.near import near

ROOM = np.array([10.0, 10.0, 10.0])


def stowed_corners(laid: chains.Laid) -> np.ndarray:
    angles = laid.geometry.stowed_angle[:, None]
    placed = poses(laid.topology, laid.geometry.axis, angles)[:, 0]
    return transform(placed, laid.geometry.corners).reshape(1, -1, 3)


def brute(points: np.ndarray, allowed: np.ndarray, steps: int = 9001) -> tuple[float, float]:
    """Least volume that fits (inf where none) and least ratio over a fine grid of spins and all six ways."""
    volume, ratio = np.inf, np.inf
    limit = np.sort(allowed)
    for spin in np.linspace(0.0, np.pi / 2, steps):
        c, s = np.cos(spin), np.sin(spin)
        turned = points @ np.array([[c, -s, 0], [s, c, 0], [0, 0, 1.0]])
        size = np.sort(np.ptp(turned, axis=0))
        found = float((size / limit).max())
        ratio = min(ratio, found)
        if found <= 1.0:
            volume = min(volume, float(size.prod()))
    return volume, ratio


@pytest.mark.parametrize("count", [2, 5, 12])
def test_an_accordion_is_n_thicknesses_and_n_less_one_gaps_high(count: int) -> None:
    laid = chains.accordion(count, width=0.2, length=0.8, thickness=0.01, gap=0.0005, edge_gap=0.002)
    expected = [0.2 - 0.002, 0.8, count * 0.01 + (count - 1) * 0.0005]
    found = stowed_box(stowed_corners(laid)[0], ROOM)
    near(np.sort(found.size), np.sort(expected), rel=1e-12)
    near(np.sort(box_sizes(stowed_corners(laid), ROOM[None]).size[0, 0]), np.sort(expected), rel=1e-12)
    near(expected[2], stack_height(count, chains.build(0.01, 0.0005)), rel=1e-12)


def test_a_chain_of_hexagons_stacks_on_one_footprint() -> None:
    laid = chains.serial(19, pitch=0.3, thickness=0.004, gap=0.0005, edge_gap=0.001)
    across = 0.299
    found = stowed_box(stowed_corners(laid)[0], ROOM)
    near(np.sort(found.size), [19 * 0.004 + 18 * 0.0005, across, across * 2 / np.sqrt(3)], rel=1e-12)


@pytest.mark.parametrize("seed", range(6))
def test_exact_equals_brute_force_where_it_fits_and_where_not(seed: int) -> None:
    rng = np.random.default_rng(seed)
    points = rng.normal(size=(30, 3)) * [0.5, 0.2, 0.1]
    free = stowed_box(points, ROOM)
    near(free.size.prod(), brute(points, ROOM)[0], rel=2e-4, why="grid of 0.01 degrees")
    for share in (1.15, 1.02, 0.9, 0.7):
        allowed = free.size * np.array([share, 1.0 + 0.3 * rng.random(), 1.0])
        volume, ratio = brute(points, allowed)
        found = stowed_box(points, allowed)
        assert found.fit <= max(1.0, ratio) + 1e-9
        if np.isfinite(volume):
            assert found.fit <= 1.0 and found.size.prod() <= volume * (1 + 1e-9)
            near(found.size.prod(), volume, rel=2e-3, why="grid of 0.01 degrees next to a limit")
        elif found.fit > 1.0:
            near(found.fit, ratio, rel=5e-4, why="grid of 0.01 degrees")


def test_a_long_strip_goes_in_along_the_diagonal() -> None:
    """A strip longer than both sides fits only between two spins: ends where an extent equals a side (geometry)."""
    strip = np.array([[x, y, z] for x in (0, 1.3) for y in (0, 0.05) for z in (0, 0.1)])
    found = stowed_box(strip, np.array([1.0, 1.0, 0.2]))
    assert found.fit <= 1.0
    # least volume among fitting spins lies where the long extent just equals the side: 1.3 c + 0.05 s = 1
    spin = np.arctan2(0.05, 1.3) + np.arccos(1.0 / np.hypot(1.3, 0.05))
    near(found.size.prod(), 1.0 * (1.3 * np.sin(spin) + 0.05 * np.cos(spin)) * 0.1, rel=1e-9)
    batch = box_sizes(strip[None], np.array([[1.0, 1.0, 0.2]]))
    assert batch.ratio[0, 0] <= 1.0 and batch.size[0, 0].prod() >= found.size.prod() * (1 - 1e-12)


def test_rotation_is_proper_and_gives_the_size_told() -> None:
    rng = np.random.default_rng(8)
    points = rng.normal(size=(50, 3)) * [0.1, 0.4, 0.9]
    for allowed in (np.array([3.0, 1.0, 9.0]), np.array([9.0, 3.0, 1.0]), np.array([0.1, 0.1, 0.2])):
        found = stowed_box(points, allowed)
        near(found.rotation @ found.rotation.T, np.eye(3), abs=1e-14)
        near(np.linalg.det(found.rotation), 1.0, rel=1e-12)
        near(np.ptp(points @ found.rotation.T, axis=0), found.size, rel=1e-12)
        near(found.fit, (found.size / allowed).max(), rel=1e-12)


def test_the_batch_is_never_better_than_exact_and_close_to_it() -> None:
    rng = np.random.default_rng(3)
    allowed = np.array([[0.9, 0.6, 0.3], [0.5, 0.5, 0.5], [3.0, 3.0, 3.0]])
    points = rng.uniform(-1, 1, size=(60, 24, 3)) * [0.4, 0.25, 0.1]
    batch = box_sizes(points, allowed)
    worst = 0.0
    for b, e in np.ndindex(60, 3):
        exact = stowed_box(points[b], allowed[e])
        if exact.fit <= 1.0 and batch.ratio[b, e] <= 1.0:
            assert batch.size[b, e].prod() >= exact.size.prod() * (1 - 1e-9)
            worst = max(worst, batch.size[b, e].prod() / exact.size.prod() - 1.0)
        else:
            assert batch.ratio[b, e] >= exact.fit - 1e-9
            worst = max(worst, batch.ratio[b, e] / exact.fit - 1.0)
    print(f"batch worse than exact by at most {worst:.2%}")
    assert worst < 0.03


def test_batch_equals_exact_for_panel_stacks() -> None:
    for laid in (chains.accordion(6), chains.serial(7), chains.star()):
        points = stowed_corners(laid)
        exact = stowed_box(points[0], ROOM)
        near(
            box_sizes(points, ROOM[None]).size[0, 0].prod(), exact.size.prod(), rel=1e-9, why="every hull corner found"
        )


def test_rows_are_independent() -> None:
    rng = np.random.default_rng(6)
    points, allowed, order = rng.normal(size=(7, 40, 3)), np.array([[1.0, 2.0, 3.0]]), rng.permutation(7)
    whole = box_sizes(points, allowed)
    assert np.array_equal(box_sizes(points[order], allowed).size, whole.size[order])
    near(np.concatenate([box_sizes(points[[b]], allowed).size for b in range(7)]), whole.size, rel=1e-12)


def test_hull_keeps_corners_only() -> None:
    square = np.array([[0, 0], [1, 0], [1, 1], [0, 1], [0.5, 0], [0.5, 0.5], [1, 1]], dtype=float)
    assert sorted(map(tuple, hull(square))) == [(0, 0), (0, 1), (1, 0), (1, 1)]
