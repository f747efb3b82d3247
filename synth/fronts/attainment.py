"""Which points every, half, or at least one of several fronts attains: the empirical attainment function."""

import math
from collections.abc import Sequence

import moocore
import numpy as np

from synth.core.arrays import Floats

LEVELS = ("one", "half", "every")


def attainment(fronts: Sequence[Floats], count: int) -> Floats:
    """[k, M] least points that at least `count` of the fronts [n, M] attain (objectives minimised).

    A front attains a point where one of its own is at most as great in everything. Source: Grunert da Fonseca,
    Fonseca, Hall 2001, as moocore computes it; two or three objectives. ValueError for a count out of range.
    """
    if not 1 <= count <= len(fronts):
        raise ValueError(f"count must lie within 1 and {len(fronts)}")
    live = [f for f in fronts if len(f)]
    if len(live) < count:
        return np.zeros((0, fronts[0].shape[1]))
    sets = np.concatenate([np.full(len(f), k) for k, f in enumerate(live)])
    # percentiles of the sets that have points: the level of exactly `count` of them
    found = moocore.eaf(np.concatenate(live), sets, percentiles=[100.0 * count / len(live)])
    return np.asarray(found[:, :-1], dtype=np.float64)


def levels(fronts: Sequence[Floats]) -> dict[str, Floats]:
    """Surfaces attained by one, by half (rounded up), and by every front."""
    counts = (1, math.ceil(len(fronts) / 2), len(fronts))
    return {name: attainment(fronts, count) for name, count in zip(LEVELS, counts, strict=True)}
