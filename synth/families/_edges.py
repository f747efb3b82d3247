"""Where two outlines that face each other across a gap both have edge."""

import numpy as np

from synth.core.arrays import Floats, pair, quarter_turn


def common_edge(first: Floats, second: Floats, point: Floats, normal: Floats) -> Floats:
    """Middle line [..., 2, 2] between the facing edges of two convex outlines [..., V, 2].

    The line runs through `point` [..., 2] across `normal` [..., 2] (unit, from first to second)
    and covers what both outlines have as an edge there. Where they share nothing it shrinks
    to a point. Units: m.
    """
    along = quarter_turn(normal)
    low = np.full(point.shape[:-1], -np.inf)
    high = np.full(point.shape[:-1], np.inf)
    for outline, sign in ((first, 1.0), (second, -1.0)):
        x, y = outline[..., 0] - point[..., :1], outline[..., 1] - point[..., 1:]
        ahead = sign * (x * normal[..., :1] + y * normal[..., 1:])
        place = x * along[..., :1] + y * along[..., 1:]
        on = ahead > ahead.max(axis=-1, keepdims=True) - 1e-9
        low = np.maximum(low, np.where(on, place, np.inf).min(axis=-1))
        high = np.minimum(high, np.where(on, place, -np.inf).max(axis=-1))
    middle = (low + high) / 2.0
    low, high = np.minimum(low, middle), np.maximum(high, middle)
    ends = pair(low, high)[..., None]
    return np.asarray(point[..., None, :] + ends * along[..., None, :])
