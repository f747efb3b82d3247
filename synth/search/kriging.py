"""Kriging: what known rows tell of others, and how far it errs."""

from dataclasses import dataclass

import numpy as np
from scipy.linalg.lapack import dpotrf, dpotri

from synth.core.arrays import Bools, Floats, Ints

REACHES = (1.0, 4.0)
"""Reaches of the covariance that are tried, over the mean distance of known rows."""
NUGGET = 1e-4
"""Added to the variance of known rows: figures of near twins need not be met exactly."""
DAMPED = 0.1
"""Damping of the linear fits."""


@dataclass(frozen=True, eq=False)
class Coding:
    """Rows as numbers: a column of zeros and ones for each value of a nominal column that occurs in known rows."""

    ordered: Ints
    values: tuple[tuple[int, Floats], ...]

    @staticmethod
    def of(known: Floats, nominal: Bools) -> "Coding":
        """nominal [D]: which columns of known rows [n, D] have no order."""
        values = tuple((int(k), np.unique(known[:, k])) for k in np.flatnonzero(nominal))
        return Coding(np.flatnonzero(~nominal), values)

    def rows(self, X: Floats) -> Floats:
        """Rows [m, D] coded."""
        parts = [X[:, self.ordered]]
        parts += [(X[:, [k]] == values).astype(np.float64) for k, values in self.values]
        return np.concatenate(parts, axis=1)


def distances(a: Floats, b: Floats) -> Floats:
    """[n, m] Euclidean distances of rows."""
    square = (a * a).sum(axis=1)[:, None] + (b * b).sum(axis=1) - 2.0 * (a @ b.T)
    return np.asarray(np.sqrt(np.maximum(square, 0.0)))


def covariances(far: Floats, mean: float) -> list[Floats]:
    """Matern covariances of order 5/2 (Rasmussen, Williams 2006, 4.17) at distances far [n, m], for each of the
    REACHES."""
    found = []
    for reach in REACHES:
        s = far * (np.sqrt(5.0) / (reach * mean))
        found.append((1.0 + s + s * s / 3.0) * np.exp(-s))
    return found


def bordered(covariance: list[Floats], rows: Ints) -> list[Floats]:
    """Of each matrix of covariances [N, N] the inverse [n + 1, n + 1] of the part of those rows [n], NUGGET added to
    its diagonal, with a border of ones and a zero in the corner."""
    n, found = len(rows), []
    for whole in covariance:
        system = whole[np.ix_(rows, rows)]
        system[np.arange(n), np.arange(n)] += NUGGET
        half, _ = dpotri(dpotrf(system, lower=1)[0], lower=1)
        inverse = np.empty((n + 1, n + 1))
        inverse[:n, :n] = np.tril(half) + np.tril(half, -1).T
        column = inverse[:n, :n].sum(axis=1)
        total = float(column.sum())
        inverse[:n, :n] -= column[:, None] * (column / total)
        inverse[n, :n] = inverse[:n, n] = column / total
        inverse[n, n] = -1.0 / total
        found.append(inverse)
    return found


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

    def at(self, X: Floats) -> Floats:
        """[m, K] scaled figures at rows X [m, D]."""
        return np.asarray((X - self.middle) @ self.slopes)


@dataclass(frozen=True, eq=False)
class _Reached:
    """One of the REACHES, and the figures `which` that it foretells best: the inverse of the covariances [n + 1, n + 1]
    bordered by ones, and factors [n + 1, k] and standard deviations [k] of those figures."""

    reach: int
    which: Ints
    inverse: Floats
    factor: Floats
    spread: Floats


@dataclass(frozen=True, eq=False)
class Kriging:
    """Ordinary kriging of what a linear fit leaves of K figures, each with that of the REACHES by which known rows that
    are left out are foretold best. What leaving one out errs by comes from the factors and the diagonal of the inverse
    (Dubrule 1983); the variance is the one that makes these errors as large, on average, as they are told (Cressie
    1993, 2.6.4)."""

    rows: Ints
    line: Line
    parts: list[_Reached]

    @staticmethod
    def through(line: Line, inverses: list[Floats], rows: Ints) -> "Kriging":
        """Of known rows [n], in the order of the line's; inverses: see bordered()."""
        n, tried = len(rows), []
        for inverse in inverses:
            factor, own = inverse[:, :n] @ line.left, np.diag(inverse)[:n, None]
            missed, spread = (factor[:n] / own) ** 2, factor[:n] ** 2 / own
            tried.append((missed.mean(axis=0), inverse, factor, np.sqrt(spread.mean(axis=0))))
        best = np.argmin([missed for missed, _, _, _ in tried], axis=0)
        parts = []
        for reach, (_, inverse, factor, spread) in enumerate(tried):
            which = np.flatnonzero(best == reach)
            if len(which):
                parts.append(_Reached(reach, which, inverse, factor[:, which], spread[which]))
        return Kriging(rows, line, parts)

    def at(self, X: Floats, covariance: list[Floats]) -> tuple[Floats, Floats]:
        """Figures [m, K] at rows X [m, D] whose covariances with all known rows are told [m, N], and their standard
        errors [m, K]."""
        found = self.line.at(X)
        error = np.empty_like(found)
        for part in self.parts:
            near = np.ones((len(X), len(self.rows) + 1))
            near[:, :-1] = covariance[part.reach][:, self.rows]
            found[:, part.which] += near @ part.factor
            left = 1.0 - ((near @ part.inverse) * near).sum(axis=1)
            error[:, part.which] = np.sqrt(np.maximum(left, 0.0))[:, None] * part.spread
        return np.asarray(self.line.mean + self.line.size * found), np.asarray(error * self.line.size)
