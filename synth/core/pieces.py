"""Convex pieces of a simple outline, for solids that are proven apart piece by piece."""

import numpy as np

from synth.core.arrays import Floats

STRAIGHT = 1e-12
"""m2: corners whose turn (cross product of their two sides) is not below minus this are not reflex."""
SAME = 1e-10
"""m: a cut that ends this near to a corner ends in it."""


def convex_pieces(ring: Floats) -> list[Floats]:
    """Counter-clockwise convex polygons [V, 2] whose union is the counter-clockwise simple polygon ring [V, 2].

    A reflex corner is removed by a cut that goes on along one of its sides, the shorter of the two; so N
    reflex corners make at most N + 1 pieces (elementary). A convex ring is its own piece.
    """
    before, after = ring - np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0) - ring
    turn = before[:, 0] * after[:, 1] - before[:, 1] * after[:, 0]
    if len(ring) < 4 or float(turn.min()) > -STRAIGHT:
        return [ring]
    i = int(turn.argmin())
    cuts = [_hit(ring, i, way) for way in (before[i], -after[i])]
    point, j = min((c for c in cuts if c is not None), key=lambda c: float(np.linalg.norm(c[0] - ring[i])))
    count = len(ring)
    one = [ring[(i + k) % count] for k in range((j - i) % count + 1)] + [point]
    two = [point] + [ring[(j + 1 + k) % count] for k in range((i - j - 1) % count + 1)]
    return [p for half in (one, two) for p in convex_pieces(_distinct(np.array(half)))]


def _hit(ring: Floats, i: int, way: Floats) -> tuple[Floats, int] | None:
    """Where a ray from corner i first meets the outline again, and the side (j, j + 1) that it meets."""
    u = way / np.linalg.norm(way)
    away = ring - ring[i]
    along, aside = away @ u, away[:, 1] * u[0] - away[:, 0] * u[1]
    # corners on the line of the cut are met, not passed by a rounding error
    aside = np.where(np.abs(aside) < SAME, 0.0, aside)
    best: tuple[float, int] | None = None
    count = len(ring)
    for j in range(count):
        k = (j + 1) % count
        if i in (j, k) or (aside[j] == 0.0 and aside[k] == 0.0) or aside[j] * aside[k] > 0.0:
            continue
        t = float(along[j] + (along[k] - along[j]) * aside[j] / (aside[j] - aside[k]))
        if t > SAME and (best is None or t < best[0]):
            best = (t, j)
    return None if best is None else (ring[i] + best[0] * u, best[1])


def _distinct(ring: Floats) -> Floats:
    kept = np.linalg.norm(ring - np.roll(ring, 1, axis=0), axis=1) > SAME
    return np.asarray(ring[kept])
