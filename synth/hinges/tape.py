"""Moment of a curved strip (tape) that is bent along its length, before and after it snaps into a fold. SI."""

import numpy as np

from synth.core.arrays import Floats


def plate_stiffness(youngs_modulus: Floats | float, poisson_ratio: Floats | float, thickness: Floats | float) -> Floats:
    """D = E t^3 / (12 (1 - nu^2)), N m."""
    return np.asarray(youngs_modulus * np.power(thickness, 3) / (12.0 * (1.0 - np.square(poisson_ratio))))


def uniform_moment(
    youngs_modulus: Floats | float,
    poisson_ratio: Floats | float,
    thickness: Floats | float,
    radius: Floats | float,
    subtended: Floats | float,
    curvature: Floats | float,
    opposite: bool,
) -> Floats:
    """Moment (N m) of a long tape bent to one longitudinal curvature (1/m, above zero) all along; any shape.

    With a = R alpha the arc, D the plate stiffness, k the curvature and s = +1/R in the opposite sense, -1/R in the
    equal:
        lambda = (3 (1 - nu^2))^(1/4) a / sqrt(t / k)
        F1 = (2 / lambda) (cosh lambda - cos lambda) / (sinh lambda + sin lambda)
        F2 = F1 / 4 - sinh lambda sin lambda / (sinh lambda + sin lambda)^2
        M = a D (k + nu s - nu (s + nu k) F1 + (s + nu k)^2 F2 / k)
    Shallow arcs, linear elastic, ends far away. A tape bent in the equal sense twists before it reaches the peak of
    this curve, so there it is an upper bound. Source: Wuest 1954, Mansfield 1973, Seffen and Pellegrino 1999 (memory);
    agrees to 1e-6 with a direct minimisation of the strip's energy (derived, in the tests).
    """
    arc = np.multiply(radius, subtended)
    nu, k = np.asarray(poisson_ratio), np.asarray(curvature)
    across = (1.0 if opposite else -1.0) / np.asarray(radius)
    lam = np.power(3.0 * (1.0 - nu**2), 0.25) * arc / np.sqrt(thickness / k)
    lam = np.minimum(lam, 300.0)  # beyond, both functions are at their limits and cosh would overflow
    total = np.sinh(lam) + np.sin(lam)
    first = 2.0 / lam * (np.cosh(lam) - np.cos(lam)) / total
    second = first / 4.0 - np.sinh(lam) * np.sin(lam) / total**2
    shape = k + nu * across - nu * (across + nu * k) * first + (across + nu * k) ** 2 * second / k
    return np.asarray(arc * plate_stiffness(youngs_modulus, nu, thickness) * shape)


_LAMBDA = np.geomspace(0.8, 5.0, 60)


def peak(
    youngs_modulus: Floats | float,
    poisson_ratio: Floats | float,
    thickness: Floats | float,
    radius: Floats | float,
    subtended: Floats | float,
    opposite: bool,
) -> tuple[Floats, Floats]:
    """Greatest moment (N m) of uniform_moment before the tape snaps, and the curvature (1/m) at it; any shape.

    Found on 60 curvatures spaced evenly in ratio (lambda from 0.8 to 5): within 0.1 % of the peak.
    """
    e, nu, t, r, alpha = (
        np.asarray(v, dtype=np.float64)[..., None]
        for v in (youngs_modulus, poisson_ratio, thickness, radius, subtended)
    )
    curvature = t * (_LAMBDA / (np.power(3.0 * (1.0 - nu**2), 0.25) * r * alpha)) ** 2
    moment = uniform_moment(e, nu, t, r, alpha, curvature, opposite)
    # a stiff, flat tape may have no peak: then the moment goes on rising, and the end of the range stands for it
    at = moment.argmax(axis=-1)[..., None]
    return np.take_along_axis(moment, at, -1)[..., 0], np.take_along_axis(curvature, at, -1)[..., 0]


def steady_moment(
    stiffness: Floats | float, poisson_ratio: Floats | float, subtended: Floats | float, opposite: bool
) -> Floats:
    """Moment of the fold while it turns, N m: (1 + nu) D alpha in the opposite sense, (1 - nu) D alpha in the equal.

    Source: Wuest, Rimrott, Calladine (derived by least energy at fold radius = transverse radius).
    Measured fold radii exceed the transverse radius by up to 15 % (seen: J. Appl. Mech. 87(1) 011009), so the
    moment is up to about 15 % less.
    """
    sign = 1.0 if opposite else -1.0
    return np.asarray((1.0 + sign * np.asarray(poisson_ratio)) * stiffness * subtended)


def fold_stress(
    youngs_modulus: Floats | float,
    poisson_ratio: Floats | float,
    thickness: Floats | float,
    radius: Floats | float,
    opposite: bool,
) -> Floats:
    """sigma = E / (1 - nu^2) (t / 2) (1 / R) (1 +- nu), Pa: outer fibre along the folded tape (plate bending,
    derived)."""
    sign = 1.0 if opposite else -1.0
    nu = np.asarray(poisson_ratio)
    return np.asarray(youngs_modulus / (1.0 - nu**2) * thickness / (2.0 * np.asarray(radius)) * (1.0 + sign * nu))
