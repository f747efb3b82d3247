"""What the optics of one candidate come to: wavefront, Strehl where it means something, blur in the field, light."""

import math
from dataclasses import dataclass

from synth.optics.blur import Figures, blur, sensitivity_of, wavefront_rms
from synth.problem.problem import Problem

MARECHAL = 0.1
"""Strehl = exp(-(2 pi w)^2) is told up to this wavefront rms in wavelengths (Strehl 0.67). Beyond it the form, which
keeps only the variance of the phase, drifts from the truth; nor does it hold for a few rigid panels off by much."""


@dataclass(frozen=True)
class Report:
    """wavefront (m); strehl: None without a wavelength or beyond Marechal's range; blur and its parts (rad).

    diffraction: full angle between first dark rings, 2.44 lambda / D (rad; 0 without a wavelength). field_used: (blur +
    diffraction) over the field of view. bandwidth: change of wavelength (m) that spreads a diffractive focus over the
    field, None else.
    """

    wavefront: float
    strehl: float | None
    blur: float
    blur_slope: float
    blur_in_plane: float
    diffraction: float
    field_used: float | None
    bandwidth: float | None


def strehl(wavefront: float, wavelength: float) -> float:
    """exp(-(2 pi w / lambda)^2) (Marechal; case optics.strehl): peak intensity over that of a perfect optic.

    Valid for errors spread over the aperture with w below about lambda / 10 (MARECHAL).
    """
    return math.exp(-((2.0 * math.pi * wavefront / wavelength) ** 2))


def diffraction(wavelength: float, diameter: float) -> float:
    """Full angle 2.44 lambda / D between first dark rings (Airy; case optics.diffraction)."""
    return 2.0 * 3.8317059702075125 / math.pi * wavelength / diameter


def bandwidth(wavelength: float, focal_ratio: float, field_of_view: float) -> float:
    """lambda N FOV: the focal length of a diffractive optic goes as 1 / lambda, so a change d spreads the focus by the
    full angle d / (lambda N) (derived)."""
    return wavelength * focal_ratio * field_of_view


def report(problem: Problem, figures: Figures) -> Report:
    """Of a batch of one."""
    a = problem.aperture
    wave, spread = float(wavefront_rms(problem, figures)[0]), float(blur(problem, figures)[0])
    known = sensitivity_of(problem).deflection > 0.0
    told = a.wavelength is not None and known and wave <= MARECHAL * a.wavelength
    ring = diffraction(a.wavelength, a.clear_diameter) if a.wavelength is not None else 0.0
    narrow = None
    if problem.transmissive and a.wavelength and a.focal_ratio and a.field_of_view:
        narrow = bandwidth(a.wavelength, a.focal_ratio, a.field_of_view)
    return Report(
        wave,
        strehl(wave, a.wavelength) if told and a.wavelength is not None else None,
        spread,
        *blur_parts(problem, figures),
        ring,
        (spread + ring) / a.field_of_view if a.field_of_view else None,
        narrow,
    )


def blur_parts(problem: Problem, figures: Figures) -> tuple[float, float]:
    """Full angles (rad) that slopes and in-plane shifts alone would make."""
    felt = sensitivity_of(problem)
    slope2 = figures.slope_joints_rad2 + figures.slope_steady_rad2 + figures.slope_figure_rad2
    return 2.0 * felt.slope * math.sqrt(float(slope2[0])), 2.0 * felt.aim * float(figures.in_plane_rms[0])


def allowed(problem: Problem) -> dict[str, float]:
    """Errors (m) that alone would fill a wavefront of lambda / 14: out of plane and in plane (0 where none is felt)."""
    felt, wavelength = sensitivity_of(problem), problem.aperture.wavelength
    if wavelength is None:
        return {}
    found = {"surface_m": felt.deflection, "in_plane_m": felt.in_plane}
    return {name: wavelength / 14.0 / s for name, s in found.items() if s > 0.0}
