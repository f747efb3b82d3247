"""Hypervolumes of the reference notes, cases moo.* (fronts: Zitzler, Deb, Thiele 2000; Deb et al. 2002; derived)."""

import math

import numpy as np
import pytest

from synth.core.arrays import Floats
from synth.fronts.indicators import hypervolume, nondominated
from tests.near import near
from tests.physics.structure_cases import case


def zdt3(f1: Floats) -> Floats:
    return np.asarray(1.0 - np.sqrt(f1) - f1 * np.sin(10.0 * np.pi * f1))


def staircase(f1: Floats, f2: Floats, reference: float) -> float:
    return hypervolume(np.stack([f1, f2], axis=1), np.array([reference, reference]))


def front_of(which: int, count: int) -> tuple[Floats, Floats]:
    """Sampled points of the true front of ZDT1 to 3."""
    f1 = np.linspace(0.0, 1.0, count)
    f2 = (1.0 - np.sqrt(f1), 1.0 - f1**2, zdt3(f1))[which - 1]
    if which == 3:
        keep = nondominated(np.stack([f1, f2], axis=1))
        f1, f2 = f1[keep], f2[keep]
    return f1, f2


@pytest.mark.parametrize(("name", "reference"), [("moo.zdt_hv", 1.1), ("moo.zdt_hv_unit", 1.0)])
def test_zdt_fronts(name: str, reference: float) -> None:
    """A staircase under a front sampled at n steps misses less than its rise over n, and is never above it."""
    asked = case(name)
    for which, known in enumerate(asked.expected, start=1):
        found = staircase(*front_of(which, 20001), reference)
        near(found, known, abs=4e-4, why="20001 samples")
        assert found < known


def test_zdt3_segments_are_what_is_not_dominated() -> None:
    segments, least = case("moo.zdt3_segments"), case("moo.zdt3_min_f2")
    step = 1e-5
    f1, f2 = front_of(3, 100001)
    jumps = np.flatnonzero(np.diff(f1) > 5.0 * step)
    starts, ends = f1[np.r_[0, jumps + 1]], f1[np.r_[jumps, len(f1) - 1]]
    near(np.stack([starts, ends], axis=1), segments.expected, abs=2.0 * step, why="sampled every 1e-5")
    near(f2.min(), least.expected, abs=1e-8, why="flat at its minimum, sampled every 1e-5")


def ball(objectives: int, reference: float) -> float:
    """Volume between a sphere's octant and the reference point."""
    whole = math.pi ** (objectives / 2.0) / math.gamma(objectives / 2.0 + 1.0)
    return reference**objectives - whole / 2**objectives


def test_dtlz_fronts() -> None:
    """Samples stay just below the true volume: two and three objectives; more by the ball's formula, for the record."""
    asked = case("moo.dtlz2_hv")
    shapes = ((2, 1.1), (3, 1.0), (3, 1.1), (4, 1.1), (5, 1.1))
    near([ball(m, r) for m, r in shapes], asked.expected, rel=1e-9)
    rng = np.random.default_rng(4)
    for (m, r), known, slack in zip(shapes[:3], asked.expected, (2e-4, 6e-3, 6e-3), strict=False):
        points = np.abs(rng.standard_normal((60000, m)))
        points /= np.linalg.norm(points, axis=1, keepdims=True)
        found = hypervolume(points, np.full(m, r))
        assert known - slack < found < known
    linear = case("moo.dtlz1_hv")
    step = np.linspace(0.0, 0.5, 4001)
    two = staircase(step, 0.5 - step, 0.55)
    near(two, linear.expected[0], abs=1e-4, why="4001 samples")
    n = 60
    grid = np.array([(i, j, n - i - j) for i in range(n + 1) for j in range(n + 1 - i)]) * 0.5 / n
    three = hypervolume(grid, np.full(3, 0.55))

    def lattice(n: int) -> float:
        """Volume over a lattice of n steps: cells whose corner lies under the plane are not dominated (counting)."""
        return 0.55**3 - (0.5 / n) ** 3 * n * (n + 1) * (n + 2) / 6.0

    near(three, lattice(n), rel=1e-9)
    near(lattice(10**10), linear.expected[1], rel=1e-9)
    assert two < linear.expected[0] and three < linear.expected[1]


def test_hand_sets_and_samples() -> None:
    asked = case("moo.hand_sets")
    sets = (([(0, 1), (0.25, 0.5), (1, 0)], 1.1), ([(1, 2, 3), (2, 1, 3), (3, 3, 1)], 4.0),
            ([(1, 2, 3), (2, 1, 3), (3, 3, 1), (2, 2, 2), (4, 4, 4), (5, 0, 0)], 4.0),
            ([(1, 2, 3, 4), (4, 3, 2, 1), (2, 2, 2, 2)], 5.0))  # fmt: skip
    found = [hypervolume(np.array(p, dtype=float), np.full(len(p[0]), r)) for p, r in sets]
    assert asked.holds(*found)
    assert case("moo.zdt1_sampled").holds(*(staircase(*front_of(1, n), 1.1) for n in (11, 101)))
