"""What the cheap order is known to miss, learned in each cell from what verification settled."""

from dataclasses import dataclass, field

import numpy as np

from synth.core.arrays import Floats
from synth.search.candidate import Candidate

FLOOR = 1e-12
MOST = 30
"""Latest pairs kept of a cell."""


@dataclass(eq=False)
class Correction:
    """Ratios settled / cheap of objectives and differences settled - cheap of margins, from settled candidates.

    ratio: mean over the settled ones of the cell, kept within [1/2, 2]. shift: mean less one standard deviation,
    so that most of what is predicted to hold does hold once settled. Nothing settled yet: ratio 1, shift 0,
    or what a relative has learned.
    """

    ratios: list[Floats] = field(default_factory=list)
    shifts: list[Floats] = field(default_factory=list)
    ratio: Floats | None = None
    shift: Floats | None = None

    def learn(self, cheap: Candidate, objectives: Floats, margins: Floats | None) -> None:
        """Adds one pair; objectives [E, M] and margins [E, R] are the settled ones."""
        base = np.where(np.abs(cheap.objectives) > FLOOR, cheap.objectives, 1.0)
        live = (np.abs(cheap.objectives) > FLOOR) & (np.sign(objectives) == np.sign(cheap.objectives))
        self.ratios = [*self.ratios, np.clip(np.where(live, objectives / base, 1.0), 0.5, 2.0)][-MOST:]
        if margins is not None and cheap.margins is not None and margins.shape == cheap.margins.shape:
            self.shifts = [*self.shifts, np.clip(margins - cheap.margins, -1.0, 1.0)][-MOST:]
        self._average()

    def _average(self) -> None:
        self.ratio = np.mean(self.ratios, axis=0) if self.ratios else None
        self.shift = np.mean(self.shifts, axis=0) - np.std(self.shifts, axis=0) if self.shifts else None

    def inherited(self) -> "Correction":
        """What a newborn relative starts from: the latest few pairs."""
        made = Correction(self.ratios[-3:], self.shifts[-3:])
        made._average()
        return made

    def objectives(self, computed: Floats) -> Floats:
        """Predicted settled objectives [..., E, M]."""
        return computed if self.ratio is None else computed * self.ratio

    def margins(self, computed: Floats) -> Floats:
        """Predicted settled margins [..., E, R]."""
        return computed if self.shift is None else computed + self.shift

    def violation(self, computed: Floats, margins: Floats | None) -> Floats:
        """Predicted settled violation [..., E]: the computed one where no margins are told."""
        if margins is None or self.shift is None:
            return computed
        change = np.maximum(-(margins + self.shift), 0.0) - np.maximum(-margins, 0.0)
        # by difference: what fails for other reasons than a margin (no geometry, no fit) keeps its own measure
        predicted = computed + change.sum(axis=-1)
        return np.asarray(np.where(predicted > FLOOR, predicted, 0.0))
