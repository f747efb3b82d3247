"""Thin leaves that bend: short flexures, crossed leaves, notches, folded film. SI, linear elastic, small strain."""

import math

import numpy as np

from synth.hinges.kind import Number


def second_moment(width: Number, thickness: Number) -> Number:
    """I = w t^3 / 12 of a rectangle bent across its thickness, m^4."""
    return width * thickness**3 / 12.0


def short_pivot(youngs_modulus: Number, width: Number, thickness: Number, length: Number) -> Number:
    """K = E I / l (N m/rad) of a small-length flexural pivot; l about a tenth of the link or less.

    Source: Howell, Compliant Mechanisms (2001), chapter 5 (derived, recomputed).
    """
    return youngs_modulus * second_moment(width, thickness) / length


def pivot_stress(youngs_modulus: Number, thickness: Number, length: Number, angle: Number) -> Number:
    """sigma = E t theta / (2 l): outer fibre of a leaf in pure bending through theta, Pa."""
    return youngs_modulus * thickness * angle / (2.0 * length)


def crossed_stiffness(crossing: float) -> float:
    """K L / (E I) = 8 (1 - 3 a + 3 a^2) of a symmetric pair of crossed leaves, I of one leaf.

    a: where the leaves cross, as a fraction of their length; independent of the leaf angle,
    without load. Source: flexure makers' notes (seen), re-derived from beam stiffness.
    """
    return 8.0 * (1.0 - 3.0 * crossing + 3.0 * crossing**2)


def crossed_stress(youngs_modulus: Number, thickness: Number, length: Number, crossing: float, angle: Number) -> Number:
    """Greatest bending stress of crossed leaves turned by angle, Pa.

    The end moments of a leaf are E I theta / L times 4 - 6 a and 2 - 6 a, hence
    sigma = max(|4 - 6 a|, |2 - 6 a|) E t theta / (2 L), which is E t theta / (2 L) at mid
    crossing. Linear beam theory (derived).
    """
    factor = max(abs(4.0 - 6.0 * crossing), abs(2.0 - 6.0 * crossing))
    return factor * youngs_modulus * thickness * angle / (2.0 * length)


ZERO_SHIFT_CROSSING = 0.5 - math.sqrt(5.0) / 6.0
"""Crossing at which the axis hardly moves as the pivot turns (seen, recomputed: 0.12732)."""


def notch_stiffness(youngs_modulus: Number, width: Number, thickness: Number, radius: Number) -> Number:
    """K = 2 E b t^2.5 / (9 pi sqrt(R)) of a circular notch, within about 5 % for 0.05 <= t/R <= 0.2 (seen)."""
    return 2.0 * youngs_modulus * width * np.power(thickness, 2.5) / (9.0 * math.pi * np.sqrt(radius))


def film_strain(thickness: Number, middle_radius: Number) -> Number:
    """Outer strain t / (2 R) of a film folded to R at its mid-surface (definition)."""
    return thickness / (2.0 * middle_radius)


def least_fold_radius(youngs_modulus: Number, strength: Number, thickness: Number) -> Number:
    """Mid-surface radius E t / (2 sigma) at which a folded sheet just stays elastic (definition)."""
    return youngs_modulus * thickness / (2.0 * strength)
