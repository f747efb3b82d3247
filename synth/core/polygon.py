"""Batches of convex polygons: area, centroid, second moments, clipping, circle overlap.

Polygons are [..., V, 2], counter-clockwise, padded by repeating a corner; padding
changes none of the results.
"""

import numpy as np

from synth.core.arrays import Bools, Column, Floats, cross2, pair


def ahead(polygon: Floats) -> Floats:
    """The next corner of each corner of polygons [..., V, 2]."""
    return np.concatenate([polygon[..., 1:, :], polygon[..., :1, :]], axis=-2)


def area(polygon: Floats) -> Floats:
    """Signed area [...] (shoelace formula)."""
    return np.asarray(0.5 * cross2(polygon, ahead(polygon)).sum(axis=-1))


def centroid(polygon: Floats) -> Floats:
    """Centre of area [..., 2]; a polygon without area gives the mean of its corners."""
    after = ahead(polygon)
    w = cross2(polygon, after)
    total = w.sum(axis=-1, keepdims=True)
    safe = np.where(np.abs(total) > 0.0, total, 1.0)
    centre = ((polygon + after) * w[..., None]).sum(axis=-2) / (3.0 * safe)
    return np.asarray(np.where(np.abs(total) > 0.0, centre, polygon.mean(axis=-2)))


def width_along(way: Floats, polygon: Floats) -> Floats:
    """Extents [..., E] of polygons [..., V, 2] along directions [..., E, 2] (of unit length)."""
    # by component: rectangles round a triangle tie, and a matrix product of another batch may break the tie otherwise
    along = way[..., :1] * polygon[..., None, :, 0] + way[..., 1:] * polygon[..., None, :, 1]
    return np.asarray(along.max(axis=-1) - along.min(axis=-1))


def clip(polygon: Floats, normal: Floats, offset: Floats) -> Floats:
    """Part of convex polygons [..., V, 2] with normal . x <= offset; the result has 2 V corners, padded.

    normal [..., 2] and offset [...] broadcast against the leading axes. A polygon wholly
    outside collapses to its corner nearest to the line (area 0).
    """
    normal = np.broadcast_to(normal, (*polygon.shape[:-2], 2))
    offset = np.broadcast_to(offset, polygon.shape[:-2])
    distance = polygon[..., 0] * normal[..., :1] + polygon[..., 1] * normal[..., 1:] - offset[..., None]
    inside = np.asarray(distance <= 0.0)
    after, after_d = ahead(polygon), _next(distance)
    inside_after = _next(inside)
    span = distance - after_d
    share = distance / np.where(span == 0.0, 1.0, span)
    crossing = polygon + np.clip(share, 0.0, 1.0)[..., None] * (after - polygon)
    leaves, enters = np.asarray(inside & ~inside_after), np.asarray(~inside & inside_after)
    fallback = np.take_along_axis(polygon, distance.argmin(axis=-1)[..., None, None], axis=-2)

    def pick(flags: Bools) -> Floats:
        where = flags.argmax(axis=-1)[..., None, None]
        point = np.take_along_axis(crossing, where, axis=-2)
        return np.where(np.asarray(flags.any(axis=-1))[..., None, None], point, fallback)

    out_point, in_point = pick(leaves), pick(enters)
    out = np.empty((*polygon.shape[:-1], 2, 2))
    out[..., 0, :] = np.where(inside[..., None], polygon, out_point)
    out[..., 1, :] = np.where((inside_after & ~inside)[..., None], in_point, out[..., 0, :])
    return out.reshape(*polygon.shape[:-2], 2 * polygon.shape[-2], 2)


def _next(values: np.ndarray) -> np.ndarray:
    """values [..., V] of the next corner of each."""
    return np.concatenate([values[..., 1:], values[..., :1]], axis=-1)


def compact(polygon: Floats, corners: int, tolerance: float = 1e-9) -> Floats:
    """The same polygons with at most `corners` corners: repeats closer than tolerance (m) dropped, then padded.

    Raises ValueError where a polygon has more distinct corners than that.
    """
    apart = np.abs(polygon - np.concatenate([polygon[..., -1:, :], polygon[..., :-1, :]], axis=-2)) > tolerance
    fresh = apart[..., 0] | apart[..., 1]
    fresh[..., 0] |= ~fresh.any(axis=-1)
    if int(fresh.sum(axis=-1).max(initial=0)) > corners:
        raise ValueError(f"polygons with {int(fresh.sum(axis=-1).max())} corners do not fit in {corners}")
    order = np.argsort(~fresh, axis=-1, kind="stable")[..., :corners]
    kept = np.take_along_axis(polygon, order[..., None], axis=-2)
    count = fresh.sum(axis=-1)[..., None]
    place = np.minimum(np.arange(min(corners, polygon.shape[-2])), count - 1)
    out = np.take_along_axis(kept, place[..., None], axis=-2)
    missing = corners - out.shape[-2]
    return out if missing <= 0 else np.concatenate([out, np.repeat(out[..., -1:, :], missing, axis=-2)], axis=-2)


def trim_to_circle(polygon: Floats, radius: Column | float, tangents: int = 3) -> Floats:
    """Polygons [..., V, 2] cut by lines tangent to the circle of that radius about the origin.

    The lines touch at `tangents` directions spread over the angle that the polygon takes
    seen from the origin, so nothing inside the circle is lost. The result has
    V * 2**tangents corners; call compact. Polygons that contain the origin stay as they are.
    """
    centre = centroid(polygon)
    middle = np.arctan2(centre[..., 1], centre[..., 0])
    angles = np.arctan2(polygon[..., 1], polygon[..., 0]) - middle[..., None]
    angles = (angles + np.pi) % (2.0 * np.pi) - np.pi
    low, high = angles.min(axis=-1), angles.max(axis=-1)
    wide = (high - low) > np.pi
    far = np.where(wide, 1e6, 1.0)
    out = polygon
    for k in range(tangents):
        share = (k + 0.5) / tangents
        a = middle + low + share * (high - low)
        out = clip(out, pair(np.cos(a), np.sin(a)), np.asarray(radius) * far)
    return out


def moments(polygon: Floats, centre: Floats | None = None) -> Floats:
    """Second moments of area [..., 3] = (int x^2, int x y, int y^2) about `centre` [..., 2] (default: the origin)."""
    p = polygon if centre is None else polygon - centre[..., None, :]
    q = ahead(p)
    w = cross2(p, q)
    px, py, qx, qy = p[..., 0], p[..., 1], q[..., 0], q[..., 1]
    out = np.empty((*w.shape[:-1], 3))
    out[..., 0] = ((px**2 + px * qx + qx**2) * w / 12.0).sum(axis=-1)
    out[..., 1] = ((2.0 * px * py + (px * qy + qx * py) + 2.0 * qx * qy) * w / 24.0).sum(axis=-1)
    out[..., 2] = ((py**2 + py * qy + qy**2) * w / 12.0).sum(axis=-1)
    return out


def circle_overlap(polygon: Floats, radius: Column | float) -> Floats:
    """Area [...] of polygons [..., V, 2] inside the circle of that radius about the origin; exact.

    Each edge adds the signed area that it sweeps from the origin inside the circle:
    triangle where the edge lies inside, sector where it lies outside.
    """
    a, b = polygon, ahead(polygon)
    r = np.broadcast_to(np.asarray(radius, dtype=np.float64)[..., None], a.shape[:-1]) if np.ndim(radius) else radius
    d = b - a
    dd = (d * d).sum(axis=-1)
    safe = np.where(dd > 0.0, dd, 1.0)
    ad = (a * d).sum(axis=-1)
    root = ad**2 - dd * ((a * a).sum(axis=-1) - np.square(r))
    half = np.sqrt(np.maximum(root, 0.0))
    t1 = np.clip((-ad - half) / safe, 0.0, 1.0)
    t2 = np.clip((-ad + half) / safe, 0.0, 1.0)
    missed = (root <= 0.0) | (dd == 0.0)
    t1, t2 = np.where(missed, 1.0, t1), np.where(missed, 1.0, t2)
    p, q = a + t1[..., None] * d, a + t2[..., None] * d

    def sector(u: Floats, v: Floats) -> Floats:
        return np.asarray(0.5 * np.square(r) * np.arctan2(cross2(u, v), (u * v).sum(axis=-1)))

    swept = sector(a, p) + 0.5 * cross2(p, q) + sector(q, b)
    # an edge that starts inside has t1 = 0 (p = a, sector 0); one that never meets the disc is all sector
    return np.asarray(np.where(dd > 0.0, swept, 0.0).sum(axis=-1))


def inset(polygon: Floats, distance: Column) -> tuple[Floats, Floats]:
    """Convex polygons [..., V, 2] with every edge moved inwards by `distance` [...], and what is left of them [...].

    Corners go to where neighbouring moved edges cross. What is left: the least length of a moved edge over its length
    before; below zero where an edge has vanished, and the corners then mean nothing.
    """
    step = ahead(polygon) - polygon
    length = np.linalg.norm(step, axis=-1)
    real = np.asarray(length > 1e-9)
    u = step / np.where(real, length, 1.0)[..., None]
    after, before = _filled(u, real, -1), _filled(np.roll(u, 1, axis=-2), np.roll(real, 1, axis=-1), 1)
    normals = [np.stack([-w[..., 1], w[..., 0]], axis=-1) for w in (after, before)]
    meet = 1.0 + (normals[0] * normals[1]).sum(axis=-1, keepdims=True)
    moved = polygon + distance[..., None, None] * (normals[0] + normals[1]) / np.maximum(meet, 1e-9)
    left = ((ahead(moved) - moved) * u).sum(axis=-1) / np.where(real, length, 1.0)
    return moved, np.asarray(np.where(real, left, np.inf).min(axis=-1))


def _filled(direction: Floats, real: Bools, shift: int) -> Floats:
    """Directions [..., V, 2] with those of edges without length taken from the next one that has some."""
    known = real
    for _ in range(direction.shape[-2] - 1):
        if known.all():
            break
        near = np.roll(direction, shift, axis=-2)
        direction = np.where(known[..., None], direction, near)
        known = np.asarray(known | np.roll(known, shift, axis=-1))
    return direction
