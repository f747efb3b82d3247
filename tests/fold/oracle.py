"""An independent judge of whether convex prisms meet: python-fcl."""

import fcl
import numpy as np


def convex(corners: np.ndarray) -> fcl.CollisionObject:
    """Prism of corners [2 V, 3], back face first."""
    count = len(corners) // 2
    ring = np.arange(count)
    after = np.roll(ring, -1)
    faces = [[count, *ring[::-1]], [count, *(ring + count)]]
    faces += [[4, i, j, j + count, i + count] for i, j in zip(ring, after, strict=True)]
    flat = np.concatenate([np.array(f) for f in faces]).astype(np.int32)
    return fcl.CollisionObject(fcl.Convex(np.ascontiguousarray(corners), len(faces), flat), fcl.Transform())


def meet(first: np.ndarray, second: np.ndarray) -> bool:
    """Whether two prisms have a common point."""
    return fcl.collide(convex(first), convex(second), fcl.CollisionRequest(), fcl.CollisionResult()) > 0


def distance(first: np.ndarray, second: np.ndarray) -> float:
    """Distance of two prisms; -1 where they meet."""
    return float(fcl.distance(convex(first), convex(second), fcl.DistanceRequest(), fcl.DistanceResult()))
