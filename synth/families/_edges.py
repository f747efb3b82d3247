"""Where two outlines that face each other across a gap both have edge."""

import numpy as np

from synth.core.arrays import Floats


def common_edge(first: Floats, second: Floats, point: Floats, normal: Floats) -> Floats:
    """Middle line [..., 2, 2] between the facing edges of two convex outlines [..., V, 2].

    The line runs through `point` [..., 2] across `normal` [..., 2] (unit, from first to second)
    and covers what both outlines have as an edge there. Where they share nothing it shrinks
    to a point. Units: m.
    """
    along = np.stack([-normal[..., 1], normal[..., 0]], axis=-1)
    low = np.full(point.shape[:-1], -np.inf)
    high = np.full(point.shape[:-1], np.inf)
    for outline, sign in ((first, 1.0), (second, -1.0)):
        away = outline - point[..., None, :]
        ahead = sign * (away * normal[..., None, :]).sum(axis=-1)
        place = (away * along[..., None, :]).sum(axis=-1)
        on = ahead > ahead.max(axis=-1, keepdims=True) - 1e-9
        low = np.maximum(low, np.where(on, place, np.inf).min(axis=-1))
        high = np.minimum(high, np.where(on, place, -np.inf).max(axis=-1))
    middle = (low + high) / 2.0
    low, high = np.minimum(low, middle), np.maximum(high, middle)
    return np.stack([point + low[..., None] * along, point + high[..., None] * along], axis=-2)
