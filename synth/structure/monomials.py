"""Plate shapes for the search: monomials of low degree in whitened panel coordinates, exact moments, whole batches.

Whitened coordinates xi = A (x - centre), A = C^(-1/2) with C the mean of d d^T over the panel, make every
panel, slender or not, look the same size in both directions; monomials up to degree 6 are then safe. Every mean over a
panel is a sum of its moments with fixed factors, and every mean over a pad a sum of monomials at its middle: both are
products with tables that depend on the degree only.
"""

from functools import cache
from math import comb, factorial

import numpy as np

from synth.core import polygon
from synth.core.arrays import Floats, Ints, cross2
from synth.structure.forms import Forms, Plates

Order = tuple[int, int]


@cache
def exponents(degree: int) -> tuple[Ints, Ints]:
    """Powers (a, b) of all monomials xi^a eta^b up to a total degree, by degree."""
    pairs = [(d - b, b) for d in range(degree + 1) for b in range(d + 1)]
    table = np.array(pairs, dtype=np.int64)
    return table[:, 0], table[:, 1]


def _count(degree: int) -> int:
    return (degree + 1) * (degree + 2) // 2


def _place(a: Ints, b: Ints) -> Ints:
    """Number of xi^a eta^b in the order of exponents."""
    return (a + b) * (a + b + 1) // 2 + b


@cache
def _derived(degree: int, order: Order) -> tuple[Ints, Ints, Floats]:
    """Powers and factors of d^order of all monomials; the factor is 0 where nothing is left."""
    p, q = (k.copy() for k in exponents(degree))
    factor = np.ones(len(p))
    for _ in range(order[0]):
        factor, p = factor * p, p - 1
    for _ in range(order[1]):
        factor, q = factor * q, q - 1
    return np.maximum(p, 0), np.maximum(q, 0), factor


@cache
def _upper(size: int) -> tuple[Ints, Ints, Ints]:
    """Rows and columns of the upper triangle of a square, and the place [size, size] of each entry in it."""
    rows, columns = np.triu_indices(size)
    place = np.zeros((size, size), dtype=np.int64)
    place[rows, columns] = place[columns, rows] = np.arange(len(rows))
    return rows, columns, place


@cache
def _products(degree: int, pairs: tuple[tuple[Order, Order], ...], first: int) -> Floats:
    """Table that turns len(pairs) copies of the moments, each times its weight, into the upper triangle of
    sum over pairs (L, R) of weight (d^L m_k d^R m_l + d^R m_k d^L m_l) / 2, from shape number `first` on."""
    rows, columns, _ = _upper(_count(degree) - first)
    rows, columns = rows + first, columns + first
    fewest = min(sum(left) + sum(right) for left, right in pairs)
    most = _count(2 * degree - fewest)
    out = np.zeros((len(pairs), most, len(rows)))
    every = np.arange(len(rows))
    for k, (left, right) in enumerate(pairs):
        for one, other in ((left, right), (right, left)):
            (p1, q1, f1), (p2, q2, f2) = _derived(degree, one), _derived(degree, other)
            place = _place(p1[rows] + p2[columns], q1[rows] + q2[columns])
            out[k, np.minimum(place, most - 1), every] += 0.5 * f1[rows] * f2[columns]
    return out.reshape(len(pairs) * most, len(rows))


SLOPES: tuple[tuple[Order, Order], ...] = (((1, 0), (1, 0)), ((0, 1), (0, 1)), ((1, 0), (0, 1)))
BENDING: tuple[tuple[Order, Order], ...] = (
    ((2, 0), (2, 0)), ((0, 2), (0, 2)), ((1, 1), (1, 1)), ((2, 0), (0, 2)), ((2, 0), (1, 1)), ((0, 2), (1, 1)),
)  # fmt: skip


@cache
def _means(degree: int) -> Floats:
    """Table [N, 9 N] that turns the first N moments into means of derivatives: d1, d2, d11, d12, d22, then xi_k d_j
    for (k, j) = (1, 1), (1, 2), (2, 1), (2, 2)."""
    n, blocks = _count(degree), []
    orders: list[tuple[Order, Order]] = [(o, (0, 0)) for o in ((1, 0), (0, 1), (2, 0), (1, 1), (0, 2))]
    orders += [(o, k) for k in ((1, 0), (0, 1)) for o in ((1, 0), (0, 1))]
    for order, times in orders:
        p, q, factor = _derived(degree, order)
        alive = np.flatnonzero(factor)
        block = np.zeros((n, n))
        block[_place(p[alive] + times[0], q[alive] + times[1]), alive] = factor[alive]
        blocks.append(block)
    return np.concatenate(blocks, axis=1)


@cache
def _squares(degree: int) -> Ints:
    """Places [N, N] of the products of any two monomials."""
    p, q = exponents(degree)
    return _place(p[:, None] + p, q[:, None] + q)


@cache
def _hessian(degree: int) -> Floats:
    """Table [N, 3 M] of the coefficients of d11, d12, d22 of a polynomial, M monomials of two degrees less."""
    n, fewer, blocks = _count(degree), _count(degree - 2), []
    for order in ((2, 0), (1, 1), (0, 2)):
        p, q, factor = _derived(degree, order)
        alive = np.flatnonzero(factor)
        block = np.zeros((n, fewer))
        block[alive, _place(p[alive], q[alive])] = factor[alive]
        blocks.append(block)
    return np.concatenate(blocks, axis=1)


@cache
def _pads(degree: int, levels: int) -> Floats:
    """Table [features, 3 N] of mean value and mean whitened slopes of all monomials over an ellipse.

    The mean over an ellipse of matrix r^2 S is sum over k of r^2k L^k / (k! (k+1)! 4^k) at its middle, L = S_ij d_i d_j
    (mean-value series of the Laplacian, elementary; exact for polynomials). Features: s11^i s12^j s22^m r^2k times the
    monomials of degree - 2 k, k = i + j + m up to `levels`.
    """
    n = _count(degree)
    blocks = []
    for k in range(levels + 1):
        scale = 1.0 / (factorial(k) * factorial(k + 1) * 4**k)
        for j, m in _splits(k):
            i = k - j - m
            block = np.zeros((_count(degree - 2 * k), 3, n))
            for part, order in enumerate(((0, 0), (1, 0), (0, 1))):
                p, q, factor = _derived(degree, (2 * i + j + order[0], 2 * m + j + order[1]))
                alive = np.flatnonzero(factor)
                factor = factor * scale * comb(k, j) * comb(k - j, m) * 2.0**j
                block[_place(p[alive], q[alive]), part, alive] = factor[alive]
            blocks.append(block.reshape(-1, 3 * n))
    return np.concatenate(blocks)


@cache
def _splits(k: int) -> tuple[tuple[int, int], ...]:
    """(j, m) of all products s11^(k-j-m) s12^j s22^m."""
    return tuple((j, m) for j in range(k + 1) for m in range(k + 1 - j))


def _powers(x: Floats, y: Floats, degree: int) -> Floats:
    """All monomials [N, ...] of total degree up to `degree` of coordinates [...]: one product over all points each."""
    out = np.empty((_count(degree), *x.shape))
    out[0] = 1.0
    for d in range(1, degree + 1):
        here, before = _count(d - 1), _count(d - 2) if d > 1 else 0
        np.multiply(out[before : before + d], x, out=out[here : here + d])
        np.multiply(out[here - 1], y, out=out[here + d])
    return out


def _moments(shape: Floats, degree: int) -> Floats:
    """Means [..., n] of all monomials up to degree 2 x `degree` over polygons [..., V, 2], exact.

    int xi^a eta^b dA = 1 / (a + b + 2) sum over edges of cross(p, q) int_0^1 xi^a eta^b dt (Euler's theorem for
    homogeneous functions), the line integral by Gauss-Legendre.
    """
    nodes, weights = _line_rule(degree + 1)
    after = polygon.ahead(shape)
    weight = (cross2(shape, after)[..., None] * weights).reshape(*shape.shape[:-2], -1)
    x, y = (
        (shape[..., k, None] + nodes * (after[..., k] - shape[..., k])[..., None]).reshape(weight.shape) for k in (0, 1)
    )
    px, py = (np.empty((2 * degree + 1, *weight.shape)) for _ in (0, 1))
    px[0], py[0] = weight, 1.0
    for k in range(2 * degree):
        np.multiply(px[k], x, out=px[k + 1])
        np.multiply(py[k], y, out=py[k + 1])
    table = np.moveaxis(px, 0, -2) @ np.moveaxis(py, 0, -1)
    place, share = _corner(degree)
    flat = table.reshape(*table.shape[:-2], -1).take(place, axis=-1)
    flat *= share / flat[..., :1]
    return flat


@cache
def _corner(degree: int) -> tuple[Ints, Floats]:
    """Places of the monomials in a square table of powers, and 2 / (a + b + 2)."""
    a, b = exponents(2 * degree)
    return np.asarray(a * (2 * degree + 1) + b, dtype=np.int64), np.asarray(2.0 / (a + b + 2.0), dtype=np.float64)


@cache
def _line_rule(count: int) -> tuple[Floats, Floats]:
    """Gauss-Legendre on 0..1."""
    nodes, weights = np.polynomial.legendre.leggauss(count)
    return 0.5 * (nodes + 1.0), 0.5 * weights


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
        metric = self.whiten @ self.whiten
        self._metric = metric[..., 0, 0], metric[..., 0, 1], metric[..., 1, 1]
        local = (outline - self.centre[..., None, :]) @ self.whiten
        self._moment = _moments(local, degree)
        self.forms = self._forms(area, second)

    def _forms(self, area: Floats, second: Floats) -> Forms:
        a, c, (g11, g12, g22) = self.whiten, self.spread, self._metric
        p, q = exponents(self.degree)
        first = np.ascontiguousarray(self._moment[..., : len(p)])
        means = (first @ _means(self.degree)).reshape(*first.shape[:-1], -1, len(p))
        slope = np.empty((*first.shape[:-1], 2, len(p)))
        for k in (0, 1):
            slope[..., k, :] = a[..., k, 0, None] * means[..., 0, :] + a[..., k, 1, None] * means[..., 1, :]
        laplace = g11[..., None] * means[..., 2, :]
        laplace += (2.0 * g12)[..., None] * means[..., 3, :]
        laplace += g22[..., None] * means[..., 4, :]
        # mean of d_y w_x - d_x w_y: d = spread xi, grad = whiten grad_xi
        spin = np.zeros_like(first)
        for n, (k, side) in enumerate(((0, 0), (0, 1), (1, 0), (1, 1))):
            turn = c[..., 1, k] * a[..., 0, side] - c[..., 0, k] * a[..., 1, side]
            spin += turn[..., None] * means[..., 5 + n, :]
        slopes = np.empty((*g11.shape, 3))
        slopes[..., 0], slopes[..., 1], slopes[..., 2] = g11, g22, 2.0 * g12
        return Forms(
            area=area,
            centre=self.centre,
            polar=second[..., 0] + second[..., 2],
            first=first,
            slope=slope,
            spin=spin,
            # xi . grad_xi of a monomial is its degree times itself (Euler)
            swell=first * (p + q),
            laplace=laplace,
            square=np.take(self._moment, _squares(self.degree), axis=-1),
            slopes=self._summed(slopes, SLOPES, 0),
            fit=self._fit(second),
        )

    def _summed(self, weights: Floats, pairs: tuple[tuple[Order, Order], ...], first: int) -> Floats:
        """Symmetric matrices [B, P, N, N] of weighted products of derivatives, weights [B, P, pairs]."""
        table, n = _products(self.degree, pairs, first), _count(self.degree)
        most = len(table) // len(pairs)
        features = weights[..., None] * self._moment[..., None, :most]
        upper = features.reshape(-1, len(table)) @ table
        square = np.take(upper, _upper(n - first)[2], axis=-1).reshape(*weights.shape[:-1], n - first, n - first)
        if not first:
            return square
        out = np.zeros((*weights.shape[:-1], n, n))
        out[..., first:, first:] = square
        return out

    def bending(self, stiffness: Floats, poisson: Floats) -> Floats:
        """H : H = tr(h G h G) and (tr H)^2 = (tr h G)^2, h the second derivatives in xi, G = A A."""
        g11, g12, g22 = self._metric
        nu = poisson[:, None]
        scale = self.forms.area * stiffness
        # (1 - nu) H : H + nu (tr H)^2 differs from H : H by nu times twice det G det h
        weights = [
            g11 * g11,
            g22 * g22,
            2.0 * ((1.0 + nu) * g12 * g12 + (1.0 - nu) * g11 * g22),
            2.0 * ((1.0 - nu) * g12 * g12 + nu * g11 * g22),
            4.0 * g12 * g11,
            4.0 * g12 * g22,
        ]
        scaled = np.empty((*scale.shape, len(weights)))
        for k, weight in enumerate(weights):
            scaled[..., k] = scale * weight
        return self._summed(scaled, BENDING, 3)

    def _fit(self, second: Floats) -> Floats:
        """Coefficients [B, P, N, 4] of 1, x, y, x^2 + y^2 in the whitened monomials."""
        out = np.zeros((*self.centre.shape[:-1], _count(self.degree), 4))
        c, s = self.centre, self.spread
        out[..., 0, 0] = 1.0
        out[..., 0, 1:3] = c
        out[..., 1:3, 1:3] = s
        out[..., 0, 3] = (c * c).sum(axis=-1)
        out[..., 1:3, 3] = 2.0 * (c[..., None, :] @ s)[..., 0, :]
        # |d|^2 = xi . (C^(1/2))^2 xi = xi . C xi
        out[..., 3:6, 3] = second * np.array([1.0, 2.0, 1.0])
        return out

    def pads(self, panel: Ints, foot: Floats, radius: Floats) -> Floats:
        rows, count, n = len(foot), len(panel), _count(self.degree)
        a = self.whiten[:, panel]
        x, y = _whitened(a, foot - self.centre[:, panel])
        values = _powers(x, y, self.degree)
        levels = self.degree // 2 if radius.any() else 0
        features = [values]
        if levels:
            s11, s12, s22 = (m[..., panel] * radius**2 for m in self._metric)
            for k in range(1, levels + 1):
                kept = values[: _count(self.degree - 2 * k)]
                features += [s11 ** (k - j - m) * s12**j * s22**m * kept for j, m in _splits(k)]
        table, whole = _pads(self.degree, levels), np.concatenate(features)
        found = (whole.reshape(len(table), rows * count).T @ table).reshape(rows, count, 3, n)
        along, across = found[..., 1, :].copy(), found[..., 2, :].copy()
        for k in (0, 1):
            np.multiply(a[..., k, 0, None], along, out=found[..., k + 1, :])
            found[..., k + 1, :] += a[..., k, 1, None] * across
        return found

    def bent(self, points: Floats, shape: Floats) -> tuple[Floats, Floats]:
        """Deflection [B, P, S] and curvatures [3, B, P, S] (xx, yy, xy) of one shape [B, P, N] at points
        [B, P, S, 2]."""
        a = self.whiten
        x, y = _whitened(a[..., None, :, :], points - self.centre[..., None, :])
        values = np.moveaxis(_powers(x, y, self.degree), 0, -2)
        fewer = _count(self.degree - 2)
        turn = np.empty((*shape.shape[:-1], 3, 3))
        for row, (i, j) in enumerate(((0, 0), (1, 1), (0, 1))):
            turn[..., row, 0], turn[..., row, 2] = a[..., i, 0] * a[..., j, 0], a[..., i, 1] * a[..., j, 1]
            turn[..., row, 1] = a[..., i, 0] * a[..., j, 1] + a[..., i, 1] * a[..., j, 0]
        second = turn @ (shape @ _hessian(self.degree)).reshape(*shape.shape[:-1], 3, fewer)
        curved = second @ values[..., :fewer, :]
        return (shape[..., None, :] @ values)[..., 0, :], np.moveaxis(curved, -2, 0)


def _whitened(a: Floats, away: Floats) -> tuple[Floats, Floats]:
    """Whitened coordinates of places [..., 2] about the centroid: A symmetric."""
    x, y = away[..., 0], away[..., 1]
    return x * a[..., 0, 0] + y * a[..., 0, 1], x * a[..., 1, 0] + y * a[..., 1, 1]


def _matrix(xx: Floats, xy: Floats, yy: Floats) -> Floats:
    """Symmetric 2 x 2 matrices from their three entries."""
    out = np.empty((*xx.shape, 2, 2))
    out[..., 0, 0], out[..., 1, 1] = xx, yy
    out[..., 0, 1] = out[..., 1, 0] = xy
    return out
