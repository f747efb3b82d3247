"""Optical sensitivities against the reference notes (cases optics.*, derived)."""

import numpy as np
import pytest

from synth.optics.sensitivity import sensitivity
from tests.near import near


@pytest.mark.parametrize("ratio", [1.0, 2.0, 5.0, 50.0])
def test_transmissive_mean_squares(ratio: float) -> None:
    """rms over the disc of 1 - cos, sin/sqrt 2 and sec - 1 by a brute sum over rings, tan theta = rho/(2 N)."""
    rho2 = (np.arange(200000) + 0.5) / 200000
    cosine = 1 / np.sqrt(1 + rho2 / (2 * ratio) ** 2)
    got = sensitivity("transmissive", ratio, 0.5)
    assert near(got.deflection, np.sqrt(np.mean((1 - cosine) ** 2)), rel=1e-6)
    assert near(got.in_plane, np.sqrt(np.mean(1 - cosine**2) / 2), rel=1e-6)
    assert near(got.slope, np.sqrt(np.mean((1 / cosine - 1) ** 2)), rel=1e-6)
    assert near(got.aim, 1 / (ratio * 0.5), rel=1e-12)


def test_mirror() -> None:
    """Case optics.tilt_sensitivity: 2 rad/rad; deflection 1 + cos theta between its edge value at f/2 and 2."""
    got = sensitivity("reflective", 2.0, 0.5)
    assert near(got.slope, 2.0, rel=1e-12)
    assert 1.97014250015 < got.deflection < 2.0
    rho2 = (np.arange(200000) + 0.5) / 200000
    assert near(got.deflection, np.sqrt(np.mean((1 + 1 / np.sqrt(1 + rho2 / 16)) ** 2)), rel=1e-6)
    assert got.in_plane == 0.0


def test_flat_mirror_without_a_focus() -> None:
    """theta = 0: twice the deflection."""
    assert near(sensitivity("reflective", None, 0.5).deflection, 2.0, rel=1e-12)
