"""A bent tape's moment against a direct minimisation of its energy, and against the published steady moments."""

import numpy as np
import pytest
from numpy.polynomial import legendre

from synth.hinges import tape
from tests.near import near

TAPE = {"youngs_modulus": 210e9, "poisson_ratio": 0.3, "thickness": 1e-4, "radius": 0.014, "subtended": 1.745}


def by_least_energy(curvature: float, opposite: bool, terms: int = 24) -> float:
    """Moment of a strip bent to one curvature k: w(y) across it minimises
    1/2 E t k^2 w^2 + D/2 (k^2 + 2 nu k c + c^2), c = w'' less the transverse curvature it was made with; M = dU/dk."""
    e, nu, t, r, alpha = TAPE.values()
    d, half = e * t**3 / 12.0 / (1.0 - nu**2), r * alpha / 2.0
    made = -1.0 / r if opposite else 1.0 / r
    x, weight = legendre.leggauss(200)
    weight = weight * half
    unit = np.eye(terms)
    value = np.stack([legendre.legval(x, unit[i]) for i in range(0, terms, 2)])
    second = np.stack([legendre.legval(x, legendre.legder(unit[i], 2)) for i in range(0, terms, 2)]) / half**2
    matrix = e * t * curvature**2 * (value * weight) @ value.T + d * (second * weight) @ second.T
    c = np.linalg.solve(matrix, d * (second * weight) @ np.full_like(x, made - nu * curvature))
    w, bend = c @ value, c @ second - made
    return float(np.sum(weight * (e * t * curvature * w**2 + d * (curvature + nu * bend))))


@pytest.mark.parametrize("opposite", [True, False])
def test_moment_of_a_tape_is_that_of_least_energy(opposite: bool) -> None:
    for curvature in (0.05, 0.3, 0.8, 3.0, 10.0, 40.0):
        found = tape.uniform_moment(**TAPE, curvature=curvature, opposite=opposite)
        near(found, by_least_energy(curvature, opposite), rel=1e-6, why="Ritz with 12 even Legendre terms")


@pytest.mark.parametrize("opposite", [True, False])
def test_peak_is_the_greatest_before_the_snap_and_far_above_the_steady_fold(opposite: bool) -> None:
    moment, curvature = tape.peak(**TAPE, opposite=opposite)
    fine = np.geomspace(0.3, 5.0, 4000)
    near(moment, tape.uniform_moment(**TAPE, curvature=fine, opposite=opposite).max(), rel=1e-3)
    near(moment, by_least_energy(float(curvature), opposite), rel=1e-6)
    steady = tape.steady_moment(tape.plate_stiffness(210e9, 0.3, 1e-4), 0.3, 1.745, opposite)
    assert moment > 5.0 * steady


def test_a_tape_bent_to_its_own_radius_gives_nearly_the_steady_moment() -> None:
    """There the section is flat but for its edges, so the moment of uniform bending lies close to D alpha (1 + nu)."""
    steady = tape.steady_moment(tape.plate_stiffness(210e9, 0.3, 1e-4), 0.3, 1.745, True)
    near(tape.uniform_moment(**TAPE, curvature=1.0 / 0.014, opposite=True), steady, rel=5e-3, why="edges bend back")
