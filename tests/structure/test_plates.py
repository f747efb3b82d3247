"""Two constructions of the plate shapes against each other, closed forms and plain quadrature."""

import numpy as np
import pytest

from synth.core.arrays import Floats
from synth.structure.forms import disc_rule
from synth.structure.monomials import MonomialPlates
from synth.structure.orthogonal import OrthogonalPlates
from tests.near import near

HEXAGON = np.stack([np.cos(np.arange(6) * np.pi / 3), np.sin(np.arange(6) * np.pi / 3)], -1)
SHAPES = [
    np.array([[0.1, -0.2], [0.5, -0.1], [0.6, 0.3], [0.2, 0.4], [0.05, 0.1]]),
    0.2 * HEXAGON + [0.5, -0.3],
    np.array([[0.0, 0.0], [2.0, 0.1], [2.0, 0.15], [0.0, 0.1]]),
    np.array([[-1.0, 0.0], [0.3, -0.4], [0.2, 0.7]]),
]


def padded(shape: Floats) -> Floats:
    """The outline with repeated corners, as batches have it."""
    return np.concatenate([shape, shape[-1:], shape[-1:]])[None, None]


def inside(shape: Floats, count: int, rng: np.random.Generator) -> Floats:
    """Random points of a convex outline."""
    return rng.dirichlet(np.ones(len(shape)), count) @ shape


def rms_of(square: Floats, coefficients: Floats) -> Floats:
    return coefficients @ square[0, 0] @ coefficients


@pytest.mark.parametrize("shape", SHAPES, ids=["pentagon", "hexagon", "sliver", "triangle"])
@pytest.mark.parametrize("degree", [3, 4, 6])
def test_both_bases_tell_the_same_of_one_field(shape: Floats, degree: int) -> None:
    """One polynomial field told in both bases has the same means of every kind, and the same pads."""
    mono, ortho = MonomialPlates(padded(shape), degree), OrthogonalPlates(padded(shape), degree)
    rng = np.random.default_rng(1)
    points = inside(shape, 400, rng)
    where, none = np.zeros(400, dtype=np.int64), np.zeros((1, 400))
    value, _ = mono.at_feet(where, points[None], none)
    other, _ = ortho.at_feet(where, points[None], none)
    a = rng.normal(size=value.shape[-1])
    b = np.linalg.lstsq(other[0], value[0] @ a, rcond=None)[0]
    for name in ("square", "slopes"):
        assert near(rms_of(getattr(ortho.forms, name), b), rms_of(getattr(mono.forms, name), a), rel=1e-6), name
    for poisson in (0.0, 0.3, 1.0):
        bent = [rms_of(p.bending(np.ones((1, 1)), np.array([poisson])), c) for p, c in ((ortho, b), (mono, a))]
        assert near(bent[0], bent[1], rel=1e-6), poisson
    names = ("first", "slope", "spin", "swell", "laplace")
    left, right = (
        np.concatenate([np.ravel(getattr(forms, name)[0, 0] @ c) for name in names])
        for forms, c in ((ortho.forms, b), (mono.forms, a))
    )
    assert near(left, right, rel=1e-6, abs=1e-9 * np.abs(right).max())
    foot, radius = shape.mean(axis=0)[None, None] + 0.01, np.full((1, 1), 0.03)
    for left, right in zip(ortho.at_feet(where[:1], foot, radius), mono.at_feet(where[:1], foot, radius), strict=True):
        assert near(left[0, 0] @ b, right[0, 0] @ a, rel=1e-6)


@pytest.mark.parametrize("shape", SHAPES, ids=["pentagon", "hexagon", "sliver", "triangle"])
def test_means_of_a_known_field(shape: Floats) -> None:
    """w = x^2 - 3 x y + 2 y: values, slopes and curvatures written out, integrated over a fine fan of triangles."""
    plates = MonomialPlates(padded(shape), 3)
    rng = np.random.default_rng(2)
    points = inside(shape, 60, rng)

    def field(p: Floats) -> Floats:
        return p[:, 0] ** 2 - 3 * p[:, 0] * p[:, 1] + 2 * p[:, 1]

    value, _ = plates.at_feet(np.zeros(60, dtype=np.int64), points[None], np.zeros((1, 60)))
    a = np.linalg.lstsq(value[0], field(points), rcond=None)[0]
    p, w = fine(shape, 60)
    gx, gy = 2 * p[:, 0] - 3 * p[:, 1], -3 * p[:, 0] + 2
    d = p - w @ p
    f = plates.forms
    assert near(f.first[0, 0] @ a, w @ field(p), rel=2e-4, abs=1e-7, why="midpoint rule")
    assert near(rms_of(f.square, a), w @ field(p) ** 2, rel=2e-3, why="midpoint rule")
    assert near(rms_of(f.slopes, a), w @ (gx**2 + gy**2), rel=2e-3, why="midpoint rule")
    assert near(f.slope[0, 0] @ a, [w @ gx, w @ gy], rel=1e-4, abs=1e-6, why="midpoint rule")
    turned = [w @ (d[:, 1] * gx - d[:, 0] * gy), w @ (d[:, 0] * gx + d[:, 1] * gy)]
    assert near([f.spin[0, 0] @ a, f.swell[0, 0] @ a], turned, rel=3e-3, abs=5e-6, why="midpoint rule")
    assert near(f.laplace[0, 0] @ a, 2.0, rel=1e-9)
    for poisson, known in ((0.0, 4.0 + 2 * 9.0), (1.0, 4.0)):
        assert near(rms_of(plates.bending(1.0 / f.area, np.array([poisson])), a), known, rel=1e-9)
    fit = f.fit[0, 0].T @ f.square[0, 0] @ a
    columns = np.column_stack([np.ones(len(p)), p, (p**2).sum(axis=1)])
    assert near(fit, (w * field(p)) @ columns, rel=5e-3, abs=1e-5, why="midpoint rule")


def fine(shape: Floats, parts: int) -> tuple[Floats, Floats]:
    """Midpoints and shares of area of a fan about the first corner, each triangle cut into parts^2."""
    points, weights = [], []
    for k in range(1, len(shape) - 1):
        a, b, c = shape[0], shape[k], shape[k + 1]
        area = 0.5 * abs((b - a)[0] * (c - a)[1] - (b - a)[1] * (c - a)[0])
        for i in range(parts):
            for j in range(parts - i):
                for up in (1, 2) if i + j < parts - 1 else (1,):
                    u, v = (i + up / 3) / parts, (j + up / 3) / parts
                    points.append(a + u * (b - a) + v * (c - a))
                    weights.append(area / parts**2)
    total = np.array(weights)
    return np.array(points), total / total.sum()


@pytest.mark.parametrize("degree", [3, 6, 12])
def test_disc_means(degree: int) -> None:
    """Mean of x^2 over the unit disc is 1/4, of x^2 y^2 1/24, of (x^2 + y^2)^(n/2) 2 / (n + 2)."""
    points, weights = disc_rule(degree)
    x, y = points.T
    assert near(weights @ x**2, 0.25, rel=1e-12)
    if degree >= 4:
        assert near(weights @ (x**2 * y**2), 1 / 24, rel=1e-12)
    even = degree - degree % 2
    assert near(weights @ (x**2 + y**2) ** (even // 2), 2 / (even + 2), rel=1e-12)


@pytest.mark.parametrize("degree", [8, 12, 16])
def test_high_degrees_stay_orthonormal(degree: int) -> None:
    """The shapes of a sliver and a triangle are orthonormal on an independent, finer quadrature."""
    for shape in (SHAPES[2], SHAPES[3]):
        plates, finer = OrthogonalPlates(shape[None, None], degree), OrthogonalPlates(shape[None, None], 16)
        own, rule = plates.panels[0], finer.panels[0]
        value = own.means(rule.points[:, None], np.ones(1))[:, 0]
        gram = value.T @ (value * (rule.weights / rule.area)[:, None])
        assert near(gram, np.eye(len(gram)), rel=1e-7, abs=1e-7, why="condition 6e8 of a triangle at 16")
