"""Rigid parts of a stage: twists against differences, and the bound on relative acceleration against sampling."""

import numpy as np
import pytest

from synth.core.arrays import compose, invert, transform
from synth.core.topology import Topology
from synth.fold.course import Course
from tests.fold import chains
from tests.near import near


def tangled(seed: int, panels: int = 7) -> Course:
    """A random tree with skew hinge lines, two stages, all angles different."""
    rng = np.random.default_rng(seed)
    parent = np.array([-1] + [int(rng.integers(0, p)) for p in range(1, panels)])
    zero = np.zeros(panels - 1, dtype=np.int64)
    stage = rng.integers(0, 2, panels - 1)
    stage[:2] = 0, 1
    topology = Topology(parent, zero + 1, zero, stage, zero, np.zeros(panels, int), np.zeros(panels, int))
    return Course.of(topology, rng.uniform(-1, 1, (panels - 1, 2, 3)), rng.uniform(-3, 3, panels - 1))


def seen_from(course: Course, first: int, second: int, point: np.ndarray, s: np.ndarray) -> np.ndarray:
    placed = course.placed(s)
    return transform(compose(invert(placed[:, first]), placed[:, second]), point[None])[:, 0]


@pytest.mark.parametrize("seed", range(5))
def test_velocities_are_the_slope_of_the_motion(seed: int) -> None:
    course = tangled(seed)
    rng = np.random.default_rng(seed)
    s, h = np.array([0.21, 0.83]), 1e-5
    stage = np.array([0, 1])
    at = course.at(s, stage)
    for first, second in ((0, 6), (3, 5), (6, 1)):
        point = rng.uniform(-1, 1, 3)
        ones = np.ones(2, dtype=np.int64)
        m = course.motion(at, np.arange(2), first * ones, second * ones, stage, np.zeros(2))
        here = seen_from(course, first, second, point, s)
        velocity, _ = m.bounds(here.T)
        slope = (seen_from(course, first, second, point, s + h) - seen_from(course, first, second, point, s - h)) / (
            2 * h
        )
        near(velocity.T, slope, abs=2e-6, why="central differences")


@pytest.mark.parametrize("seed", range(8))
def test_nothing_bends_its_way_harder_than_the_bound(seed: int) -> None:
    course = tangled(seed) if seed < 6 else chain_course(seed)
    panels = course.topology.panels
    h, closest = 1e-4, np.inf
    rng = np.random.default_rng(seed)
    for k in range(course.stages):
        a, b = course.bounds[k], course.bounds[k + 1]
        s = a + (b - a) * rng.uniform(0.02, 0.98, 40)
        at = course.at(s, np.full(40, k))
        for first in range(panels):
            for second in range(panels):
                ones = np.ones(40, dtype=np.int64)
                m = course.motion(at, np.arange(40), first * ones, second * ones, k * ones, np.ones(40))
                point = rng.uniform(-1, 1, 3)
                here = seen_from(course, first, second, point, s)
                _, bend = m.bounds(here.T)
                ahead, behind = (seen_from(course, first, second, point, s + d) for d in (h, -h))
                found = np.linalg.norm(ahead - 2 * here + behind, axis=1) / h**2
                assert np.all(found <= 2.0 * bend * (1 + 1e-5) + 1e-4)
                if found.max() > 1e-2:
                    closest = min(closest, float((2.0 * bend / np.maximum(found, 1e-12)).min()))
    assert closest < 1.01, "for two panels on one hinge the bound is met"


def chain_course(seed: int) -> Course:
    laid = chains.accordion(6) if seed == 6 else chains.star(staged=False)
    return Course.of(laid.topology, laid.geometry.axis[0], laid.geometry.stowed_angle[0])


def test_hops_and_parallels_of_an_accordion() -> None:
    laid = chains.accordion(5)
    course = Course.of(laid.topology, laid.geometry.axis[0], laid.geometry.stowed_angle[0])
    panel = np.arange(5)
    assert np.array_equal(course.hops[0], np.abs(panel[:, None] - panel[None, :]))
    assert course.parallel.all()
    # panels two apart keep parallel: they do not turn against each other
    assert np.allclose(np.diagonal(course.slope[0], 2), 0.0)
    near(np.diagonal(course.slope[0], 1), np.pi**2, rel=1e-12)
