"""Slow twin: exact distance of two convex prisms, corner to face and edge to edge, one pair at a time."""

import numpy as np

from synth.core.arrays import Floats, dot


def prism_distance(first: Floats, second: Floats) -> float:
    """Distance (m) of two convex prisms apart from each other: corners [2 V, 3], back face first, in one frame.

    The least of corner to face and edge to edge distances over both (two disjoint convex
    polyhedra are nearest at such a pair; elementary).
    """
    a, b = _edges(first), _edges(second)
    best = float(segment_distance(a[:, None, 0], a[:, None, 1], b[None, :, 0], b[None, :, 1]).min())
    return min(best, _corner_to_faces(first, second), _corner_to_faces(second, first))


def _edges(prism: Floats) -> Floats:
    count = len(prism) // 2
    back, front = prism[:count], prism[count:]
    rings = [np.stack([ring, np.roll(ring, -1, axis=0)], axis=1) for ring in (back, front)]
    return np.concatenate([*rings, np.stack([back, front], axis=1)])


def segment_distance(p0: Floats, p1: Floats, q0: Floats, q1: Floats) -> Floats:
    """Distance [...] of segments p0-p1 and q0-q1, [..., 3] each (closest points of two lines, clamped; elementary)."""
    u, v, w = p1 - p0, q1 - q0, p0 - q0
    u, v, w = np.broadcast_arrays(u, v, w)
    a, b, c, d, e = dot(u, u), dot(u, v), dot(v, v), dot(u, w), dot(v, w)
    det = a * c - b * b
    s = np.where(det > 1e-14 * a * c, (b * e - c * d) / np.where(det > 0.0, det, 1.0), 0.0)
    s = np.clip(s, 0.0, 1.0)
    t = np.clip((b * s + e) / np.where(c > 0.0, c, 1.0), 0.0, 1.0)
    s = np.clip((b * t - d) / np.where(a > 0.0, a, 1.0), 0.0, 1.0)
    gap = w + s[..., None] * u - t[..., None] * v
    return np.asarray(np.linalg.norm(gap, axis=-1))


def _corner_to_faces(points: Floats, prism: Floats) -> float:
    """Least distance from points to the faces of a prism right above which they lie; inf where none does."""
    count = len(prism) // 2
    back, front = prism[:count], prism[count:]
    axis = front[0] - back[0]
    height = float(np.linalg.norm(axis))
    axis = axis / height
    step = np.roll(back, -1, axis=0) - back
    real = np.linalg.norm(step, axis=-1) > 0.0
    back, step = back[real], step[real]
    side = np.linalg.norm(step, axis=-1)
    along = step / side[:, None]
    outward = np.cross(along, axis)
    level = (points - back[0]) @ axis
    place = points[:, None] - back
    out, run = dot(place, np.broadcast_to(outward, place.shape)), dot(place, np.broadcast_to(along, place.shape))
    over_ends = (out <= 0.0).all(axis=1)
    ends = np.where(over_ends, np.maximum(level - height, -level), np.inf)
    beside = (level >= 0.0)[:, None] & (level <= height)[:, None] & (run >= 0.0) & (run <= side) & (out >= 0.0)
    sides = np.where(beside, out, np.inf)
    return float(min(np.where(ends >= 0.0, ends, np.inf).min(initial=np.inf), sides.min(initial=np.inf)))
