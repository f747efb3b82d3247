"""A design that some archive, verdict or list of least violators holds."""

import hashlib
from dataclasses import dataclass
from typing import Any

import numpy as np

from synth.core.arrays import Floats


def design_id(cell: Any, x: Floats) -> str:
    """Twelve hex digits that stand for one design (cell and genes), whatever the envelope."""
    digest = hashlib.blake2b(repr(cell).encode(), digest_size=6)
    digest.update((np.ascontiguousarray(x, dtype=np.float64) + 0.0).tobytes())  # -0.0 and 0.0 are one design
    return digest.hexdigest()


@dataclass(eq=False)
class Candidate:
    """One design. cell: its number in the state. x [D]: its row.

    objectives [E, M], violation [E], margins [E, R] or None: as last computed (settled once `settled`).
    predicted [E, M], shortfall [E]: the same corrected for what the cheap order is known to miss; equal to the
    computed ones once settled. settled: verification was tried. verified: and it passed.
    """

    id: str
    cell: int
    x: Floats
    objectives: Floats
    violation: Floats
    margins: Floats | None
    predicted: Floats
    shortfall: Floats
    reason: str = ""
    settled: bool = False
    verified: bool = False

    def feasible(self, envelope: int) -> bool:
        """Verified, and every requirement met."""
        return self.verified and bool(self.violation[envelope] <= 0.0)

    def promising(self, envelope: int) -> bool:
        """Feasible, or not yet verified and predicted to be."""
        return self.feasible(envelope) if self.settled else bool(self.shortfall[envelope] <= 0.0)
