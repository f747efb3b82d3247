"""How surface slope, deflection and in-plane shift of a flat optic turn into ray and wavefront error.

A mirror feels (1 + cos theta) of a deflection and twice a slope. A flat transmissive diffractive panel, its phase
profile fixed to the part, feels (1 - cos theta) of a deflection, (1/cos theta - 1) of a slope, and sin theta of a
radial in-plane shift, theta the angle of the ray to the focus, tan theta = rho / (2 N) at the radius rho of the unit
clear circle (cases optics.axial_sensitivity, optics.tilt_sensitivity of the reference notes, derived).
"""

from dataclasses import dataclass

import numpy as np


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
    tangent2 = squared / (2.0 * focal_ratio) ** 2
    cosine = 1.0 / np.sqrt(1.0 + tangent2)
    # 1 - cos and sec - 1 without cancellation at slow focal ratios
    less = tangent2 * cosine**2 / (1.0 + cosine)

    def rms(values: np.ndarray) -> float:
        return float(np.sqrt((share * values**2).sum()))

    if optic == "reflective":
        return Sensitivity(rms(1.0 + cosine), 0.0, 2.0, 0.0)
    # of a shift in any direction, half the mean square is radial
    sine = np.sqrt(tangent2) * cosine
    focal_length = focal_ratio * diameter
    return Sensitivity(rms(less), rms(sine) / np.sqrt(2.0), rms(less / cosine), 1.0 / focal_length)
