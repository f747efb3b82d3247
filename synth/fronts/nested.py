"""Which envelope contains which, and fronts that respect it."""

from collections.abc import Sequence

import numpy as np

from synth.core.arrays import Bools, Floats

TOLERANCE = 1e-12


def inside(kinds: Sequence[str], sizes: Sequence[Floats]) -> Bools:
    """[E, E]: inside[a, b] where whatever fits envelope a fits envelope b too.

    kinds[e]: "box" or "round"; sizes[e]: the inner size allowed, three sides of a box in any order (a stowed
    package may be turned), or (diameter, diameter, height). Only envelopes of one kind are compared: boxes by
    their sides sorted, round ones by diameter and height. Two equal envelopes contain each other; so does
    every envelope itself, which is left out (the diagonal is false).
    """
    count = len(kinds)
    keys = [
        np.sort(np.asarray(s, dtype=np.float64)) if k == "box" else np.asarray(s, dtype=np.float64)
        for k, s in zip(kinds, sizes, strict=True)
    ]
    found = np.zeros((count, count), dtype=bool)
    for a in range(count):
        for b in range(count):
            if a != b and kinds[a] == kinds[b]:
                found[a, b] = bool((keys[a] <= keys[b] * (1.0 + TOLERANCE)).all())
    return found


def smallest_first(within: Bools) -> list[int]:
    """Envelopes in an order in which each comes after all that it contains; equal ones keep their order."""
    return sorted(range(len(within)), key=lambda e: (int(within[:, e].sum()), e))
