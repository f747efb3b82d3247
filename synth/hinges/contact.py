"""A ball on a flat: how far it gives and how hard it presses."""

import math
from dataclasses import dataclass


@dataclass(frozen=True)
class BallContact:
    """modulus: effective contact modulus E* (Pa); approach (m); radius of the contact (m); peak pressure (Pa);
    stiffness: dF/d(approach) at this force (N/m)."""

    modulus: float
    approach: float
    radius: float
    pressure: float
    stiffness: float


def ball_on_flat(radius: float, force: float, youngs_modulus: float, poisson_ratio: float) -> BallContact:
    """Hertz contact of a ball and a flat of one material.

    E* = E / (2 (1 - nu^2)), approach = (9 F^2 / (16 R E*^2))^(1/3), a = (3 F R / (4 E*))^(1/3),
    p0 = 3 F / (2 pi a^2), k = 2 E* a. Elastic, frictionless, a much smaller than R. SI.
    Source: Hertz 1882 as in contact mechanics textbooks (derived, recomputed).
    """
    modulus = youngs_modulus / (2.0 * (1.0 - poisson_ratio**2))
    a = (3.0 * force * radius / (4.0 * modulus)) ** (1.0 / 3.0)
    approach = (9.0 * force**2 / (16.0 * radius * modulus**2)) ** (1.0 / 3.0)
    return BallContact(modulus, approach, a, 1.5 * force / (math.pi * a**2), 2.0 * modulus * a)
