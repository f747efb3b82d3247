"""Which rows of a cell were put forward already."""

import hashlib
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from synth.core.arrays import Floats, Ints


def hashes(X: Floats) -> NDArray[np.uint64]:
    """[n] 64-bit hashes of rows."""
    rows = np.ascontiguousarray(X, dtype=np.float64) + 0.0  # -0.0 and 0.0 are one design
    found = [int.from_bytes(hashlib.blake2b(r.tobytes(), digest_size=8).digest(), "big") for r in rows]
    return np.asarray(found, dtype=np.uint64)


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

    def __len__(self) -> int:
        return len(self.known)
