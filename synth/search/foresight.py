"""What the rows of a cell that were evaluated foretell of rows that were not."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from synth.core.arrays import Bools, Floats, Ints
from synth.ledger import NO_DESIGN, UNSCREENED
from synth.search.kriging import Coding, Kriging, Line, bordered, covariances, distances

ENOUGH = 12
"""Rows that were worked out, of a cell and its family, below which nothing is foretold."""
MOST, OTHERS = 100, 40
"""Latest rows of a cell that a model is made of, and of its family's other cells."""
BEND = 0.5
"""Margin that counts half: m / (|m| + 0.5) is learned, so that a frequency of ten times its limit bends no fit."""
SPARE = 0.1
"""What rows that are designs are taken to have to spare of the conditions for that: only failures are told."""
HELD = 1e-6
"""A margin is taken to hold down to this shortfall: some are exactly zero by the way the figure is made."""
FLAT = 0.1
"""Least weight of a column, of the weightiest one's."""
UNSURE = 0.02
"""Least chance that a row is a design: a model of few rows takes too much for failing."""
NONE, STOPPED, WHOLE = 0, 1, 2
"""How far rows were worked out: no design, stopped by the screen, all figures."""


@dataclass(eq=False)
class Known:
    """Latest rows X [n, D] of a cell. objectives [n, E, M], margins [n, E, R]: predicted; R is 0 where whoever
    evaluates tells no margins. depth, miss [n, E]: see depths()."""

    X: Floats = field(default_factory=lambda: np.zeros((0, 0)))
    objectives: Floats = field(default_factory=lambda: np.zeros((0, 0, 0)))
    margins: Floats = field(default_factory=lambda: np.zeros((0, 0, 0)))
    depth: Ints = field(default_factory=lambda: np.zeros((0, 0), dtype=np.int64))
    miss: Floats = field(default_factory=lambda: np.zeros((0, 0)))

    def tell(self, X: Floats, objectives: Floats, margins: Floats, depth: Ints, miss: Floats) -> None:
        """Adds rows; the oldest beyond MOST are forgotten."""
        if not len(self.X):
            self.X, self.objectives, self.margins = X[-MOST:], objectives[-MOST:], margins[-MOST:]
            self.depth, self.miss = depth[-MOST:], miss[-MOST:]
            return
        self.X = np.concatenate([self.X, X])[-MOST:]
        self.objectives = np.concatenate([self.objectives, objectives])[-MOST:]
        self.margins = _level([self.margins, margins])[-MOST:]
        self.depth = np.concatenate([self.depth, depth])[-MOST:]
        self.miss = np.concatenate([self.miss, miss])[-MOST:]

    def whole(self, envelope: int) -> int:
        """How many rows were worked out in full."""
        return int((self.depth[:, envelope] == WHOLE).sum()) if len(self.X) else 0

    def beside(self, traits: Floats, most: int) -> "Known":
        """The latest rows of other cells than that of these traits, at most `most`."""
        if not len(self.X):
            return self
        other = np.flatnonzero((self.X[:, : len(traits)] != traits).any(axis=1))[-most:]
        return Known(self.X[other], self.objectives[other], self.margins[other], self.depth[other], self.miss[other])


def depths(violation: Floats, margins: Floats | None, lacking: Bools) -> tuple[Ints, Floats]:
    """How far rows were worked out [n, E], and by how much no margin explains that they fail [n, E]: for a row that is
    no design the residual of its status, where no margins are told all of its violation [n, E].

    margins [n, E, R] as computed; lacking [M + R]: objectives and margins that rows stopped by the screen lack.
    """
    if margins is None:
        return np.where(violation < UNSCREENED, WHOLE, NONE), violation
    depth = np.where(violation < UNSCREENED, WHOLE, np.where(violation < NO_DESIGN, STOPPED, NONE))
    told = margins[..., ~lacking[len(lacking) - margins.shape[-1] :]]
    status = np.maximum(violation - NO_DESIGN + np.minimum(told, 0.0).sum(axis=-1), 0.0)
    return depth, np.where(depth == NONE, status, 0.0)


def model(own: Known, others: Known, envelope: int, nominal: Bools, lacking: Bools) -> "Model | None":
    """Of an envelope, from a cell's own rows and those of its family's other cells; None where too little is known."""
    if own.whole(envelope) + others.whole(envelope) < ENOUGH:
        return None
    told = [k for k in (own, others) if len(k.X)]
    depth = np.concatenate([k.depth[:, envelope] for k in told])
    miss = np.concatenate([k.miss[:, envelope] for k in told])
    objectives = np.concatenate([k.objectives[:, envelope] for k in told])
    margins = _level([k.margins for k in told])[:, envelope]
    wide = objectives.shape[1] + margins.shape[1]
    return Model.through(np.concatenate([k.X for k in told]), nominal, objectives, margins, depth, miss, lacking[:wide])


@dataclass(frozen=True, eq=False)
class Foretold:
    """Of n rows: objectives [n, M], their standard errors [n, M], and the chance [n] that the row holds."""

    points: Floats
    error: Floats
    chance: Floats

    def __len__(self) -> int:
        return len(self.points)

    def take(self, rows: Ints) -> "Foretold":
        return Foretold(self.points[rows], self.error[rows], self.chance[rows])

    def scaled(self, ideal: Floats, reference: Floats) -> "Foretold":
        """The same with objectives from 0 at the ideal point [M] to 1 at the reference point [M]."""
        span = np.where(reference > ideal, reference - ideal, 1.0)
        return Foretold((self.points - ideal) / span, self.error / span, self.chance)


def joined(parts: Sequence[Foretold]) -> Foretold:
    """All rows of several, in order."""
    told = ([p.points for p in parts], [p.error for p in parts], [p.chance for p in parts])
    return Foretold(*(np.concatenate(figures) for figures in told))


@dataclass(frozen=True, eq=False)
class Model:
    """Objectives and margins of a cell in one envelope, carried from known rows to others by kriging.

    Columns are stretched by how much linear fits say that they matter. Figures (objectives, then margins) are learned
    each for itself: a sum over requirements has a kink wherever one begins to hold. What the screen tells is learned
    from all designs, the rest from those that were worked out in full. Objectives of one sign are learned as logarithms
    (sign [M]: 0 where they are not), since products of powers of the columns make most of them. What no margin tells,
    whether a row is a design at all, is learned from how far others miss it.
    """

    columns: int
    coding: Coding
    known: Floats
    mean: float
    weight: Floats
    sign: Floats
    asked: int
    parts: list[tuple[Ints, Kriging]]
    miss: Kriging

    @staticmethod
    def through(
        X: Floats, nominal: Bools, objectives: Floats, margins: Floats, depth: Ints, miss: Floats, lacking: Bools
    ) -> "Model":
        """X [n, D], objectives [n, M], margins [n, R], depth and miss [n], lacking [M + R]."""
        coding, goals = Coding.of(X, nominal), objectives.shape[1]
        known = coding.rows(X)
        figures = np.concatenate([objectives, margins / (np.abs(margins) + BEND)], axis=1)
        sign = np.zeros(goals)
        sets: list[tuple[Ints, Ints, Line]] = []
        for which, least in ((np.flatnonzero(lacking), WHOLE), (np.flatnonzero(~lacking), STOPPED)):
            rows = np.flatnonzero(depth >= least)
            if len(which):
                told, kept = figures[np.ix_(rows, which)], which[which < goals]
                sign[kept] = _one_sign(told[:, : len(kept)])
                told[:, : len(kept)] = _logs(told[:, : len(kept)], sign[kept])
                sets.append((which, rows, Line.through(known[rows], told)))
        fails = np.where(miss > 0.0, miss / (miss + BEND), np.where(depth == NONE, 0.0, -SPARE))
        holds = Line.through(known, fails[:, None])
        slopes = np.concatenate([line.slopes for _, _, line in sets] + [holds.slopes], axis=1)
        weight = np.sqrt((slopes**2).mean(axis=1))
        weight = np.maximum(weight / max(float(weight.max()), 1e-12), FLAT)
        known = known * weight
        far = distances(known, known)
        mean = max(float(far.mean()), 1e-12)
        covariance = covariances(far, mean)
        every = np.arange(len(X))
        # rows that were worked out in full are designs too, and those are among all: as many are the same
        needed = {len(rows): rows for rows in [*(rows for _, rows, _ in sets), every]}
        inverses = {count: bordered(covariance, rows) for count, rows in needed.items()}
        missing = Kriging.through(holds, inverses[len(X)], every)
        parts = [(which, Kriging.through(line, inverses[len(rows)], rows)) for which, rows, line in sets]
        return Model(X.shape[1], coding, known, mean, weight, sign, margins.shape[1], parts, missing)

    def at(self, X: Floats) -> Foretold:
        """Of rows [m, D]. The chance is that of all margins to hold and of the row to be a design, each normal about
        what is foretold."""
        wanted = self.coding.rows(X)
        covariance = covariances(distances(wanted * self.weight, self.known), self.mean)
        goals = len(self.sign)
        figures = np.zeros((len(X), goals + self.asked))
        error = np.zeros_like(figures)
        for which, part in self.parts:
            figures[:, which], error[:, which] = part.at(wanted, covariance)
        miss, off = (told[:, 0] for told in self.miss.at(wanted, covariance))
        chance = np.maximum(ndtr(-miss / np.maximum(off, 1e-9)), UNSURE)
        if self.asked:
            chance = chance * ndtr((figures[:, goals:] + HELD) / np.maximum(error[:, goals:], 1e-9)).prod(axis=1)
        points, error = figures[:, :goals], error[:, :goals]
        logs = self.sign != 0.0
        points[:, logs] = self.sign[logs] * np.exp(points[:, logs])
        error[:, logs] *= np.abs(points[:, logs])
        return Foretold(points, error, chance)


def _one_sign(figures: Floats) -> Floats:
    """[M]: 1 or -1 where all of figures [n, M] have that sign, 0 elsewhere."""
    return np.asarray((figures > 0.0).all(axis=0).astype(np.float64) - (figures < 0.0).all(axis=0))


def _logs(figures: Floats, sign: Floats) -> Floats:
    """Figures [n, M] without their sign as logarithms, those without one sign as they are."""
    return np.asarray(np.where(sign == 0.0, figures, np.log(np.where(sign == 0.0, 1.0, figures * sign))))


def _level(parts: list[NDArray[np.float64]]) -> Floats:
    """Margins [n, E, R] put together; rows that nobody could work out have none and get zeros, which nothing reads."""
    wide = max(p.shape[2] for p in parts)
    if all(p.shape[2] == wide for p in parts):
        return np.concatenate(parts)
    return np.concatenate([np.pad(p, ((0, 0), (0, 0), (0, wide - p.shape[2]))) for p in parts])
