"""Blur and wavefront from network figures, by hand."""

from types import SimpleNamespace
from typing import Any

import numpy as np

from synth.optics.blur import blur, wavefront_rms
from tests.near import near

FIGURES: Any = SimpleNamespace(
    slope_joints_rad2=np.array([4e-10]),
    slope_steady_rad2=np.array([3e-10]),
    slope_figure_rad2=np.array([2e-10]),
    surface_rms=np.array([3e-6]),
    in_plane_rms=np.array([8e-6]),
)


def problem(optic: str, ratio: float | None) -> Any:
    return SimpleNamespace(aperture=SimpleNamespace(optic=optic, focal_ratio=ratio, clear_diameter=0.5))


def test_mirror_turns_rays_by_twice_the_slope() -> None:
    """Slopes of 30 urad rms: rays off by 60, full angle 120 urad."""
    assert near(blur(problem("reflective", 4.0), FIGURES), 120e-6, rel=1e-9)
    assert near(wavefront_rms(problem("reflective", None), FIGURES), 6e-6, rel=1e-9)


def test_transmissive_panel_feels_the_shift() -> None:
    """f/2, 0.5 m: 8 um in plane over a focal length of 1 m is 8 urad; slopes count for (sec - 1), rms 0.0179."""
    turn = np.sqrt(np.mean((np.sqrt(1 + (np.arange(100000) + 0.5) / 1e5 / 16) - 1) ** 2))
    expected = 2 * np.hypot(30e-6 * turn, 8e-6)
    assert near(blur(problem("transmissive", 2.0), FIGURES), expected, rel=1e-6)
    assert blur(problem("transmissive", None), FIGURES)[0] == 0.0
