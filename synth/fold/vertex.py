"""Closed forms of single crease vertices and of the Miura cell: zero thickness, rigid panels, radians.

Creases run counter-clockwise; sector A_i lies between crease i and crease i + 1. Fold
angles are 0 flat, positive as valleys, pi folded flat. Leading axes of any shape.
Sources are those of the reference cases (flags: derived = recomputed there by an
independent route, memory = formula remembered); closure of the product
prod_i Rx(g_i) Rz(A_i) = I is the independent test.
"""

from typing import Literal, NamedTuple

import numpy as np

from synth.core.arrays import Bools, Floats

Mode = Literal["a", "b"]
"""The two branches of a flat-foldable degree-4 vertex: a, opposite folds g3 = -g1, g4 = g2; b, g3 = g1, g4 = -g2."""


def kawasaki(sectors: Floats, tolerance: float = 1e-9) -> Bools:
    """Whether the alternating sector sum [..., n] vanishes, so that the vertex can fold flat: sum (-1)^i A_i = 0.

    Necessary at every vertex, sufficient for one alone; an odd number of creases never folds flat.
    Source: Kawasaki's condition (seen).
    """
    count = sectors.shape[-1]
    if count % 2:
        return np.zeros(sectors.shape[:-1], dtype=bool)
    return np.asarray(np.abs((sectors * (-1.0) ** np.arange(count)).sum(axis=-1)) <= tolerance)


def maekawa(signs: Floats) -> Bools:
    """Whether mountains and valleys [..., n] of +-1 differ by two in number: |M - V| = 2.

    Necessary at every vertex that folds flat. Source: Maekawa's condition (seen).
    """
    return np.asarray(np.abs(np.asarray(signs).sum(axis=-1)) == 2)


def multiplier(sectors: Floats, mode: Mode) -> Floats:
    """m [...] of tan(g2/2) = m tan(g1/2) at a flat-foldable degree-4 vertex, sectors [..., 4].

    m_a = sin((A1 + A2)/2) / sin((A1 - A2)/2), m_b = -cos((A1 + A2)/2) / cos((A1 - A2)/2).
    Valid where A1 + A3 = A2 + A4 = pi; infinite in mode a where A1 = A2 (the collinear pair folds alone).
    Source: fold-angle multipliers (formula memory, numbers derived).
    """
    half_sum, half_difference = 0.5 * (sectors[..., 0] + sectors[..., 1]), 0.5 * (sectors[..., 0] - sectors[..., 1])
    if mode == "b":
        return np.asarray(-np.cos(half_sum) / np.cos(half_difference))
    with np.errstate(divide="ignore"):
        return np.asarray(np.sin(half_sum) / np.sin(half_difference))


def flat_foldable_folds(sectors: Floats, first: Floats | float, mode: Mode) -> Floats:
    """All four folds [..., 4] of a flat-foldable degree-4 vertex from the first one [...].

    tan(g2/2) = m tan(g1/2); mode a: g3 = -g1, g4 = g2; mode b: g3 = g1, g4 = -g2. Valid as `multiplier`,
    |g1| < pi. Source: as `multiplier`.
    """
    second = 2.0 * np.arctan(multiplier(sectors, mode) * np.tan(0.5 * first))
    s = -1.0 if mode == "a" else 1.0
    return np.stack(np.broadcast_arrays(first, second, s * first, -s * second), axis=-1)


def biquadratic(sectors: Floats) -> Floats:
    """Coefficients [..., 5] = c00, c20, c02, c22, c11 between neighbouring half-tangents t1, t2 of any degree-4 vertex.

    c00 + c20 t1^2 + c02 t2^2 + c22 t1^2 t2^2 + c11 t1 t2 = 0 with
    c00 = cos(A1 + A2 + A4) - cos A3, c20 = cos(A1 + A2 - A4) - cos A3, c02 = cos(A1 - A2 + A4) - cos A3,
    c22 = cos(A1 - A2 - A4) - cos A3, c11 = 4 sin A2 sin A4. Also where the sectors do not add to 2 pi.
    Source: derived; same structure as the explicit equations of degree-4 vertices in the literature (opening seen).
    """
    a1, a2, a3, a4 = np.moveaxis(sectors, -1, 0)
    rest = np.cos(a3)
    return np.stack(
        [
            np.cos(a1 + a2 + a4) - rest,
            np.cos(a1 + a2 - a4) - rest,
            np.cos(a1 - a2 + a4) - rest,
            np.cos(a1 - a2 - a4) - rest,
            4.0 * np.sin(a2) * np.sin(a4),
        ],
        axis=-1,
    )


def degree4_folds(sectors: Floats, first: Floats | float) -> Floats:
    """Both branches [..., 2, 4] of any degree-4 vertex at first fold g1 [...], the one with the smaller |g2| first.

    g2 from `biquadratic`; g3, g4 from Q = Rx(g3) Rz(A3) Rx(g4) = Rz(-A2) (Rx(g1) Rz(A1) Rx(g2))^T Rz(-A4):
    tan g3 = Q31 / Q21, tan g4 = Q13 / -Q12. Valid for 0 < |g1| < pi; NaN where g1 is beyond the limit of the
    vertex. Source: derived.
    """
    c00, c20, c02, c22, c11 = np.moveaxis(biquadratic(sectors), -1, 0)
    t1 = np.tan(0.5 * first)
    square, middle, rest = c02 + c22 * t1**2, c11 * t1, c00 + c20 * t1**2
    with np.errstate(invalid="ignore", divide="ignore"):
        root = np.sqrt(middle**2 - 4.0 * square * rest)
        far = -(middle + np.where(middle < 0.0, -root, root)) / 2.0
        halves = np.stack([rest / far, far / square], axis=-1)
    halves = np.take_along_axis(halves, np.argsort(np.abs(halves), axis=-1), axis=-1)
    second = 2.0 * np.arctan(halves)
    g1 = np.broadcast_to(np.asarray(first)[..., None], second.shape)
    a = np.broadcast_to(sectors[..., None, :], (*second.shape, 4))
    before = _turn_x(g1) @ _turn_z(a[..., 0]) @ _turn_x(second)
    q = _turn_z(-a[..., 1]) @ np.swapaxes(before, -1, -2) @ _turn_z(-a[..., 3])
    third, fourth = np.arctan2(q[..., 2, 0], q[..., 1, 0]), np.arctan2(q[..., 0, 2], -q[..., 0, 1])
    return np.stack([g1, second, third, fourth], axis=-1)


def vertex_residual(sectors: Floats, folds: Floats) -> Floats:
    """Largest entry [...] of prod_i Rx(g_i) Rz(A_i) - I, sectors and folds [..., n]: zero where the vertex closes."""
    product = np.broadcast_to(np.eye(3), (*np.broadcast_shapes(sectors.shape, folds.shape)[:-1], 3, 3))
    for i in range(sectors.shape[-1]):
        product = product @ _turn_x(folds[..., i]) @ _turn_z(sectors[..., i])
    return np.asarray(np.abs(product - np.eye(3)).max(axis=(-2, -1)))


def symmetric_five_folds(corner: Floats | float, first: Floats | float, sign: Literal[1, -1]) -> Floats:
    """Folds [..., 5] of the five-crease vertex with sectors A, 90, 180 - 2A, 90, A (degrees) folded symmetrically.

    g3 = g4 = s g1/2, tan(g2/2) = tan(g5/2) = -tan(45 deg - s A/2) tan(g1/4), s = +1 or -1.
    Valid for 0 < A < 90 deg. Source: derived; five creases with thickness = Myard linkage (seen).
    """
    second = -2.0 * np.arctan(np.tan(0.25 * np.pi - 0.5 * sign * corner) * np.tan(0.25 * first))
    third = 0.5 * sign * first
    return np.stack(np.broadcast_arrays(first, second, third, third, second), axis=-1)


def waterbomb_fold(corner: Floats | float, diagonal: Floats | float) -> Floats:
    """Fold psi of the two collinear mountains of a waterbomb base, folded with both symmetry planes.

    tan(psi/2) = -cos A tan(phi/2), phi the fold of the four diagonals, A their angle to the mountains.
    Valid for |phi| < pi. Source: derived.
    """
    return np.asarray(-2.0 * np.arctan(np.cos(corner) * np.tan(0.5 * diagonal)))


class MiuraCell(NamedTuple):
    """Cell 2 S x 2 L x H with shift V; folds of zigzag and straight creases (rad); in-plane Poisson ratio L to S;
    projected over flat area."""

    height: Floats
    width: Floats
    length: Floats
    shift: Floats
    zigzag_fold: Floats
    straight_fold: Floats
    poisson: Floats
    area_ratio: Floats


def miura_cell(a: float, b: float, corner: Floats | float, tilt: Floats | float) -> MiuraCell:
    """Miura cell with sides a (straight creases) and b (zigzag creases), corner angle g and facet tilt th.

    H = a sin th sin g, S = b cos th tan g / sqrt(1 + cos^2 th tan^2 g), L = a sqrt(1 - sin^2 th sin^2 g),
    V = b / sqrt(1 + cos^2 th tan^2 g); zigzag fold 2 th; tan(straight/2) = cos g tan th;
    nu = -(dL/L)/(dS/S) = -cos^2 th tan^2 g; area ratio S L / (a b sin g).
    Valid for 0 < g < pi/2, 0 <= th < pi/2. Source: parameters seen, formulas memory, numbers derived.
    """
    lean = np.cos(tilt) * np.tan(corner)
    root = np.sqrt(1.0 + lean**2)
    width, length = b * lean / root, a * np.sqrt(1.0 - (np.sin(tilt) * np.sin(corner)) ** 2)
    return MiuraCell(
        height=np.asarray(a * np.sin(tilt) * np.sin(corner)),
        width=np.asarray(width),
        length=np.asarray(length),
        shift=np.asarray(b / root),
        zigzag_fold=np.asarray(2.0 * tilt),
        straight_fold=2.0 * np.arctan(np.cos(corner) * np.tan(tilt)),
        poisson=np.asarray(-(lean**2)),
        area_ratio=np.asarray(width * length / (a * b * np.sin(corner))),
    )


def twist_products(sides: int, lean: float) -> Floats:
    """Product [n + 1] of the fold multipliers round a regular n-gon twist with k = 0..n corners in mode a.

    Corner sectors 180 - 360/n, x, 360/n, 180 - x (degrees). The twist is rigid-foldable only with a k whose product
    is 1; for a square m_a m_b = -1, so k = 2. Source: idea seen, numbers derived.
    """
    corner = 2.0 * np.pi / sides
    sectors = np.array([np.pi - corner, lean, corner, np.pi - lean])
    k = np.arange(sides + 1)
    return np.asarray(multiplier(sectors, "a") ** k * multiplier(sectors, "b") ** (sides - k))


def _turn_x(angle: Floats) -> Floats:
    c, s, one, zero = np.cos(angle), np.sin(angle), np.ones_like(angle), np.zeros_like(angle)
    return np.stack([one, zero, zero, zero, c, -s, zero, s, c], axis=-1).reshape(*np.shape(angle), 3, 3)


def _turn_z(angle: Floats) -> Floats:
    c, s, one, zero = np.cos(angle), np.sin(angle), np.ones_like(angle), np.zeros_like(angle)
    return np.stack([c, -s, zero, s, c, zero, zero, zero, one], axis=-1).reshape(*np.shape(angle), 3, 3)
