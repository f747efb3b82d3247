"""One panel as a thin plate: polynomials of a total degree over its outline, rigid in its own plane.

Kirchhoff plate with effective bending stiffness D and Poisson ratio nu (elementary):
energy = 1/2 int D [(w_xx + w_yy)^2 - 2 (1 - nu) (w_xx w_yy - w_xy^2)] dA, kinetic 1/2 int (m/A) w_t^2 dA.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.polynomial import legendre

from synth.recheck.solid import Array, convex_pieces, polygon


@dataclass(frozen=True, eq=False)
class Plate:
    """Freedoms of a panel: n coefficients of w, then u, v of its centre and its spin about z.

    The n functions have mean square 1 over the area and are mutually orthogonal.
    centre [2], area, middle: z of the mid-plane; half: half the thickness.
    bending [n, n] N m; curvature [n]: int D (1 + nu) laplacian dA; mean [n].
    spread: mean of the squared distance from the centre, m^2.
    points [Q, 2], weights [Q] (sum 1): quadrature; shape, slopes [Q, n], [2, Q, n] there.
    """

    centre: Array
    area: float
    middle: float
    half: float
    bending: Array
    curvature: Array
    spread: float
    points: Array
    weights: Array
    shape: Array
    slopes: Array
    _frame: tuple[Array, Array, Array]
    _degree: int

    @property
    def size(self) -> int:
        return int(self.shape.shape[1]) + 3

    def at(self, points: Array) -> tuple[Array, Array]:
        """Functions [N, n] and their slopes [2, N, n] at plan points [N, 2]."""
        low, turn, mix = self._frame
        raw = _polynomials(self._degree, (points - low) @ turn)
        return raw[0] @ mix, np.einsum("dk,kqn->dqn", turn, raw[1:3] @ mix)

    def bends(self, points: Array) -> tuple[Array, Array, Array]:
        """Second derivatives (xx, yy, xy) [N, n] of the functions at plan points, in the panel's own axes."""
        low, turn, mix = self._frame
        raw = _polynomials(self._degree, (points - low) @ turn)
        sx, sy = np.linalg.norm(turn, axis=0)
        return sx * sx * raw[3] @ mix, sy * sy * raw[4] @ mix, sx * sy * raw[5] @ mix

    def over_discs(self, centres: Array, radii: Array) -> tuple[Array, Array]:
        """Means of the functions [M, n] and of their slopes [2, M, n] over discs [M, 2], [M]; exact for the degree."""
        n = self._degree // 2 + 1
        r, wr = np.polynomial.legendre.leggauss(n)
        r, wr = np.sqrt((r + 1.0) / 2.0), wr / 2.0  # in r^2, so that the weight of the disc is even
        a = 2.0 * np.pi * np.arange(self._degree + 2) / (self._degree + 2)
        grid = np.stack([np.outer(r, np.cos(a)), np.outer(r, np.sin(a))], axis=-1).reshape(-1, 2)
        w = np.repeat(wr, len(a)) / len(a)
        shape, slopes = self.at((centres[:, None] + radii[:, None, None] * grid).reshape(-1, 2))
        many = (len(centres), len(w), -1)
        return w @ shape.reshape(many), np.stack([w @ slope.reshape(many) for slope in slopes])


def _polynomials(degree: int, x: Array) -> Array:
    """Legendre products of total degree <= degree at x [N, 2]: value, dx, dy, dxx, dyy, dxy as [6, N, n]."""
    i, j = np.array([(i, j) for i in range(degree + 1) for j in range(degree + 1 - i)]).T
    slope = np.zeros((degree + 1, degree + 1))
    slope[:, :degree] = legendre.legder(np.eye(degree + 1)).T  # row k: the derivative of P_k in Legendre terms
    values = [legendre.legvander(x[:, k], degree) for k in range(2)]
    (a, da, dda), (b, db, ddb) = ((v, v @ slope.T, v @ (slope @ slope).T) for v in values)
    return np.stack(
        [a[:, i] * b[:, j], da[:, i] * b[:, j], a[:, i] * db[:, j],
         dda[:, i] * b[:, j], a[:, i] * ddb[:, j], da[:, i] * db[:, j]]
    )  # fmt: skip


def _quadrature(pieces: list[Array], n: int) -> tuple[Array, Array]:
    """Points [Q, 2] and weights [Q] exact for polynomials of degree 2 n - 2 over convex pieces (fans of triangles)."""
    g, wg = np.polynomial.legendre.leggauss(n)
    g, wg = (g + 1.0) / 2.0, wg / 2.0
    u, v = (c.ravel() for c in np.meshgrid(g, g, indexing="ij"))
    w = (np.outer(wg, wg) * g[:, None]).ravel()  # square folded onto a triangle: Jacobian u
    points, weights = [], []
    for ring in pieces:
        for k in range(1, len(ring) - 1):
            p, q, r = ring[0], ring[k], ring[k + 1]
            points.append(p + u[:, None] * (q - p) + (u * v)[:, None] * (r - q))
            weights.append(w * abs(np.cross(np.append(q - p, 0.0), np.append(r - p, 0.0))[2]))
    return np.concatenate(points), np.concatenate(weights)


def plate(panel: Mapping[str, Any], degree: int) -> Plate:
    """The plate of one panel of a record."""
    pieces = convex_pieces(polygon(panel["outline"], panel.get("holes", [])))
    points, weights = _quadrature(pieces, degree + 1)
    area = float(weights.sum())
    weights = weights / area
    centre = weights @ points
    # own axes scaled to the panel's reach, so that a slender strip at any angle is as good as a square
    _, axes = np.linalg.eigh(((points - centre) * weights[:, None]).T @ (points - centre))
    ring = np.asarray(panel["outline"], dtype=np.float64) @ axes
    low, high = ring.min(axis=0), ring.max(axis=0)
    origin, to_own = axes @ ((low + high) / 2.0), axes * (2.0 / (high - low))
    raw = _polynomials(degree, (points - origin) @ to_own)
    mix = np.linalg.inv(np.linalg.qr(raw[0] * np.sqrt(weights)[:, None], mode="r"))
    slopes = np.einsum("dk,kqn->dqn", to_own, raw[1:3] @ mix)
    # laplacian and determinant of the second derivatives are the same in all axes
    sx, sy = 2.0 / (high - low)
    dxx, dyy, dxy = sx * sx * raw[3], sy * sy * raw[4], sx * sy * raw[5]
    d, nu = float(panel["bending_stiffness_n_m"]), float(panel["poisson_ratio"])
    w = weights[:, None] * area * d
    lap = dxx + dyy
    cross = (w * dxx).T @ dyy
    bending = (w * lap).T @ lap - (1.0 - nu) * (cross + cross.T - 2.0 * (w * dxy).T @ dxy)
    bending = mix.T @ ((bending + bending.T) / 2.0) @ mix
    return Plate(
        centre, area, (panel["z_back"] + panel["z_front"]) / 2.0, (panel["z_front"] - panel["z_back"]) / 2.0,
        (bending + bending.T) / 2.0, (1.0 + nu) * (w * lap).sum(axis=0) @ mix,
        float(weights @ ((points - centre) ** 2).sum(axis=1)),
        points, weights, raw[0] @ mix, slopes, (origin, to_own, mix), degree,
    )  # fmt: skip
