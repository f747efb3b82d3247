"""Plate shapes for the search: monomials of low degree in whitened panel coordinates, exact moments, whole batches.

Whitened coordinates xi = A (x - centre), A = C^(-1/2) with C the mean of d d^T over the panel, make every
panel, slender or not, look the same size in both directions; monomials up to degree 6 are then safe.
"""

from functools import cache

import numpy as np

from synth.core import polygon
from synth.core.arrays import Floats, Ints, cross2
from synth.structure.forms import Forms, Plates, disc_rule


@cache
def exponents(degree: int) -> tuple[Ints, Ints]:
    """Powers (a, b) of all monomials xi^a eta^b up to a total degree, by degree."""
    pairs = [(d - b, b) for d in range(degree + 1) for b in range(d + 1)]
    table = np.array(pairs, dtype=np.int64)
    return table[:, 0], table[:, 1]


@cache
def _product(degree: int, left: tuple[int, int], right: tuple[int, int]) -> tuple[Ints, Floats]:
    """Place in the moment table and factor [N, N] of d^left m_k x d^right m_l."""
    a, b = exponents(degree)

    def derived(order: tuple[int, int]) -> tuple[Ints, Ints, Floats]:
        p, q, factor = a.copy(), b.copy(), np.ones(len(a))
        for _ in range(order[0]):
            factor, p = factor * p, p - 1
        for _ in range(order[1]):
            factor, q = factor * q, q - 1
        return np.maximum(p, 0), np.maximum(q, 0), factor

    (p1, q1, f1), (p2, q2, f2) = derived(left), derived(right)
    place = (p1[:, None] + p2[None, :]) * (2 * degree + 1) + q1[:, None] + q2[None, :]
    return place, f1[:, None] * f2[None, :]


def _moments(shape: Floats, degree: int) -> Floats:
    """Mean of xi^a eta^b [..., (2 degree + 1)^2] over polygons [..., V, 2], exact up to a + b = 2 degree.

    int xi^a eta^b dA = 1 / (a + b + 2) sum over edges of cross(p, q) int_0^1 xi^a eta^b dt (Euler's theorem for
    homogeneous functions), the line integral by Gauss-Legendre.
    """
    nodes, weights = np.polynomial.legendre.leggauss(degree + 1)
    after = np.roll(shape, -1, axis=-2)
    t = 0.5 * (nodes + 1.0)
    along = shape[..., None, :] + t[:, None] * (after - shape)[..., None, :]
    weight = cross2(shape, after)[..., None] * (0.5 * weights)
    count = 2 * degree + 1
    x, y = (along[..., k].reshape(*shape.shape[:-2], 1, -1) for k in (0, 1))
    px = np.concatenate([x**0, np.repeat(x, count - 1, axis=-2)], axis=-2)
    py = np.concatenate([y**0, np.repeat(y, count - 1, axis=-2)], axis=-2)
    px, py = np.cumprod(px, axis=-2), np.cumprod(py, axis=-2)
    px *= weight.reshape(*shape.shape[:-2], 1, -1)
    power = np.arange(count)
    table = (px @ np.swapaxes(py, -1, -2)) / (power[:, None] + power[None, :] + 2.0)
    return np.asarray((table / table[..., :1, :1]).reshape(*shape.shape[:-2], -1))


class MonomialPlates(Plates):
    """Monomials of total degree `degree` (2 to 6) on outlines [B, P, V, 2], convex, counter-clockwise, padded.

    Raises ValueError for another degree. Outlines must have an area; check before.
    """

    def __init__(self, outline: Floats, degree: int) -> None:
        if not 2 <= degree <= 6:
            raise ValueError(f"degree must lie between 2 and 6; got {degree}")
        self.degree = degree
        area, self.centre = polygon.area(outline), polygon.centroid(outline)
        second = polygon.moments(outline, self.centre) / area[..., None]
        xx, xy, yy = second[..., 0], second[..., 1], second[..., 2]
        root = np.sqrt(xx * yy - xy * xy)
        size = np.sqrt(xx + yy + 2.0 * root)
        # C^(1/2) = (C + sqrt(det C) I) / size, and its inverse: closed forms for 2 x 2
        self.spread = _matrix(xx + root, xy, yy + root) / size[..., None, None]
        self.whiten = _matrix(yy + root, -xy, xx + root) / (root * size)[..., None, None]
        local = (outline - self.centre[..., None, :]) @ self.whiten
        self._moment = _moments(local, degree)
        self.forms = self._forms(area, second)

    def _mean(self, left: tuple[int, int], right: tuple[int, int] = (0, 0)) -> Floats:
        """Mean of d^left m_k times d^right m_l: [B, P, N, N]."""
        place, factor = _product(self.degree, left, right)
        return np.asarray(self._moment[..., place] * factor)

    def _forms(self, area: Floats, second: Floats) -> Forms:
        a, metric = self.whiten, self.whiten @ self.whiten
        gradient = np.stack([self._mean((1, 0)), self._mean((0, 1))], axis=-3)
        # columns 0, 1, 2 of the last axis stand for 1, xi, eta
        slope = a @ gradient[..., 0]
        tensor = np.einsum("...ik,...jl,...lnk->...ijn", self.spread, a, gradient[..., 1:3])
        hessian = [self._mean(order)[..., 0] for order in ((2, 0), (1, 1), (0, 2))]
        laplace = sum(
            f * metric[..., i, j, None] * h
            for (i, j, f), h in zip(((0, 0, 1), (0, 1, 2), (1, 1, 1)), hessian, strict=True)
        )
        twist, dome = self._curvatures(metric)
        return Forms(
            area=area,
            centre=self.centre,
            polar=second[..., 0] + second[..., 2],
            first=self._mean((0, 0))[..., 0],
            slope=slope,
            spin=tensor[..., 1, 0, :] - tensor[..., 0, 1, :],
            swell=tensor[..., 0, 0, :] + tensor[..., 1, 1, :],
            laplace=np.asarray(laplace),
            square=self._mean((0, 0)),
            slopes=self._slopes(metric),
            twist=twist,
            dome=dome,
            fit=self._fit(second),
        )

    def _slopes(self, metric: Floats) -> Floats:
        """Mean of grad w . grad w = sum G_ij w_i w_j, with G = A A."""
        g = metric[..., None, None]
        cross = self._mean((1, 0), (0, 1))
        along = g[..., 0, 0, :, :] * self._mean((1, 0), (1, 0)) + g[..., 1, 1, :, :] * self._mean((0, 1), (0, 1))
        return np.asarray(along + g[..., 0, 1, :, :] * (cross + np.swapaxes(cross, -1, -2)))

    def _curvatures(self, metric: Floats) -> tuple[Floats, Floats]:
        """Means of H : H = tr(h G h G) and of (tr H)^2 = (tr h G)^2, h the second derivatives in xi.

        They differ by twice the mean of det H = det G det h.
        """
        g = metric[..., None, None]
        g11, g12, g22 = g[..., 0, 0, :, :], g[..., 0, 1, :, :], g[..., 1, 1, :, :]

        def both(left: tuple[int, int], right: tuple[int, int]) -> Floats:
            form = self._mean(left, right)
            return form + np.swapaxes(form, -1, -2)

        one, two, mixed = (2, 0), (0, 2), (1, 1)
        opposite, torsion = both(one, two), self._mean(mixed, mixed)
        twist = g11 * g11 * self._mean(one, one) + g22 * g22 * self._mean(two, two)
        twist += 2.0 * (g12 * g12 + g11 * g22) * torsion + g12 * g12 * opposite
        twist += 2.0 * g12 * (g11 * both(one, mixed) + g22 * both(two, mixed))
        return twist, twist + (g11 * g22 - g12 * g12) * (opposite - 2.0 * torsion)

    def _fit(self, second: Floats) -> Floats:
        """Coefficients [B, P, N, 4] of 1, x, y, x^2 + y^2 in the whitened monomials."""
        out = np.zeros((*self.centre.shape[:-1], len(exponents(self.degree)[0]), 4))
        c, s = self.centre, self.spread
        out[..., 0, 0] = 1.0
        out[..., 0, 1:3] = c
        out[..., 1:3, 1:3] = s
        out[..., 0, 3] = (c * c).sum(axis=-1)
        out[..., 1:3, 3] = 2.0 * np.einsum("...i,...ij->...j", c, s)
        # |d|^2 = xi . (C^(1/2))^2 xi = xi . C xi
        out[..., 3:6, 3] = second * np.array([1.0, 2.0, 1.0])
        return out

    def _powers(self, xi: Floats) -> tuple[Floats, Floats]:
        """Powers 0 .. degree of both coordinates [..., degree + 1]."""
        out = np.empty((2, *xi.shape[:-1], self.degree + 1))
        out[..., 0] = 1.0
        # one product a power over all points: much faster than cumprod along a short axis
        for k in range(self.degree):
            np.multiply(out[0, ..., k], xi[..., 0], out=out[0, ..., k + 1])
            np.multiply(out[1, ..., k], xi[..., 1], out=out[1, ..., k + 1])
        return out[0], out[1]

    def at_feet(self, panel: Ints, foot: Floats, radius: Floats) -> tuple[Floats, Floats]:
        points, weights = disc_rule(self.degree) if radius.any() else _POINT
        a = self.whiten[:, panel]
        x = (foot - self.centre[:, panel])[..., None, :] + radius[..., None, None] * points
        px, py = self._powers(x @ a)
        # mean of each product of powers over the disc: [B, F, degree + 1, degree + 1]
        table = np.swapaxes(px, -1, -2) @ (py * weights[:, None])
        p, q = exponents(self.degree)
        d_xi = table[..., np.maximum(p - 1, 0), q] * p
        d_eta = table[..., p, np.maximum(q - 1, 0)] * q
        return table[..., p, q], a @ np.stack([d_xi, d_eta], axis=-2)

    def values(self, points: Floats) -> Floats:
        """Values [B, P, S, N] of the shapes at points [B, P, S, 2] of each panel."""
        px, py = self._powers((points - self.centre[..., None, :]) @ self.whiten)
        p, q = exponents(self.degree)
        return np.asarray(px[..., p] * py[..., q])

    def curvatures(self, points: Floats) -> Floats:
        """Second derivatives (xx, yy, xy) [B, P, S, 3, N] of the shapes at points [B, P, S, 2]."""
        a = self.whiten
        px, py = self._powers((points - self.centre[..., None, :]) @ a)
        p, q = exponents(self.degree)
        xx = px[..., np.maximum(p - 2, 0)] * py[..., q] * (p * (p - 1))
        yy = px[..., p] * py[..., np.maximum(q - 2, 0)] * (q * (q - 1))
        xy = px[..., np.maximum(p - 1, 0)] * py[..., np.maximum(q - 1, 0)] * (p * q)
        turn = np.stack([self._turn(i, j) for i, j in ((0, 0), (1, 1), (0, 1))], axis=-2)
        return np.asarray(turn[..., None, :, :] @ np.stack([xx, yy, xy], axis=-2))

    def _turn(self, i: int, j: int) -> Floats:
        """d2/dx_i dx_j told in (xi xi, eta eta, xi eta) second derivatives: [B, P, 3]."""
        a = self.whiten
        mixed = a[..., i, 0] * a[..., j, 1] + a[..., i, 1] * a[..., j, 0]
        return np.stack([a[..., i, 0] * a[..., j, 0], a[..., i, 1] * a[..., j, 1], mixed], axis=-1)


_POINT = np.zeros((1, 2)), np.ones(1)
"""The rule of a disc of no size: its middle."""


def _matrix(xx: Floats, xy: Floats, yy: Floats) -> Floats:
    """Symmetric 2 x 2 matrices from their three entries."""
    return np.stack([np.stack([xx, xy], axis=-1), np.stack([xy, yy], axis=-1)], axis=-2)
