"""How surface slope, deflection and in-plane shift of a flat optic turn into ray and wavefront error.

A mirror feels (1 + cos theta) of a deflection and twice a slope. A flat transmissive diffractive panel, its phase
profile fixed to the part, feels (1 - cos theta) of a deflection, (1/cos theta - 1) of a slope, and sin theta of a
radial in-plane shift, theta the angle of the ray to the focus, tan theta = rho / (2 N) at the radius rho of the unit
clear circle (cases optics.axial_sensitivity, optics.tilt_sensitivity of the reference notes, derived).
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from synth.core.arrays import Floats


@dataclass(frozen=True)
class Sensitivity:
    """Root mean squares over the clear circle, each share of area counted alike.

    deflection: wavefront error a deflection, m/m. in_plane: wavefront error an in-plane shift in any direction,
    m/m. slope: ray angle a slope, rad/rad. aim: ray angle an in-plane shift, rad/m.
    """

    deflection: float
    in_plane: float
    slope: float
    aim: float


def at_ray(optic: str, tangent: Floats) -> tuple[Floats, Floats, Floats]:
    """Wavefront a deflection, wavefront a radial in-plane shift, ray angle a slope, for rays with that tan theta.

    A mirror: 1 + cos theta, 0, 2. A flat transmissive panel: 1 - cos theta, sin theta, 1 / cos theta - 1, in forms
    without cancellation at slow focal ratios.
    """
    cosine = 1.0 / np.sqrt(1.0 + tangent**2)
    if optic == "reflective":
        return 1.0 + cosine, np.zeros_like(cosine), np.full_like(cosine, 2.0)
    less = tangent**2 * cosine**2 / (1.0 + cosine)
    return less, tangent * cosine, less / cosine


@lru_cache(maxsize=64)
def sensitivity(optic: str, focal_ratio: float | None, diameter: float) -> Sensitivity:
    """Sensitivities of a "reflective" or "transmissive" flat optic of focal ratio N and clear diameter (m).

    Without a focal ratio a mirror counts as flat (theta = 0) and a transmissive panel gets none: nothing is
    then asked of it that depends on the focus. Small errors; the incoming beam along z.
    """
    if focal_ratio is None:
        return Sensitivity(2.0, 0.0, 2.0, 0.0) if optic == "reflective" else Sensitivity(0.0, 0.0, 0.0, 0.0)
    nodes, weights = np.polynomial.legendre.leggauss(24)
    squared = 0.5 * (nodes + 1.0)  # (rho)^2 has equal shares of area
    share = 0.5 * weights
    over = at_ray(optic, np.sqrt(squared) / (2.0 * focal_ratio))
    deflection, shift, slope = (float(np.sqrt((share * values**2).sum())) for values in over)
    if optic == "reflective":
        return Sensitivity(deflection, 0.0, slope, 0.0)
    # of a shift in any direction, half the mean square is radial
    return Sensitivity(deflection, shift / np.sqrt(2.0), slope, 1.0 / (focal_ratio * diameter))
