"""Panels that are one part: outlines that a turn and a shift bring onto each other (a mirror image is another part)."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from synth.recheck.solid import Array

CLOSE, WIDE = 2e-7, 2e-5
"""m: corners of one part agree within the first, beyond the second they are two parts; between them either may be."""
STRAIGHT = 1e-9
"""m: a corner this near to the line of its neighbours is none."""


def distinct_outlines(outlines: Sequence[Any], alike: float = 2e-6) -> int:
    """Number of different parts among outlines whose corners agree within `alike` (m) if they are one part."""
    kinds: list[Array] = []
    for outline in outlines:
        corners = _true_corners(np.asarray(outline, dtype=np.float64))
        if not any(_congruent(corners, known, alike) for known in kinds):
            kinds.append(corners)
    return len(kinds)


def _true_corners(ring: Array) -> Array:
    """Corners about their mean, without those in the middle of an edge."""
    before, after = np.roll(ring, 1, axis=0), np.roll(ring, -1, axis=0)
    base = after - before
    off = np.abs(base[:, 0] * (ring - before)[:, 1] - base[:, 1] * (ring - before)[:, 0])
    kept = ring[off > STRAIGHT * np.maximum(np.linalg.norm(base, axis=1), 1e-12)]
    return np.asarray(kept - kept.mean(axis=0))


def _congruent(one: Array, two: Array, alike: float) -> bool:
    """Whether some turn, in some order of the corners, brings one onto the other."""
    if one.shape != two.shape:
        return False
    a, b = one[:, 0] + 1j * one[:, 1], two[:, 0] + 1j * two[:, 1]
    for k in range(len(a)):
        moved = np.roll(a, k)
        turn = np.vdot(moved, b)
        if abs(turn) > 0 and np.abs(moved * turn / abs(turn) - b).max() <= alike:
            return True
    return False
