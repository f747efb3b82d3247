"""Upright prisms over convex pieces: how far apart two of them are, in any pose."""

from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

Array = NDArray[np.float64]


def polygon(outline: Any, holes: Any = ()) -> shapely.Polygon:
    """The outline less its holes."""
    return shapely.Polygon(outline, holes)


def convex_pieces(shape: shapely.Polygon) -> list[Array]:
    """Counter-clockwise convex parts [V, 2] that make up the shape: itself where it is convex, else triangles."""
    hull = shape.convex_hull
    if not shape.interiors and hull.area - shape.area <= 1e-12 + 1e-9 * hull.area:
        return [_corners(hull)]
    triangles = shapely.constrained_delaunay_triangles(shape)
    return [_corners(t) for t in triangles.geoms if t.area > 1e-14]


def _corners(shape: Any) -> Array:
    ring = np.asarray(shapely.geometry.polygon.orient(shape).exterior.coords)[:-1]
    return np.asarray(ring, dtype=np.float64)


@dataclass(frozen=True, eq=False)
class Solids:
    """N convex prisms in the deployed frame, corners padded by repetition to V.

    plan [N, V, 2]; low, high [N]; panel [N]; joint: text or None of each (None for panels); name of each.
    """

    plan: Array
    low: Array
    high: Array
    panel: NDArray[np.int64]
    joint: tuple[str | None, ...]
    name: tuple[str, ...]

    @property
    def corners(self) -> Array:
        """[N, 2 V, 3] deployed."""
        v = self.plan.shape[1]
        low = np.repeat(self.low[:, None, None], v, axis=1)
        high = np.repeat(self.high[:, None, None], v, axis=1)
        return np.concatenate([np.concatenate([self.plan, z], axis=-1) for z in (low, high)], axis=1)

    @property
    def walls(self) -> tuple[Array, Array]:
        """Outward normals [N, V + 2, 3] of sides, back, front; the place of each face along its normal [N, V + 2]."""
        edge = np.roll(self.plan, -1, axis=1) - self.plan
        length = np.linalg.norm(edge, axis=-1, keepdims=True)
        normal = np.stack([edge[..., 1], -edge[..., 0]], axis=-1) / np.where(length > 0.0, length, 1.0)
        # a repeated corner has no side: the first real side stands in for it
        first = np.argmax(length[..., 0] > 0.0, axis=1)
        rows = np.arange(len(self.plan))
        normal = np.where(length > 0.0, normal, normal[rows, first][:, None])
        start = np.where(length > 0.0, self.plan, self.plan[rows, first][:, None])
        offset = (normal * start).sum(axis=-1)
        flat = np.concatenate([normal, np.zeros((*normal.shape[:2], 1))], axis=-1)
        ends = np.broadcast_to(np.array([[0.0, 0.0, -1.0], [0.0, 0.0, 1.0]]), (len(self.plan), 2, 3))
        offsets = np.concatenate([offset, -self.low[:, None], self.high[:, None]], axis=1)
        return np.concatenate([flat, ends], axis=1), offsets


def solids_of(pieces: list[tuple[Array, float, float, int, str | None, str]]) -> Solids:
    """Solids of (corners [V, 2], low, high, panel, joint, name), padded to the longest."""
    most = max(len(p[0]) for p in pieces)
    plan = np.stack([np.concatenate([p[0], np.repeat(p[0][-1:], most - len(p[0]), axis=0)]) for p in pieces])
    return Solids(
        plan,
        np.array([p[1] for p in pieces]),
        np.array([p[2] for p in pieces]),
        np.array([p[3] for p in pieces], dtype=np.int64),
        tuple(p[4] for p in pieces),
        tuple(p[5] for p in pieces),
    )


class Separation:
    """Signed separation of pairs of solids by the separating-axis theorem.

    Two convex bodies are apart iff some face normal of either, or some cross product of an edge of each,
    separates their projections; the greatest separation over these axes is a lower bound of their distance
    where positive, and minus the least translation that parts them where negative.
    """

    def __init__(self, solids: Solids) -> None:
        self.solids = solids
        self.corners = solids.corners
        self.normal, self.offset = solids.walls
        edge = np.roll(solids.plan, -1, axis=1) - solids.plan
        length = np.linalg.norm(edge, axis=-1, keepdims=True)
        flat = np.concatenate([edge / np.where(length > 0, length, 1.0), np.zeros((*edge.shape[:2], 1))], axis=-1)
        up = np.broadcast_to(np.array([[0.0, 0.0, 1.0]]), (len(edge), 1, 3))
        self.edges = np.concatenate([flat, up], axis=1)

    def __call__(self, a: Any, b: Any, a_from_b: Array, cheap: float = 0.0) -> Array:
        """[M] separations (m) of solids a [M] and b [M], b posed in the frame of a's panel by a_from_b [M, 3, 4].

        Where the faces already tell more than `cheap`, the edge pairs are not asked.
        """
        turn, shift = a_from_b[:, :, :3], a_from_b[:, :, 3]
        b_in_a = self.corners[b] @ turn.transpose(0, 2, 1) + shift[:, None]
        a_in_b = (self.corners[a] - shift[:, None]) @ turn
        gap = np.maximum(self._faces(a, b_in_a), self._faces(b, a_in_b))
        close = np.flatnonzero(gap <= cheap)
        if len(close):
            gap[close] = np.maximum(gap[close], self._edges(a[close], b[close], turn[close], b_in_a[close]))
        return np.asarray(gap)

    def _faces(self, a: Any, points: Array) -> Array:
        along = self.normal[a] @ points.transpose(0, 2, 1)
        return np.asarray((along.min(axis=2) - self.offset[a]).max(axis=1))

    def _edges(self, a: Any, b: Any, turn: Array, b_in_a: Array) -> Array:
        eb = self.edges[b] @ turn.transpose(0, 2, 1)
        axis = np.cross(self.edges[a][:, :, None], eb[:, None]).reshape(len(a), -1, 3)
        length = np.linalg.norm(axis, axis=-1, keepdims=True)
        fine = length[..., 0] > 1e-6
        axis = axis / np.where(length > 1e-6, length, 1.0)
        pa = axis @ self.corners[a].transpose(0, 2, 1)
        pb = axis @ b_in_a.transpose(0, 2, 1)
        gap = np.maximum(pb.min(axis=2) - pa.max(axis=2), pa.min(axis=2) - pb.max(axis=2))
        return np.asarray(np.where(fine, gap, -np.inf).max(axis=1))


def distance(first: Array, second: Array) -> float:
    """Least distance (m) of two prisms that do not meet, each as corners [2 V, 3]: back ring, then front ring.

    The nearest points of two convex polyhedra lie on an edge of each, or on a corner of one and a face of the other.
    """
    best = float(_segments(_edges_of(first), _edges_of(second)).min())
    for points, body in ((first, second), (second, first)):
        best = min(best, _corner_to_face(points, body))
    return best


def _edges_of(body: Array) -> Array:
    v = len(body) // 2
    back, front = body[:v], body[v:]
    edges = [np.stack([r, np.roll(r, -1, axis=0)], axis=1) for r in (back, front)]
    return np.concatenate([*edges, np.stack([back, front], axis=1)])


def _segments(p: Array, q: Array) -> Array:
    """Least distances [E, F] of segments p [E, 2, 3] and q [F, 2, 3].

    The interior optimum where both parameters stay inside, else one of the four ends against the other segment.
    """
    u, v = (p[:, 1] - p[:, 0])[:, None], (q[:, 1] - q[:, 0])[None]
    w = p[:, None, 0] - q[None, :, 0]
    a, b, c = (u * u).sum(-1), (u * v).sum(-1), (v * v).sum(-1)
    d, e = (u * w).sum(-1), (v * w).sum(-1)
    det = a * c - b * b
    safe = np.where(det > 1e-18, det, 1.0)
    s, t = (b * e - c * d) / safe, (a * e - b * d) / safe
    inside = (det > 1e-18) & (s >= 0) & (s <= 1) & (t >= 0) & (t <= 1)
    gap = np.linalg.norm(w + s[..., None] * u - t[..., None] * v, axis=-1)
    best = np.where(inside, gap, np.inf)
    for end in (0, 1):
        best = np.minimum(best, _point_segment(p[:, None, end], q[None, :, 0], v, c))
        best = np.minimum(best, _point_segment(q[None, :, end], p[:, None, 0], u, a))
    return np.asarray(best)


def _point_segment(point: Array, start: Array, along: Array, squared: Array) -> Array:
    share = ((point - start) * along).sum(-1) / np.where(squared > 0.0, squared, 1.0)
    share = np.clip(share, 0.0, 1.0)
    return np.asarray(np.linalg.norm(point - start - share[..., None] * along, axis=-1))


def _corner_to_face(points: Array, body: Array) -> float:
    """Least distance of points to the faces of a prism that they project into; infinite where there is none."""
    v = len(body) // 2
    rings = [body[:v][::-1], body[v:]]
    for k in range(v):
        m = (k + 1) % v
        if np.linalg.norm(body[m] - body[k]) > 0.0:
            rings.append(np.stack([body[k], body[m], body[v + m], body[v + k]]))
    best = np.inf
    for ring in rings:
        after = np.roll(ring, -1, axis=0) - ring
        normal = np.cross(ring, np.roll(ring, -1, axis=0)).sum(axis=0)
        normal = normal / (np.linalg.norm(normal) or 1.0)
        side = np.cross(after[:, None], points[None] - ring[:, None]) @ normal
        over = (side >= 0.0).all(axis=0)
        if over.any():
            best = min(best, float(np.abs((points[over] - ring[0]) @ normal).min()))
    return best
