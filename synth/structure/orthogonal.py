"""Plate shapes for the record: polynomials of high degree, orthonormal over each panel.

Products of Legendre polynomials on the whitened panel's bounding box, ordered by total degree and made
orthonormal by QR at quadrature points: the first (d + 1)(d + 2)/2 shapes span exactly the polynomials of degree
d, so one construction serves all lower degrees. The condition before QR stays below 1e9 to degree 16 (a triangle;
1e6 for a rectangle). Slopes are polynomials of lower degree, so matrices in the shapes themselves tell them, and
orthonormality does every further integral.
"""

from functools import cache

import numpy as np
from scipy.linalg import solve_triangular

from synth.core import polygon
from synth.core.arrays import Floats, Ints
from synth.core.pieces import convex_pieces
from synth.structure.forms import Forms, Plates, disc_rule
from synth.structure.monomials import exponents


@cache
def _triangle_rule(degree: int) -> tuple[Floats, Floats]:
    """Points [Q, 2] in the unit triangle (0,0) (1,0) (0,1) and weights (sum 1/2), exact to that degree.

    Gauss-Legendre product on the square collapsed onto the triangle.
    """
    nodes, weights = np.polynomial.legendre.leggauss(degree // 2 + 1)
    s, w = 0.5 * (nodes + 1.0), 0.5 * weights
    x, y = np.meshgrid(s, s, indexing="ij")
    points = np.stack([x * (1.0 - y), y], axis=-1)
    return points.reshape(-1, 2), (np.outer(w, w) * (1.0 - y)).reshape(-1)


def _quadrature(outline: Floats, degree: int) -> tuple[Floats, Floats]:
    """Points [Q, 2] and weights [Q] over one simple polygon [V, 2]: fans of triangles about corners of its pieces."""
    apart = np.abs(outline - np.roll(outline, 1, axis=0)).max(axis=-1) > 0.0
    pieces = convex_pieces(outline[apart])
    if len(pieces) > 1:
        parts = [_quadrature(piece, degree) for piece in pieces]
        return np.concatenate([p for p, _ in parts]), np.concatenate([w for _, w in parts])
    corner, a, b = outline[0], outline[1:-1] - outline[0], outline[2:] - outline[0]
    twice = a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]
    real = twice > 1e-12 * twice.max()
    points, weights = _triangle_rule(degree)
    spread = points[:, 0, None, None] * a[real] + points[:, 1, None, None] * b[real]
    return (corner + spread).reshape(-1, 2), (weights[:, None] * twice[real]).reshape(-1)


def _legendre(x: Floats, degree: int) -> Floats:
    """Legendre polynomials [..., degree + 1] of coordinates [...]."""
    out = np.ones((degree + 1, *x.shape))
    out[1:2] = x
    for n in range(1, degree):
        out[n + 1] = ((2 * n + 1) * x * out[n] - n * out[n - 1]) / (n + 1)
    return np.moveaxis(out, 0, -1)


@cache
def _derivatives(degree: int) -> tuple[Floats, Floats]:
    """Matrices [N, N]: columns tell d/dx and d/dy of the products P_a(x) P_b(y) in those products.

    P_n' is the sum of (2 k + 1) P_k over k = n - 1, n - 3, ... (from P'_(n+1) = P'_(n-1) + (2 n + 1) P_n).
    """
    a, b = exponents(degree)
    falls = [np.where((k[:, None] < k) & ((k - k[:, None]) % 2 == 1), 2.0 * k[:, None] + 1.0, 0.0) for k in (a, b)]
    return falls[0] * (b[:, None] == b), falls[1] * (a[:, None] == a)


class _Panel:
    """Shapes of one panel, centroid at the origin: a map to box coordinates and a triangle that orthonormalises.

    slopes [2, N, N]: columns tell d/dx and d/dy of the shapes in the shapes.
    """

    def __init__(self, outline: Floats, degree: int) -> None:
        self.degree = degree
        points, weights = self.points, self.weights = _quadrature(outline, 2 * degree)
        self.area = float(weights.sum())
        second = (weights[:, None] * points).T @ points / self.area
        level, axes = np.linalg.eigh(second)
        whiten = axes / np.sqrt(level)
        box = outline @ whiten
        low, high = box.min(axis=0), box.max(axis=0)
        self.turn = whiten * (2.0 / (high - low))
        self.shift = (low + high) / (high - low)
        raw = self.raw(*np.moveaxis(points @ self.turn - self.shift, -1, 0))
        root = np.linalg.qr(np.sqrt(weights / self.area)[:, None] * raw, mode="r")
        root = root * np.sign(np.diag(root))[:, None]
        self.turned = np.asarray(solve_triangular(root, np.eye(len(root)), check_finite=False))
        along, across = (root @ d @ self.turned for d in _derivatives(degree))
        self.slopes = np.stack([self.turn[i, 0] * along + self.turn[i, 1] * across for i in (0, 1)])
        share = weights / self.area
        field = np.column_stack([points, (points**2).sum(axis=1)])
        # the first shapes span the polynomials up to degree 2
        self.fields = (raw[:, :6] @ self.turned[:6, :6]).T @ (share[:, None] * field)
        self.polar = float(share @ field[:, 2])

    def raw(self, x: Floats, y: Floats) -> Floats:
        """Products of Legendre polynomials [..., N] of box coordinates [...]."""
        a, b = exponents(self.degree)
        return np.asarray(_legendre(x, self.degree)[..., a] * _legendre(y, self.degree)[..., b])

    def means(self, points: Floats, weights: Floats) -> Floats:
        """Weighted means [F, 3, N] of shapes and their x and y slopes at points [F, Q, 2], weights [Q]."""
        x, y = np.moveaxis(points @ self.turn - self.shift, -1, 0)
        px, py = _legendre(x, self.degree), _legendre(y, self.degree)
        a, b = exponents(self.degree)
        table = np.swapaxes(px, -1, -2) @ (py * weights[:, None])
        value = table[..., a, b] @ self.turned
        return np.stack([value, value @ self.slopes[0], value @ self.slopes[1]], axis=1)

    def forms(self) -> dict[str, Floats]:
        """One panel's entries of Forms, without its centre, and its twist and dome; fit about its centroid."""
        dx, dy = self.slopes
        xx, yy, xy = dx @ dx, dy @ dy, dx @ dy
        laplace = xx + yy
        count = len(dx)
        constant = np.zeros(count)
        constant[0] = 1.0
        fit = np.zeros((count, 4))
        fit[0, 0] = 1.0
        fit[:6, 1:] = self.fields
        x, y = fit[:, 1], fit[:, 2]
        return {
            "area": np.asarray(self.area),
            "polar": np.asarray(self.polar),
            "first": constant,
            "slope": np.stack([dx[0], dy[0]]),
            "spin": y @ dx - x @ dy,
            "swell": x @ dx + y @ dy,
            "laplace": laplace[0],
            "square": np.eye(count),
            "slopes": dx.T @ dx + dy.T @ dy,
            "twist": xx.T @ xx + yy.T @ yy + 2.0 * xy.T @ xy,
            "dome": laplace.T @ laplace,
            "fit": fit,
        }


class OrthogonalPlates(Plates):
    """Orthonormal polynomials of total degree `degree` (2 to 16) on the outlines [1, P, V, 2] of one candidate.

    Panels that are shifted and turned copies of one another (to 1e-10 m, corners in the same order) share one set
    of shapes; `turn` [P, 2, 2] brings (x, y) - centre into the frame of the shapes, whose first edge lies along x.
    """

    def __init__(self, outline: Floats, degree: int) -> None:
        self.degree, self.centre = degree, polygon.centroid(outline)
        self.turn = _turns(outline[0])
        local = (outline[0] - self.centre[0, :, None]) @ self.turn
        known: dict[bytes, tuple[_Panel, dict[str, Floats]]] = {}
        self.panels = []
        entries = []
        for shape in local:
            key = (np.round(shape, 10) + 0.0).tobytes()
            if key not in known:
                made = _Panel(shape, degree)
                known[key] = made, made.forms()
            self.panels.append(known[key][0])
            entries.append(known[key][1])
        stacked = {k: np.stack([e[k] for e in entries])[None] for k in entries[0]}
        self._twist, self._dome = stacked.pop("twist"), stacked.pop("dome")
        stacked["slope"] = self.turn @ stacked["slope"]
        stacked["fit"] = stacked["fit"] @ _moved(self.centre, self.turn)
        self.forms = Forms(centre=self.centre, **stacked)

    def bending(self, stiffness: Floats, poisson: Floats) -> Floats:
        """twist and dome: means of H : H and (tr H)^2, which no turn of the frame changes."""
        nu = poisson[:, None, None, None]
        scale = (self.forms.area * stiffness)[..., None, None]
        return scale * ((1.0 - nu) * self._twist + nu * self._dome)

    def pads(self, panel: Ints, foot: Floats, radius: Floats) -> Floats:
        points, weights = disc_rule(self.degree) if radius.any() else (np.zeros((1, 2)), np.ones(1))
        out = np.zeros((1, len(panel), 3, self.forms.first.shape[-1]))
        local = ((foot[0] - self.centre[0, panel])[:, None] @ self.turn[panel])[:, 0]
        for shapes in dict.fromkeys(self.panels):
            mine = np.flatnonzero([self.panels[p] is shapes for p in panel.tolist()])
            if not len(mine):
                continue
            found = shapes.means(local[mine, None] + radius[0, mine, None, None] * points, weights)
            found[:, 1:] = self.turn[panel[mine]] @ found[:, 1:]
            out[0, mine] = found
        return out


def _turns(outline: Floats) -> Floats:
    """Matrices [P, 2, 2] with which d @ turn has the first real edge of each outline [P, V, 2] along x."""
    step = np.roll(outline, -1, axis=-2) - outline
    length = np.linalg.norm(step, axis=-1)
    first = (length > 1e-6 * length.max(axis=-1, keepdims=True)).argmax(axis=-1)
    edge = step[np.arange(len(outline)), first]
    along = edge / np.linalg.norm(edge, axis=-1, keepdims=True)
    return np.stack([along, np.stack([-along[:, 1], along[:, 0]], axis=-1)], axis=-1)


def _moved(centre: Floats, turn: Floats) -> Floats:
    """Matrices [1, P, 4, 4] that turn fits of 1, d' and |d|^2, d' = d turn, into fits of 1, x, y and x^2 + y^2."""
    out = np.zeros((*centre.shape[:-1], 4, 4))
    out[..., 0, 0] = out[..., 3, 3] = 1.0
    out[..., 1:3, 1:3] = np.swapaxes(turn, -1, -2)
    out[..., 0, 1:3] = centre
    out[..., 0, 3] = (centre**2).sum(axis=-1)
    out[..., 1:3, 3] = 2.0 * (centre[..., None, :] @ turn)[..., 0, :]
    return out
