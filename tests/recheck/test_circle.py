"""The least circle of the recheck: closed forms, an optimizer."""

import numpy as np
import pytest
from scipy.optimize import minimize

from synth.recheck.circle import least_diameter
from synth.stow.circle import least_circle
from tests.near import near


def test_triangles_in_closed_form() -> None:
    right = np.array([[0.0, 0.0], [3.0, 0.0], [0.0, 4.0]])
    near(least_diameter(right), 5.0, rel=1e-12)
    turn = np.arange(3) * 2.0 * np.pi / 3.0
    near(least_diameter(np.stack([np.cos(turn), np.sin(turn)], axis=-1)), 2.0, rel=1e-12)
    blunt = np.array([[-1.0, 0.0], [1.0, 0.0], [0.2, 0.3]])
    near(least_diameter(blunt), 2.0, rel=1e-12)


@pytest.mark.parametrize("seed", range(6))
def test_the_least_of_a_convex_function(seed: int) -> None:
    """The farthest distance is convex in the centre: Nelder-Mead from several starts, and the search's own circle."""
    points = np.random.default_rng(seed).normal(size=(30, 2)) * [1.0, 0.4]

    def reach(centre: np.ndarray) -> float:
        return float(np.linalg.norm(points - centre, axis=1).max())

    starts = np.random.default_rng(seed + 100).normal(size=(4, 2)) * 0.1
    found = [minimize(reach, s, method="Nelder-Mead", options={"xatol": 1e-10, "fatol": 1e-12}).fun for s in starts]
    near(least_diameter(points), 2.0 * min(found), rel=1e-7, why="an optimizer's last digits")
    near(least_diameter(points), 2.0 * float(least_circle(points[None])[1][0]), rel=1e-12)
