"""The least circle round points, by trying all that it can rest on."""

from itertools import combinations

import numpy as np
from scipy.spatial import ConvexHull

from synth.recheck.solid import Array

ON_IT = 1e-11
"""A point this share of the radius outside a circle still lies on it."""


def least_diameter(points: Array) -> float:
    """Diameter of the least circle that encloses points [N, 2] of a plane figure with some area.

    It rests on two points as its diameter or on three as their circumcircle: of all such circles on corners of the
    hull that enclose them all, the least. Slow but plain, and right where a library was found to be wrong: the circle
    of shapely 2.2 with GEOS 3.14 missed a corner of a stack by 0.3 mm.
    """
    hull = points[ConvexHull(points).vertices]
    two = hull[np.array(list(combinations(range(len(hull)), 2)))]
    three = hull[np.array(list(combinations(range(len(hull)), 3)))]
    sides = three[:, 1:] - three[:, :1]
    flat = np.abs(np.linalg.det(sides)) <= 1e-14 * (sides**2).sum(axis=(1, 2))
    three, sides = three[~flat], sides[~flat]
    middle = np.linalg.solve(2.0 * sides, (sides**2).sum(axis=-1)[..., None])[..., 0]
    centres = np.concatenate([two.mean(axis=1), three[:, 0] + middle])
    rests_on = np.concatenate([two[:, 0], three[:, 0]])
    radius = np.linalg.norm(rests_on - centres, axis=-1)
    reach = np.linalg.norm(hull[None] - centres[:, None], axis=-1).max(axis=1)
    return 2.0 * float(radius[reach <= radius * (1.0 + ON_IT)].min())
