"""What the rows of a cell that were evaluated foretell of rows that were not."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from scipy.special import ndtr

from synth.core.arrays import Bools, Floats, Ints

ENOUGH = 12
"""Rows that were worked out, of a cell and its family, below which nothing is foretold."""
MOST, OTHERS = 100, 40
"""Latest rows of a cell that a model is made of, and of its family's other cells."""
SOFT = 0.2
"""Shortfall or spare margin that counts half."""
BEND = 0.5
"""Margin that counts half: m / (|m| + 0.5) is learned, so that a frequency of ten times its limit bends no fit."""
WHOLE = 1e3 / (1e3 + SOFT)
"""Signed shortfall from which on a row's figures are not all there: the screen stopped it, or it is no design."""
FLAT, DAMPED, RIDGE = 0.1, 0.1, 1e-3
"""Least weight of a column, of the weightiest one's; damping of the linear fits; what is added to the diagonal, as a
share of the mean distance: figures of near twins need not be met exactly."""
CAUTION = 1.5
"""Errors are taken to be so many times what leaving known rows out errs by: those surround each other, others less."""
TOGETHER = 0.5
"""Power of the product of the chances of margins: 1 were they independent, but what is foretold too badly of one is so
of others."""
UNSURE = 0.2
"""Least chance that a row's figures are all there: a model of few rows takes too much for failing."""


@dataclass(eq=False)
class Known:
    """Latest rows X [n, D] of a cell. objectives [n, E, M], margins [n, E, R]: predicted; R is 0 where whoever
    evaluates tells no margins. short [n, E]: see signed()."""

    X: Floats = field(default_factory=lambda: np.zeros((0, 0)))
    objectives: Floats = field(default_factory=lambda: np.zeros((0, 0, 0)))
    short: Floats = field(default_factory=lambda: np.zeros((0, 0)))
    margins: Floats = field(default_factory=lambda: np.zeros((0, 0, 0)))

    def tell(self, X: Floats, objectives: Floats, short: Floats, margins: Floats) -> None:
        """Adds rows; the oldest beyond MOST are forgotten."""
        if not len(self.X):
            self.X, self.objectives, self.short, self.margins = (a[-MOST:] for a in (X, objectives, short, margins))
            return
        self.X = np.concatenate([self.X, X])[-MOST:]
        self.objectives = np.concatenate([self.objectives, objectives])[-MOST:]
        self.short = np.concatenate([self.short, short])[-MOST:]
        self.margins = _level([self.margins, margins])[-MOST:]

    def beside(self, traits: Floats, most: int) -> "Known":
        """The latest rows of other cells than that of these traits, at most `most`."""
        if not len(self.X):
            return self
        other = np.flatnonzero((self.X[:, : len(traits)] != traits).any(axis=1))[-most:]
        return Known(self.X[other], self.objectives[other], self.short[other], self.margins[other])


def model(own: Known, others: Known, envelope: int, nominal: Bools) -> "Model | None":
    """Of an envelope, from a cell's own rows and those of its family's other cells; None where too little is known."""
    told = [k for k in (own, others) if len(k.X)]
    if not told:
        return None
    X, short = np.concatenate([k.X for k in told]), np.concatenate([k.short[:, [envelope]] for k in told])
    objectives = np.concatenate([k.objectives[:, envelope] for k in told])
    margins = _level([k.margins for k in told])[:, envelope]
    whole = short[:, 0] < WHOLE
    if int(whole.sum()) < ENOUGH:
        return None
    return Model.through(X, nominal, objectives, short, margins, whole)


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
    """Objectives and margins of a cell in one envelope, carried from known rows to others.

    A linear fit, and radial basis functions phi(r) = r with a constant through what it leaves (Powell 1992:
    conditionally definite, so that any distinct rows can be interpolated). Columns are stretched by how much the linear
    fits say that they matter. Figures (objectives, then margins) are learned from the rows that were worked out, each
    for itself: a sum over requirements has a kink wherever one begins to hold. Whether a row's figures are all there
    is learned from all rows; where no margins are told, the signed shortfall is, in its place.
    """

    rows: Floats
    nominal: Bools
    known: Floats
    weight: Floats
    whole: Ints
    figures: "Part"
    short: "Part"
    asked: int

    @staticmethod
    def through(X: Floats, nominal: Bools, objectives: Floats, short: Floats, margins: Floats, whole: Bools) -> "Model":
        """X [n, D], objectives [n, M], short [n, 1], margins [n, R], whole [n]."""
        known, some = coded(X, X, nominal), np.flatnonzero(whole)
        asked = margins.shape[1]
        figures = objectives
        if asked:
            short = np.where(whole, -0.5, 1.0)[:, None]
            figures = np.concatenate([objectives, margins / (np.abs(margins) + BEND)], axis=1)
        goals, holds = Line.through(known[some], figures[some]), Line.through(known, short)
        weight = np.sqrt((np.concatenate([goals.slopes, holds.slopes], axis=1) ** 2).mean(axis=1))
        weight = np.maximum(weight / max(float(weight.max()), 1e-12), FLAT)
        known = known * weight
        far = distances(known, known)
        first = Part.through(goals, far[np.ix_(some, some)])
        return Model(X, nominal, known, weight, some, first, Part.through(holds, far), asked)

    def at(self, X: Floats) -> Foretold:
        """Of rows [m, D]. The chance is that of all margins to hold, each normal about what is foretold, times that of
        the figures to be there."""
        wanted = coded(self.rows, X, self.nominal)
        far = distances(wanted * self.weight, self.known)
        near = far[:, self.whole]
        figures, error = self.figures.at(wanted, near), CAUTION * self.figures.error(near)
        chance = np.minimum(np.maximum(0.5 - self.short.at(wanted, far)[:, 0], UNSURE), 1.0)
        wide = figures.shape[1] - self.asked
        if self.asked:
            each = ndtr(figures[:, wide:] / np.maximum(error[:, wide:], 1e-9))
            chance = chance * each.prod(axis=1) ** TOGETHER
        return Foretold(figures[:, :wide], error[:, :wide], chance)


@dataclass(frozen=True, eq=False)
class Line:
    """A linear fit of scaled figures; left [n, K]: what it leaves."""

    mean: Floats
    size: Floats
    middle: Floats
    slopes: Floats
    left: Floats

    @staticmethod
    def through(X: Floats, Y: Floats) -> "Line":
        """Y [n, K] at rows X [n, D]."""
        mean, size, middle = Y.mean(axis=0), Y.std(axis=0) + 1e-12, X.mean(axis=0)
        told, centred = (Y - mean) / size, X - middle
        slopes = np.linalg.solve(centred.T @ centred + DAMPED * np.eye(X.shape[1]), centred.T @ told)
        return Line(mean, size, middle, slopes, told - centred @ slopes)


@dataclass(frozen=True, eq=False)
class Part:
    """A linear fit, the factors [n + 1, K] of the radial basis functions and the constant, and how far they err.

    missed [K]: root mean square of what each known row is foretold wrong by when it is left out, from the factors and
    the diagonal of the inverse (Rippa 1999). apart: mean distance of known rows to their nearest.
    """

    line: Line
    factor: Floats
    missed: Floats
    apart: float

    @staticmethod
    def through(line: Line, far: Floats) -> "Part":
        """Through what a line leaves at rows so far [n, n] apart."""
        n = len(far)
        system = np.ones((n + 1, n + 1))
        system[:n, :n] = -far
        system[np.arange(n), np.arange(n)] = RIDGE * float(far.mean())
        system[n, n] = 0.0
        inverse = np.linalg.inv(system)
        factor = inverse[:, :n] @ line.left
        missed = factor[:n] / np.diag(inverse)[:n, None]
        nearest = np.where(np.eye(n, dtype=bool), np.inf, far).min(axis=1)
        return Part(line, factor, np.sqrt((missed**2).mean(axis=0)), max(float(nearest.mean()), 1e-12))

    def at(self, X: Floats, far: Floats) -> Floats:
        """[m, K] at rows X [m, D] so far [m, n] from the known ones."""
        line = self.line
        found = (X - line.middle) @ line.slopes + self.factor[-1] - far @ self.factor[:-1]
        return np.asarray(line.mean + line.size * found)

    def error(self, far: Floats) -> Floats:
        """[m, K]: standard errors at rows so far [m, n] from the known ones: what leaving one out errs by, growing with
        the root of the distance to the nearest (a linear variogram, as phi(r) = r stands for)."""
        return np.asarray(np.sqrt(far.min(axis=1) / self.apart)[:, None] * self.missed * self.line.size)


def _level(parts: list[Floats]) -> Floats:
    """Margins [n, E, R] put together; rows that nobody could work out have none and get zeros, which nothing reads."""
    wide = max(p.shape[2] for p in parts)
    return np.concatenate([np.pad(p, ((0, 0), (0, 0), (0, wide - p.shape[2]))) for p in parts])


def signed(shortfall: Floats, margins: Floats | None) -> Floats:
    """Shortfall v [n, E] as v / (v + 0.2), from 0 to 1; where a row holds the same of its least margin, negative."""
    spare = np.zeros_like(shortfall) if margins is None else np.maximum(margins.min(axis=-1), 0.0)
    return np.asarray(np.where(shortfall > 0.0, shortfall / (shortfall + SOFT), -spare / (spare + SOFT)))


def coded(known: Floats, X: Floats, nominal: Bools) -> Floats:
    """Rows [n, D] with a column of zeros and ones for each value of a nominal column that occurs in known rows."""
    parts = [X[:, ~nominal]]
    for k in np.flatnonzero(nominal):
        parts.append((X[:, [k]] == np.unique(known[:, k])).astype(np.float64))
    return np.concatenate(parts, axis=1)


def distances(a: Floats, b: Floats) -> Floats:
    """[n, m] Euclidean distances of rows."""
    square = (a * a).sum(axis=1)[:, None] + (b * b).sum(axis=1) - 2.0 * (a @ b.T)
    return np.asarray(np.sqrt(np.maximum(square, 0.0)))
