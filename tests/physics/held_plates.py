"""One plate of the record's shapes (orthonormal polynomials) held along its rim: D = 1 and unit mass an area."""

import numpy as np
from scipy.linalg import eigh, null_space

from synth.core.arrays import Floats
from synth.structure.orthogonal import OrthogonalPlates

Rim = tuple[Floats, Floats]
"""Points [N, 2] and outward normals [N, 2]."""


def sides(outline: Floats, which: tuple[int, ...], count: int = 24) -> Rim:
    """Gauss points of some sides of a counter-clockwise outline."""
    nodes, _ = np.polynomial.legendre.leggauss(count)
    points, normals = [], []
    for k in which:
        a, b = outline[k], outline[(k + 1) % len(outline)]
        along = (b - a) / np.linalg.norm(b - a)
        points.append(0.5 * (a + b) + 0.5 * np.outer(nodes, b - a))
        normals.append(np.tile([along[1], -along[0]], (count, 1)))
    return np.concatenate(points), np.concatenate(normals)


def circle(radius: float, count: int = 96) -> Rim:
    """Points of a circle about the origin: no corners, so that a simply supported plate is round and not a polygon."""
    turn = 2.0 * np.pi * np.arange(count) / count
    normal = np.stack([np.cos(turn), np.sin(turn)], axis=-1)
    return radius * normal, normal


class Held:
    """Stiffness and mass of a plate whose deflection (and slope across the rim, where clamped) is nothing on a rim."""

    def __init__(self, outline: Floats, degree: int, poisson: float) -> None:
        self.plates = OrthogonalPlates(outline[None, None], degree)
        forms = self.plates.forms
        self.stiff = self.plates.bending(np.ones((1, 1)), np.array([poisson]))[0, 0]
        self.heavy = forms.square[0, 0] * forms.area[0, 0]
        self.pressed = forms.first[0, 0] * forms.area[0, 0]
        self.poisson, self.space = poisson, np.eye(len(self.stiff))

    def at(self, points: Floats) -> tuple[Floats, Floats]:
        """Values [N, n] and gradients [N, 2, n] of the shapes."""
        many = len(points)
        value, gradient = self.plates.at_feet(np.zeros(many, dtype=np.int64), points[None], np.zeros((1, many)))
        return value[0], gradient[0]

    def exactly(self, rim: Rim, clamped: bool) -> "Held":
        """Only shapes that vanish on the rim: exact where polynomials can (straight sides)."""
        value, gradient = self.at(rim[0])
        rows = [value] + ([np.einsum("nd,ndk->nk", rim[1], gradient)] if clamped else [])
        self.space = null_space(np.concatenate(rows), rcond=1e-9)
        return self

    def nearly(self, rim: Rim, clamped: bool, stiff: float = 1e7) -> "Held":
        """Stiff springs along the rim (for round rims)."""
        value, gradient = self.at(rim[0])
        each = stiff / len(value)
        self.stiff = self.stiff + each * value.T @ value
        if clamped:
            slope = np.einsum("nd,ndk->nk", rim[1], gradient)
            self.stiff = self.stiff + each * slope.T @ slope
        return self

    def even(self, points: Floats) -> "Held":
        """Only shapes whose slope along y vanishes at the points (a middle line along x: no torsion)."""
        rows = self.at(points)[1][:, 1] @ self.space
        self.space = self.space @ null_space(rows, rcond=1e-9)
        return self

    def squares(self, count: int) -> Floats:
        """Lowest omega^2."""
        stiff, heavy = (self.space.T @ m @ self.space for m in (self.stiff, self.heavy))
        return np.asarray(eigh(stiff, heavy, eigvals_only=True)[:count])

    def pressure(self) -> Floats:
        """Coefficients of the deflection under unit pressure."""
        shape = np.linalg.solve(self.space.T @ self.stiff @ self.space, self.space.T @ self.pressed)
        return np.asarray(self.space @ shape)

    def moments(self, coefficients: Floats, point: Floats) -> tuple[float, float]:
        """Bending moments (Mx, My) at a point, for unit D."""
        own = self.plates.panels[0]
        turn = self.plates.turn[0]
        local = (point - self.plates.centre[0, 0])[None] @ turn
        value, (dx, dy) = own.means(local[:, None], np.ones(1))[0, 0], own.slopes
        xx, yy, xy = (value @ first @ second @ coefficients for first, second in ((dx, dx), (dy, dy), (dx, dy)))
        back = turn @ np.array([[xx, xy], [xy, yy]]) @ turn.T
        return float(back[0, 0] + self.poisson * back[1, 1]), float(back[1, 1] + self.poisson * back[0, 0])


SQUARE = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
ALL = (0, 1, 2, 3)


def rectangle(a: float, b: float) -> Floats:
    return np.array([[0.0, 0.0], [a, 0.0], [a, b], [0.0, b]])


def disc(corners: int = 64) -> Floats:
    """A polygon of the unit circle's own area."""
    step = 2.0 * np.pi / corners
    turn = step * (np.arange(corners) + 0.5)
    return np.sqrt(step / np.sin(step)) * np.stack([np.cos(turn), np.sin(turn)], axis=-1)
