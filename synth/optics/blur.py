"""Blur at the detector and wavefront error from the figures of the deployed network."""

from typing import Protocol

import numpy as np

from synth.core.arrays import Column
from synth.optics.sensitivity import Sensitivity, sensitivity
from synth.problem.problem import Problem


class Figures(Protocol):
    """What blur needs of the deployed network, columns [B], SI."""

    @property
    def slope_joints_rad2(self) -> Column: ...
    @property
    def slope_steady_rad2(self) -> Column: ...
    @property
    def slope_figure_rad2(self) -> Column: ...
    @property
    def surface_rms(self) -> Column: ...
    @property
    def in_plane_rms(self) -> Column: ...


def blur(problem: Problem, figures: Figures) -> Column:
    """Full angle of the blur that deployment adds at the detector [B], rad: twice the rms ray deviation.

    The mean deviation is pointing and is taken out (where refocus, a dome too). Rays turn by slope x sensitivity (2
    for a mirror, mean square of 1/cos theta - 1 for a transmissive panel) and, for a transmissive panel, by the
    in-plane shift over the focal length; both add in mean square. Approximate: slope errors count alike all
    over the clear circle, and diffraction is not in it.
    """
    felt = sensitivity_of(problem)
    slope2 = figures.slope_joints_rad2 + figures.slope_steady_rad2 + figures.slope_figure_rad2
    deviation2 = felt.slope**2 * slope2 + (felt.aim * figures.in_plane_rms) ** 2
    return np.asarray(2.0 * np.sqrt(deviation2))


def wavefront_rms(problem: Problem, figures: Figures) -> Column:
    """Wavefront error rms [B], m: deflection and in-plane shift by their mean-square sensitivities, independent.

    Approximate: errors count alike all over the clear circle; not valid near the centre alone.
    """
    felt = sensitivity_of(problem)
    return np.asarray(np.hypot(felt.deflection * figures.surface_rms, felt.in_plane * figures.in_plane_rms))


def sensitivity_of(problem: Problem) -> Sensitivity:
    """Sensitivities of the problem's optic."""
    aperture = problem.aperture
    return sensitivity(aperture.optic, aperture.focal_ratio, aperture.clear_diameter)
