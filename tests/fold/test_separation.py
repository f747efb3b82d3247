"""Separating directions and exact distances of prisms against python-fcl, and interval bounds against sampling."""

import numpy as np
import pytest

from synth.core.arrays import turn_about
from synth.fold.separation import Passing, edge_gaps, face_gaps, sphere_gaps, witness_gaps
from synth.fold.solids import Shape, shape_of
from tests.fold import oracle
from tests.fold.prism_distance import prism_distance
from tests.near import near


def plates(rng: np.random.Generator, count: int, corners: int) -> Shape:
    """Flat convex polygons with corners on a circle of random radius."""
    turn = np.sort(rng.uniform(0, 2 * np.pi, (count, corners)), axis=1)
    turn[:, ::2] = np.arange(0, corners, 2) * 2 * np.pi / corners  # keeps them plump
    turn = np.sort(turn, axis=1)
    plan = np.stack([np.cos(turn), np.sin(turn)], axis=-1) * rng.uniform(0.3, 1.0, (count, 1, 1))
    z = np.sort(rng.uniform(-0.2, 0.2, (count, 2)), axis=1)
    return shape_of(list(plan), z)


def random_motion(rng: np.random.Generator, count: int, half: float = 0.0) -> Passing:
    line = rng.uniform(-1, 1, (count, 2, 3))
    pose = turn_about(line[:, 0], line[:, 1], rng.uniform(-3, 3, count))
    shift = pose[:, :, 3] + rng.normal(0.0, 0.5, (count, 3))
    way = line[:, 1] - line[:, 0]
    way /= np.linalg.norm(way, axis=1, keepdims=True)
    point = rng.uniform(-1, 1, (count, 3))
    rate = rng.uniform(-2, 2, count)
    spin = rate[:, None] * way
    return Passing(
        turn=np.moveaxis(pose[:, :, :3], 0, -1).copy(),
        shift=shift.T.copy(),
        spin=spin.T.copy(),
        drift=np.cross(point, spin).T.copy(),
        half=np.full(count, half),
        point=point.T.copy(),
        way=way.T.copy(),
        parallel=np.ones(count, dtype=bool),
        base=np.zeros(count),
        slope=rate**2,
    )


def back(m: Passing) -> Passing:
    """The same at rest, the other way round."""
    turn = np.swapaxes(m.turn, 0, 1).copy()
    shift = -np.einsum("ikm,km->im", turn, m.shift)
    return Passing(turn, shift, m.spin, m.drift, m.half, m.point, m.way, m.parallel, m.base, m.slope)


def moved(shape: Shape, k: int, turn: np.ndarray, shift: np.ndarray) -> np.ndarray:
    return shape.corners()[:, :, k].T @ turn.T + shift


@pytest.mark.parametrize(("corners", "others"), [(6, 6), (4, 7), (5, 4)])
def test_all_axes_together_answer_as_fcl_does(corners: int, others: int) -> None:
    rng = np.random.default_rng(corners * 10 + others)
    count = 400
    first, second, m = plates(rng, count, corners), plates(rng, count, others), random_motion(rng, count)
    at = np.arange(count)
    gap = np.max(
        [
            face_gaps(first, at, second, at, m).station,
            face_gaps(second, at, first, at, back(m)).station,
            edge_gaps(first, at, second, at, m).station,
        ],
        axis=0,
    )
    nearest = np.maximum(gap, witness_gaps(first, at, second, at, m).station)
    still = np.eye(3), np.zeros(3)
    hits, exact, other = 0, [], []
    for k in range(count):
        a, b = moved(first, k, *still), moved(second, k, m.turn[..., k], m.shift[:, k])
        meets = oracle.meet(a, b)
        hits += meets
        assert meets == (gap[k] <= 0.0)
        if not meets:
            exact.append(prism_distance(a, b))
            other.append(oracle.distance(a, b))
            assert gap[k] <= exact[-1] + 1e-9, "a lower bound"
    near(nearest[gap > 0.0], exact, abs=1e-9, why="faces and nearest edges give the exact distance")
    near(exact, other, abs=1e-5, why="fcl iterates to 1e-6")
    assert 0.1 * count < hits < 0.9 * count, "both answers occur"


def test_bounds_over_an_interval_hold_at_every_point_of_it() -> None:
    rng = np.random.default_rng(1)
    count, half = 300, 0.15
    first, second, m = plates(rng, count, 6), plates(rng, count, 4), random_motion(rng, count, half)
    at = np.arange(count)
    found = [f(first, at, second, at, m) for f in (face_gaps, edge_gaps, sphere_gaps, witness_gaps)]
    interval, travel = np.max([f.interval for f in found], axis=0), np.min([f.travel for f in found], axis=0)
    held = np.flatnonzero(interval > 0.0)
    assert len(held) > 50
    used = np.inf
    for k in range(count):
        rate = float(np.linalg.norm(m.spin[:, k]) * np.sign(m.spin[:, k] @ m.way[:, k]))
        start = moved(second, k, m.turn[..., k], m.shift[:, k])
        for t in np.linspace(-half, half, 9):
            pose = turn_about(m.point[:, k], m.point[:, k] + m.way[:, k], np.array(rate * t))
            there = start @ pose[:, :3].T + pose[:, 3]
            assert np.linalg.norm(there - start, axis=1).max() <= travel[k] + 1e-12
            if k in held:
                exact = prism_distance(moved(first, k, np.eye(3), np.zeros(3)), there)
                assert exact >= interval[k]
                used = min(used, exact - interval[k])
    assert used < 0.02, "the bound is not idle"
