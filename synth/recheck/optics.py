"""Blur and wavefront of a record from the network's figures: how a flat optic turns surface error into ray error.

theta: angle of the ray to the focus, tan theta = rho / (2 N) at radius rho of the unit clear circle. A mirror turns a
ray by twice the slope; a flat transmissive panel by (1 / cos theta - 1) times it, and by the in-plane shift over
the focal length (derived; see the optics chapter of the docs).
"""

import math

import numpy as np

from synth.recheck.asked import Asked
from synth.recheck.network import Found

RINGS = 20000
"""Rings of equal area over which the sensitivities are averaged."""


def blur_of(found: Found, asked: Asked) -> float:
    """Full angle of the blur that deployment adds: twice the rms ray deviation, rad."""
    slope2 = found.slope_joints + found.slope_figure + found.slope_steady
    if not asked.transmissive:
        return 4.0 * math.sqrt(slope2)
    if asked.focal_ratio is None:
        return 0.0
    secant = 1.0 / np.cos(_rays(asked.focal_ratio))
    turn2 = float(((secant - 1.0) ** 2).mean()) * slope2
    shift2 = (found.in_plane_joints + found.in_plane_steady) / (asked.focal_ratio * asked.clear_diameter) ** 2
    return 2.0 * math.sqrt(turn2 + shift2)


def wavefront_of(found: Found, asked: Asked) -> float:
    """Wavefront error rms, m: 1 + cos theta (mirror) or 1 - cos theta of deflection, sin theta of radial shift."""
    surface2 = found.joints + found.figure + found.steady
    theta = _rays(asked.focal_ratio) if asked.focal_ratio is not None else np.zeros(1)
    if not asked.transmissive:
        return math.sqrt(float(((1.0 + np.cos(theta)) ** 2).mean()) * surface2)
    shift2 = 0.5 * float((np.sin(theta) ** 2).mean()) * (found.in_plane_joints + found.in_plane_steady)
    return math.sqrt(float(((1.0 - np.cos(theta)) ** 2).mean()) * surface2 + shift2)


def _rays(focal_ratio: float) -> np.ndarray:
    """theta in the middle of rings of equal area."""
    return np.arctan(np.sqrt((np.arange(RINGS) + 0.5) / RINGS) / (2.0 * focal_ratio))
