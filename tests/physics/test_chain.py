"""Rigid chains of panels: error statistics and natural frequencies against exact values.

Source: the reference notes, cases error.chain_n1..6, chain.freq_n1..6 (own derivation, exact fractions and
30-digit eigenvalues; flag derived). The plates are made so stiff, and the springs other than the hinge line so
stiff, that the network is the chain.
"""

from dataclasses import replace

import numpy as np
import pytest

from synth.core.design import Design
from synth.structure.loads import Loads
from synth.structure.network import deployed
from tests.near import near
from tests.structure.make import strip

BEST_FIT = {1: 0.0, 2: 1 / 48, 3: 16 / 243, 4: 59 / 384, 5: 112 / 375, 6: 2003 / 3888}
OMEGA = {1: 1.7320508076, 2: 0.58383564196, 3: 0.29248284803, 4: 0.175616725, 5: 0.11711922114, 6: 0.083673313293}
SIGMA, LENGTH, SPRING = 1e-5, 0.25, 50.0


def chain(count: int) -> Design:
    """Stiff panels of side 0.25 m, one unit an edge in its middle, free to turn about the edge only."""
    return strip(
        count,
        length=LENGTH,
        width=LENGTH,
        pairs=0,
        reach=0.0,
        modulus=1e16,
        stiffness=(1e11, 1e11, 1e11, SPRING, 1e9, 1e9),
        sigma=(0.0, 0.0, 0.0, SIGMA, 0.0, 0.0),
    )


@pytest.mark.parametrize("count", range(1, 7))
def test_serial_errors_after_best_fit(count: int) -> None:
    """Mean square about the best-fit plane in (sigma L)^2: 0, 1/48, 16/243, 59/384, 112/375, 2003/3888."""
    got = deployed(chain(count), Loads())
    assert near(got.joints_m2 / (SIGMA * LENGTH) ** 2, BEST_FIT[count], rel=1e-4, abs=1e-5, why="springs not infinite")


@pytest.mark.parametrize("count", range(1, 7))
def test_serial_slopes(count: int) -> None:
    """Slopes of a chain about their mean: variance of the partial sums k = 1..n, sigma^2 (n + 1)(n - 1) / (6 n)."""
    got = deployed(chain(count), Loads())
    expected = (count + 1) * (count - 1) / (6 * count)
    assert near(got.slope_joints_rad2 / SIGMA**2, expected, rel=1e-4, abs=1e-5, why="springs not infinite")


@pytest.mark.parametrize("count", range(1, 7))
def test_first_frequency(count: int) -> None:
    """omega_1 in sqrt(k / (m a^2)) of uniform bars on equal torsion springs."""
    made = chain(count)
    mass = made.panels.mass[0, 0]
    got = 2 * np.pi * deployed(made, Loads()).first_mode_hz / np.sqrt(SPRING / (mass * LENGTH**2))
    assert near(got, OMEGA[count], rel=1e-4, why="springs and plates not infinite")


def test_errors_grow_with_the_misfit_only() -> None:
    """Twice the misfit, four times the mean square; the stiffness of a hinge-only chain does not matter."""
    made = chain(4)
    soft = replace(made, units=replace(made.units, stiffness=made.units.stiffness * 0.5))
    double = replace(made, units=replace(made.units, sigma=made.units.sigma * 2.0))
    base = deployed(made, Loads()).joints_m2
    assert near(deployed(soft, Loads()).joints_m2, base, rel=1e-4)
    assert near(deployed(double, Loads()).joints_m2, 4.0 * base, rel=1e-6)
