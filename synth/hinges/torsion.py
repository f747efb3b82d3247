"""Saint-Venant torsion of a rectangular bar."""

import math

_TERMS = range(1, 120, 2)


def torsion_constant(width: float, thickness: float) -> float:
    """J = c2 w t^3 (m^4), w and t the sides in either order.

    c2 = (1 - 192 / (pi^5 r) sum tanh(n pi r / 2) / n^5) / 3 over odd n, r = long over short side.
    Source: Saint-Venant's series, as in Timoshenko (derived, recomputed).
    """
    long, short = max(width, thickness), min(width, thickness)
    r = long / short
    series = math.fsum(math.tanh(n * math.pi * r / 2.0) / n**5 for n in _TERMS)
    return (1.0 - 192.0 / (math.pi**5 * r) * series) / 3.0 * long * short**3


def shear_modulus_of_section(width: float, thickness: float) -> float:
    """T / tau_max = c1 w t^2 (m^3): torque over the greatest shear stress, at the middle of the long side.

    c1 = c2 / (1 - 8 / pi^2 sum 1 / (n^2 cosh(n pi r / 2))) over odd n. Source: as torsion_constant.
    """
    long, short = max(width, thickness), min(width, thickness)
    r = long / short
    series = math.fsum(1.0 / (n**2 * math.cosh(n * math.pi * r / 2.0)) for n in _TERMS if n * r < 400.0)
    return torsion_constant(width, thickness) / short / (1.0 - 8.0 / math.pi**2 * series)
