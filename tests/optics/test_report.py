"""Wavefront, Strehl, diffraction, blur in the field and bandwidth, against the reference cases (optics.*)."""

from types import SimpleNamespace
from typing import Any

import numpy as np

from synth.optics.report import allowed, bandwidth, diffraction, report, strehl
from tests.near import near
from tests.physics.structure_cases import case

LINE = 1064e-9


def figures(surface: float, in_plane: float = 0.0) -> Any:
    zero = np.zeros(1)
    return SimpleNamespace(
        slope_joints_rad2=np.array([1e-10]), slope_steady_rad2=zero, slope_figure_rad2=zero,
        surface_rms=np.array([surface]), in_plane_rms=np.array([in_plane]),
    )  # fmt: skip


def problem(optic: str, ratio: float | None = None, wavelength: float | None = LINE) -> Any:
    aperture = SimpleNamespace(
        optic=optic, focal_ratio=ratio, clear_diameter=0.5, wavelength=wavelength, field_of_view=1e-4
    )
    return SimpleNamespace(aperture=aperture, transmissive=optic == "transmissive")


def test_strehl_is_marechals_exponential() -> None:
    given = case("optics.strehl")
    for w, (exponential, _) in zip(given.inputs["w_over_lambda"], given.expected, strict=True):
        near(strehl(w, 1.0), exponential, rel=given.tolerance_rel, why=given.source)


def test_strehl_of_a_mirror_is_that_of_ruze() -> None:
    """exp(-(4 pi eps / lambda)^2) for a surface rms eps (cases optics.ruze, optics.ruze_thresholds)."""
    given = case("optics.ruze_thresholds")
    for share, wanted in ((10.0**-0.1, given.expected[0]), (0.8, given.expected[1]), (0.5, given.expected[2])):
        near(strehl(2.0 * wanted, 1.0), share, rel=1e-9, why=given.source)
    found = report(problem("reflective"), figures(0.0375908638679 * LINE))
    near(found.wavefront, 2.0 * 0.0375908638679 * LINE, rel=1e-9)
    assert found.strehl is not None
    near(found.strehl, 0.8, rel=1e-9)


def test_strehl_is_not_told_where_it_means_nothing() -> None:
    """One micrometre of mirror surface at 1064 nm: a wavefront of 1.9 wavelengths is judged by blur alone."""
    assert report(problem("reflective"), figures(1e-6)).strehl is None
    assert report(problem("reflective", wavelength=None), figures(1e-9)).strehl is None
    assert report(problem("transmissive"), figures(1e-9)).strehl is None
    assert report(problem("reflective"), figures(1e-8)).strehl is not None


def test_diffraction_and_blur_in_the_field() -> None:
    """1.22 lambda / D half angle (case optics.diffraction); 10 urad of slope is 40 urad of blur in a mirror."""
    half, spot = case("optics.diffraction").expected
    near(diffraction(LINE, 0.5), 2.0 * half, rel=1e-8)
    near(diffraction(LINE, 0.5) * 2.0, spot, rel=1e-8)
    found = report(problem("reflective"), figures(1e-6))
    near(found.blur, 40e-6, rel=1e-9)
    assert found.field_used is not None
    near(found.field_used, (40e-6 + 2.0 * half) / 1e-4, rel=1e-8)
    assert found.bandwidth is None


def test_bandwidth_spreads_the_focus_over_the_field() -> None:
    """By tracing: an f/2 sheet made for 532 nm has focal length f 532 / 532.1064 for that colour; its rim ray
    misses the focus by D / 2 (1 - f' / f) on either side."""
    focal, wavelength, change = 1.0, 532e-9, 0.1064e-9
    other = focal * wavelength / (wavelength + change)
    across = 2.0 * 0.25 * (focal - other) / other
    near(bandwidth(wavelength, 2.0, across / focal), change, rel=1e-3, why="first order")
    found = report(problem("transmissive", 2.0), figures(1e-8, 1e-8))
    assert found.bandwidth is not None
    near(found.bandwidth, LINE * 2.0 * 1e-4, rel=1e-12)


def test_what_a_fourteenth_of_a_wave_allows() -> None:
    """A flat mirror 38 nm; an f/2 diffractive sheet 60 times and more out of plane, but 0.3 to 0.6 um in plane."""
    near(allowed(problem("reflective"))["surface_m"], LINE / 28.0, rel=1e-9)
    sheet = allowed(problem("transmissive", 2.0))
    # at the rim alone 1 - cos = 0.02986 and sin = 0.2425 (case optics.axial_sensitivity): the disc is softer
    rim = case("optics.axial_sensitivity").expected[1]
    assert sheet["surface_m"] > LINE / 14.0 / rim[0] and sheet["in_plane_m"] > LINE / 14.0 / rim[3]
    rho2 = (np.arange(200000) + 0.5) / 200000
    theta = np.arctan(np.sqrt(rho2) / 4.0)
    near(sheet["surface_m"], LINE / 14.0 / np.sqrt(np.mean((1 - np.cos(theta)) ** 2)), rel=1e-6)
    near(sheet["in_plane_m"], LINE / 14.0 / np.sqrt(np.mean(np.sin(theta) ** 2) / 2.0), rel=1e-6)
