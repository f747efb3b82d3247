"""Least distances that a problem asks of panels: face gap stowed, edge gap deployed."""

import numpy as np

from synth.core.arrays import Column, Floats, dot, unit


def edge_gap(outline: Floats) -> Column:
    """Least distance [B] (m) between the deployed outlines of different panels [B, P, V, 2]; negative: they overlap.

    All panels of a family share z, so every pair counts. Convex outlines: where a side
    normal separates two, the least distance from a corner of one to a side of the other;
    else minus the depth (separating axes; elementary). Pairs whose circles are farther
    apart than the nearest two in every row are not worked out. inf for one panel.
    """
    rows, panels = outline.shape[:2]
    centre = (outline.max(axis=2) + outline.min(axis=2)) / 2.0
    radius = np.linalg.norm(outline - centre[:, :, None], axis=-1).max(axis=2)
    first, second = np.triu_indices(panels, 1)
    if not len(first):
        return np.full(rows, np.inf)
    apart = np.linalg.norm(centre[:, first] - centre[:, second], axis=-1)
    low = apart - radius[:, first] - radius[:, second]
    # two outlines are never farther apart than their centres
    live = (low <= apart.min(axis=1, keepdims=True)).any(axis=0)
    out = np.full(rows, np.inf)
    for i, j in zip(first[live], second[live], strict=True):
        out = np.minimum(out, _polygon_gap(outline[:, i], outline[:, j]))
    return out


def _polygon_gap(a: Floats, b: Floats) -> Column:
    """Distance [B] of convex polygons [B, V, 2], counter-clockwise; minus the depth where they overlap."""
    gap = np.maximum(_side_gap(a, b), _side_gap(b, a))
    near = np.minimum(_corner_distance(a, b), _corner_distance(b, a))
    return np.where(gap > 0.0, near, gap)


def _side_gap(a: Floats, b: Floats) -> Column:
    """Greatest distance [B] of polygon b beyond a side of a."""
    step = np.roll(a, -1, axis=1) - a
    out = unit(np.stack([step[..., 1], -step[..., 0]], axis=-1))
    beyond = np.einsum("bek,bvk->bev", out, b) - dot(out, a)[..., None]
    real = np.abs(step).max(axis=-1) > 1e-9
    return np.asarray(np.where(real, beyond.min(axis=-1), -np.inf).max(axis=-1))


def _corner_distance(points: Floats, polygon: Floats) -> Column:
    """Least distance [B] from points to the sides of a polygon."""
    step = np.roll(polygon, -1, axis=1) - polygon
    offset = points[:, :, None] - polygon[:, None]
    square = dot(step, step)
    share = np.einsum("bvek,bek->bve", offset, step) / np.where(square > 0.0, square, 1.0)[:, None]
    nearest = offset - np.clip(share, 0.0, 1.0)[..., None] * step[:, None]
    return np.asarray(np.linalg.norm(nearest, axis=-1).min(axis=(1, 2)))
