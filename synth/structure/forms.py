"""What the network needs to know of a plate basis: integrals over each panel, values at feet."""

from abc import ABC, abstractmethod
from dataclasses import dataclass
from functools import cache

import numpy as np

from synth.core.arrays import Floats, Ints


@dataclass(frozen=True, eq=False)
class Forms:
    """Means over the area of each panel, for a basis of N deflection shapes w; d = (x, y) - centre. SI.

    area [B, P], centre [B, P, 2], polar [B, P] (mean |d|^2); first [B, P, N] (mean w);
    slope [B, P, 2, N] (mean dw/dx, dw/dy); spin, swell [B, P, N] (mean of d_y dw/dx - d_x dw/dy and of
    d_x dw/dx + d_y dw/dy); laplace [B, P, N] (mean of the sum of curvatures); square, slopes [B, P, N, N] (means of w w
    and grad w . grad w); fit [B, P, N, 4]: coefficients of 1, x, y and x^2 + y^2.
    """

    area: Floats
    centre: Floats
    polar: Floats
    first: Floats
    slope: Floats
    spin: Floats
    swell: Floats
    laplace: Floats
    square: Floats
    slopes: Floats
    fit: Floats


class Plates(ABC):
    """A basis of deflection shapes on every panel of a batch."""

    forms: Forms

    @abstractmethod
    def bending(self, stiffness: Floats, poisson: Floats) -> Floats:
        """Plate stiffness [B, P, N, N] for D [B, P] and nu [B]: D int (1 - nu) H : H + nu (tr H)^2, H the second
        derivatives."""

    @abstractmethod
    def pads(self, panel: Ints, foot: Floats, radius: Floats) -> Floats:
        """Mean deflection and its mean x and y slopes [B, F, 3, N] over discs.

        panel [F]; foot [B, F, 2]; radius [B, F] (0 gives the value at the point). The polynomials
        go on where a disc passes the outline.
        """

    def at_feet(self, panel: Ints, foot: Floats, radius: Floats) -> tuple[Floats, Floats]:
        """Mean deflection [B, F, N] and mean gradient [B, F, 2, N] over discs: see pads."""
        found = self.pads(panel, foot, radius)
        return found[..., 0, :], found[..., 1:, :]


@cache
def disc_rule(degree: int) -> tuple[Floats, Floats]:
    """Points [Q, 2] and weights [Q] (sum 1) that average polynomials of that degree over the unit disc exactly.

    Product rule: degree + 1 equal angles, Gauss-Legendre in r^2.
    """
    angles = 2.0 * np.pi * np.arange(degree + 1) / (degree + 1)
    nodes, weights = np.polynomial.legendre.leggauss((degree // 2 + 2) // 2)
    radius = np.sqrt(0.5 * (nodes + 1.0))
    points = np.stack([np.outer(radius, np.cos(angles)), np.outer(radius, np.sin(angles))], axis=-1)
    spread = np.repeat(0.5 * weights[:, None] / (degree + 1), degree + 1, axis=1)
    return points.reshape(-1, 2), spread.reshape(-1)
