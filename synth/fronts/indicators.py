"""Numbers that say how good a front is. Objectives are minimised; points are rows [n, M]."""

import moocore
import numpy as np

from synth.core.arrays import Bools, Floats, Ints


def nondominated(points: Floats) -> Bools:
    """[n]: whether no other row is at most as great everywhere and less somewhere; of equal rows the first stays."""
    if not len(points):
        return np.zeros(0, dtype=bool)
    if points.shape[1] == 1:
        flags = np.zeros(len(points), dtype=bool)
        flags[int(np.argmin(points[:, 0]))] = True
        return flags
    return np.asarray(moocore.is_nondominated(points), dtype=bool)


def dominators(points: Floats, others: Floats) -> Ints:
    """[n]: how many rows of others [m, M] are at most as great as each point in every objective (equal ones count)."""
    if not len(points) or not len(others):
        return np.zeros(len(points), dtype=np.int64)
    return np.asarray((others[None] <= points[:, None]).all(axis=2).sum(axis=1), dtype=np.int64)


def hypervolume(points: Floats, reference: Floats) -> float:
    """Volume dominated by the points and bounded by the reference point [M]; points at or beyond it add nothing.

    Exact (dimension sweep). Source: Fonseca, Paquete, Lopez-Ibanez 2006, as moocore computes it.
    """
    reference = np.asarray(reference, dtype=np.float64)
    live = points[(points < reference).all(axis=1)] if len(points) else points
    if not len(live):
        return 0.0
    if live.shape[1] == 1:
        return float(reference[0] - live.min())
    return float(moocore.hypervolume(live, ref=reference))


def hypervolume_share(points: Floats, ideal: Floats, reference: Floats) -> float:
    """Share [0, 1] of the box between ideal and reference point that the points dominate.

    A point better than the ideal counts as if it lay on the box's face. 0 for a box without volume.
    """
    span = np.asarray(reference) - np.asarray(ideal)
    if not len(points) or not (np.isfinite(span).all() and (span > 0.0).all()):
        return 0.0
    inside = np.maximum((points - ideal) / span, 0.0)
    return min(hypervolume(inside, np.ones(len(span))), 1.0)


def contributions(points: Floats, reference: Floats) -> Floats:
    """[n]: hypervolume that each point alone adds; 0 for points dominated or beyond the reference point."""
    if not len(points):
        return np.zeros(0)
    if points.shape[1] == 1:
        order = np.sort(np.append(points[:, 0], reference[0]))
        best = int(np.argmin(points[:, 0]))
        return np.where(np.arange(len(points)) == best, max(order[1] - order[0], 0.0), 0.0)
    corner, found = np.asarray(reference, dtype=np.float64), np.zeros(len(points))
    live = (points < corner).all(axis=1)
    if live.any():
        # the fast algorithm leaves dominated points out, which is right only where there are none
        clean = bool(nondominated(points[live]).all())
        found[live] = moocore.hv_contributions(points[live], ref=corner, ignore_dominated=clean)
    return found


def least(points: Floats) -> Ints:
    """[M]: the row with the least value of each objective; ties go to the least of the others, then the first."""
    found = []
    for m in range(points.shape[1]):
        others = [points[:, k] for k in reversed(range(points.shape[1])) if k != m]
        found.append(int(np.lexsort((*others, points[:, m]))[0]))
    return np.asarray(found, dtype=np.int64)


def knee(points: Floats) -> int:
    """Row that lies deepest below the plane through the extremes, every objective scaled to the front's own range.

    With N = (f - min) / (max - min) that is the row of least sum(N); for two objectives exactly the greatest
    distance (1 - sum N) / sqrt(2) from the line between the two extremes. The first of ties.
    Raises ValueError for an empty front.
    """
    if not len(points):
        raise ValueError("an empty front has no knee")
    low, high = points.min(axis=0), points.max(axis=0)
    return int(np.argmin(((points - low) / np.where(high > low, high - low, 1.0)).sum(axis=1)))


def knee_depth(points: Floats) -> float:
    """How deep the knee lies: (M - 1 - sum N) / (M - 1), 1 at the front's own ideal point, 0 on the flat front
    between extremes that are worst in all other objectives. 0 for a single objective."""
    m = points.shape[1]
    if m < 2:
        return 0.0
    low, high = points.min(axis=0), points.max(axis=0)
    scaled = (points[knee(points)] - low) / np.where(high > low, high - low, 1.0)
    return float((m - 1 - scaled.sum()) / (m - 1))


def dominance_share(points: Floats, others: Floats) -> float:
    """Share of the others that some point is at most as great as everywhere and less somewhere (coverage, Zitzler
    1999, in its strict form). 0 where there are no others."""
    if not len(others) or not len(points):
        return 0.0
    at_most = (points[:, None] <= others[None]).all(axis=2)
    less = (points[:, None] < others[None]).any(axis=2)
    return float((at_most & less).any(axis=0).mean())
