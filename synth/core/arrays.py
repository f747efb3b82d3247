"""Array aliases and the few vector operations that everything above is written in.

Axis letters, always in this order: B candidates, S stations of the path, P panels,
H hinges, K free edges that a latch may join, U joint units, F fittings, V corners,
3 space. Functions in this module accept any leading axes; everything above them has
exactly the axes that its docstring names.
"""

from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

Floats: TypeAlias = NDArray[np.float64]
"""Real numbers; the axes are named in the docstring of whatever carries them."""
Column: TypeAlias = NDArray[np.float64]
"""One real number a candidate: shape [B]."""
Ints: TypeAlias = NDArray[np.int64]
Bools: TypeAlias = NDArray[np.bool_]


def dot(a: Floats, b: Floats) -> Floats:
    """Inner product over the last axis."""
    return np.asarray(np.einsum("...i,...i->...", a, b))


def cross2(a: Floats, b: Floats) -> Floats:
    """z component of the cross product of plane vectors [..., 2]."""
    return a[..., 0] * b[..., 1] - a[..., 1] * b[..., 0]


def norm(a: Floats) -> Floats:
    """|a| over a last axis of 2 or 3: by component, since sums over so short an axis take several times as long."""
    x, y = a[..., 0], a[..., 1]
    square = x * x + y * y
    if a.shape[-1] == 3:
        z = a[..., 2]
        square += z * z
    return np.asarray(np.sqrt(square))


def cross(a: Floats, b: Floats) -> Floats:
    """Vector product of vectors [..., 3]."""
    ax, ay, az = a[..., 0], a[..., 1], a[..., 2]
    bx, by, bz = b[..., 0], b[..., 1], b[..., 2]
    out = np.empty(np.broadcast_shapes(a.shape, b.shape))
    out[..., 0] = ay * bz - az * by
    out[..., 1] = az * bx - ax * bz
    out[..., 2] = ax * by - ay * bx
    return out


def unit(a: Floats) -> Floats:
    """a / |a| over a last axis of 2 or 3; a zero vector stays zero."""
    length = norm(a)[..., None]
    return np.asarray(a / np.where(length > 0.0, length, 1.0))


def pair(x: Floats, y: Floats) -> Floats:
    """Plane vectors [..., 2] of their components, of one shape."""
    out = np.empty((*x.shape, 2))
    out[..., 0], out[..., 1] = x, y
    return out


def quarter_turn(a: Floats) -> Floats:
    """Plane vectors [..., 2] turned by 90 degrees counter-clockwise."""
    return pair(-a[..., 1], a[..., 0])


def pick(values: Floats, place: Ints) -> Floats:
    """values [..., N] at the places [...] of the last axis."""
    return np.asarray(np.take_along_axis(values, place[..., None], axis=-1)[..., 0])


def compose(a_from_b: Floats, b_from_c: Floats) -> Floats:
    """a_from_c of two poses [..., 3, 4] (rotation beside translation)."""
    rotation = a_from_b[..., :3] @ b_from_c[..., :3]
    out = np.empty((*rotation.shape[:-1], 4))
    out[..., :3], out[..., 3:] = rotation, a_from_b[..., :3] @ b_from_c[..., 3:] + a_from_b[..., 3:]
    return out


def transform(a_from_b: Floats, points: Floats) -> Floats:
    """Points [..., N, 3] of frame b told in frame a; a_from_b is [..., 3, 4]."""
    return points @ np.swapaxes(a_from_b[..., :3], -1, -2) + a_from_b[..., None, :, 3]


def invert(a_from_b: Floats) -> Floats:
    """b_from_a of a pose [..., 3, 4]."""
    back = np.swapaxes(a_from_b[..., :3], -1, -2)
    return np.concatenate([back, -back @ a_from_b[..., 3:]], axis=-1)


IDENTITY = np.eye(3)


def turn_about(first: Floats, second: Floats, angle: Floats) -> Floats:
    """Pose [..., 3, 4] of a right-handed turn by angle [...] about the line first -> second [..., 3].

    Rodrigues: R = I + sin(a) K + (1 - cos(a)) K^2, with K the cross-product matrix of
    the unit direction; the shift keeps the points of the line fixed.
    """
    k = unit(second - first)
    out = np.empty((*np.broadcast_shapes(k.shape[:-1], np.shape(angle)), 3, 4))
    product = np.zeros((*k.shape[:-1], 3, 3))
    for i, j, m in ((0, 1, 2), (1, 2, 0), (2, 0, 1)):
        product[..., m, j], product[..., j, m] = k[..., i], -k[..., i]
    a = np.asarray(angle)[..., None, None]
    out[..., :3] = IDENTITY + np.sin(a) * product + (1.0 - np.cos(a)) * (product @ product)
    out[..., 3:] = first[..., None] - out[..., :3] @ first[..., None]
    return out


def identity_poses(*leading: int) -> Floats:
    """Poses [..., 3, 4] that move nothing."""
    return np.broadcast_to(np.eye(3, 4), (*leading, 3, 4)).copy()


def take_rows(table: Any, index: Any) -> Any:
    """Rows of an array along the batch axis, or the thing itself where it has none."""
    return table[index] if isinstance(table, np.ndarray) and table.ndim else table
