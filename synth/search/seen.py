"""Which rows of a cell were put forward already."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from synth.core.arrays import Floats, Ints

STIR = (np.uint64(0x9E3779B97F4A7C15), np.uint64(0xBF58476D1CE4E5B9), np.uint64(0x94D049BB133111EB))


def hashes(X: Floats) -> NDArray[np.uint64]:
    """[n] 64-bit hashes of rows: the bits of each column in turn stirred in (the finalizer of splitmix64: Steele, Lea,
    Flood 2014), all rows at once. Two of a million rows share one with a chance of 3e-8."""
    bits = (np.ascontiguousarray(X, dtype=np.float64) + 0.0).view(np.uint64)  # -0.0 and 0.0 are one design
    found = np.full(len(X), STIR[0], dtype=np.uint64)
    for column in bits.T:
        found = (found ^ column) + STIR[0]
        found = (found ^ (found >> np.uint64(30))) * STIR[1]
        found = (found ^ (found >> np.uint64(27))) * STIR[2]
        found ^= found >> np.uint64(31)
    return found


@dataclass(eq=False)
class Seen:
    """A sorted array of row hashes: eight bytes a row."""

    known: NDArray[np.uint64] = field(default_factory=lambda: np.zeros(0, dtype=np.uint64))

    def fresh(self, X: Floats, most: int | None = None) -> Ints:
        """Which rows of X are new (each once), rising, the first `most`; they are known from now on."""
        if not len(X):
            return np.zeros(0, dtype=np.int64)
        codes = hashes(X)
        first = np.zeros(len(X), dtype=bool)
        first[np.unique(codes, return_index=True)[1]] = True
        place = np.searchsorted(self.known, codes)
        there = np.append(self.known, np.uint64(0))[place] == codes
        rows = np.flatnonzero(first & ~(there & (place < len(self.known))))[:most]
        added = np.sort(codes[rows])
        self.known = np.insert(self.known, np.searchsorted(self.known, added), added)
        return rows

    def unknown(self, X: Floats) -> Ints:
        """Which rows of X are new (each once), rising; they stay unknown."""
        codes = hashes(X)
        place = np.searchsorted(self.known, codes)
        there = (np.append(self.known, np.uint64(0))[place] == codes) & (place < len(self.known))
        first = np.zeros(len(X), dtype=bool)
        first[np.unique(codes, return_index=True)[1]] = True
        return np.flatnonzero(first & ~there)

    def __len__(self) -> int:
        return len(self.known)
