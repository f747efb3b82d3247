"""Saint-Venant torsion of a rectangular bar."""

import math

import numpy as np

from synth.core.arrays import Floats

_ODD = np.arange(1.0, 120.0, 2.0)


def _sides(width: Floats | float, thickness: Floats | float) -> tuple[Floats, Floats, Floats]:
    """Long side, short side, and n pi r / 2 [..., n] of their ratio r."""
    long, short = np.maximum(width, thickness), np.minimum(width, thickness)
    return long, short, np.asarray(long / short)[..., None] * _ODD * math.pi / 2.0


def torsion_constant(width: Floats | float, thickness: Floats | float) -> Floats:
    """J = c2 w t^3 (m^4), w and t the sides in either order; any shape.

    c2 = (1 - 192 / (pi^5 r) sum tanh(n pi r / 2) / n^5) / 3 over odd n, r = long over short side.
    Source: Saint-Venant's series, as in Timoshenko (derived, recomputed).
    """
    long, short, turns = _sides(width, thickness)
    series = (np.tanh(turns) / _ODD**5).sum(axis=-1)
    return np.asarray((1.0 - 192.0 / math.pi**5 * short / long * series) / 3.0 * long * short**3)


def shear_modulus_of_section(width: Floats | float, thickness: Floats | float) -> Floats:
    """T / tau_max = c1 w t^2 (m^3): torque over the greatest shear stress, at the middle of the long side; any shape.

    c1 = c2 / (1 - 8 / pi^2 sum 1 / (n^2 cosh(n pi r / 2))) over odd n. Source: as torsion_constant.
    """
    _, short, turns = _sides(width, thickness)
    series = (1.0 / (_ODD**2 * np.cosh(np.minimum(turns, 600.0)))).sum(axis=-1)
    return np.asarray(torsion_constant(width, thickness) / short / (1.0 - 8.0 / math.pi**2 * series))
