"""What the rows of a cell that were evaluated foretell of rows that were not, and which of many to put forward."""

from dataclasses import dataclass, field
from functools import cache

import numpy as np

from synth.core.arrays import Bools, Floats, Ints

ENOUGH = 12
"""Rows that were worked out, of a cell and its family, below which nothing is foretold."""
MOST, OTHERS = 100, 40
"""Latest rows of a cell that a model is made of, and of its family's other cells."""
SOFT = 0.2
"""Shortfall or spare margin that counts half."""
WHOLE = 1e3 / (1e3 + SOFT)
"""Signed shortfall from which on a row's figures are not all there: the screen stopped it, or it is no design."""
FLAT, DAMPED, RIDGE = 0.1, 0.1, 1e-3
"""Least weight of a column, of the weightiest one's; damping of the linear fits; what is added to the diagonal, as a
share of the mean distance: figures of near twins need not be met exactly."""
SPREAD = 1024
"""Points that stand for the box in which hypervolume is counted."""
UNSURE = 0.2
"""Least chance to hold that a row is given: a model of few rows takes too much for failing."""
LEAD = 0.1
"""Weight of a point's lead over the front beside the hypervolume that it adds."""
AMONG = 4
"""A batch is picked among so many times its rows, those that promise most alone."""


@dataclass(eq=False)
class Known:
    """Latest rows X [n, D] of a cell. objectives [n, E, M]: predicted. short [n, E]: see signed()."""

    X: Floats = field(default_factory=lambda: np.zeros((0, 0)))
    objectives: Floats = field(default_factory=lambda: np.zeros((0, 0, 0)))
    short: Floats = field(default_factory=lambda: np.zeros((0, 0)))

    def tell(self, X: Floats, objectives: Floats, short: Floats) -> None:
        """Adds rows; the oldest beyond MOST are forgotten."""
        if not len(self.X):
            self.X, self.objectives, self.short = X[-MOST:], objectives[-MOST:], short[-MOST:]
            return
        self.X = np.concatenate([self.X, X])[-MOST:]
        self.objectives = np.concatenate([self.objectives, objectives])[-MOST:]
        self.short = np.concatenate([self.short, short])[-MOST:]

    def beside(self, traits: Floats, most: int) -> "Known":
        """The latest rows of other cells than that of these traits, at most `most`."""
        if not len(self.X):
            return self
        other = np.flatnonzero((self.X[:, : len(traits)] != traits).any(axis=1))[-most:]
        return Known(self.X[other], self.objectives[other], self.short[other])


def model(own: Known, others: Known, envelope: int, nominal: Bools) -> "Model | None":
    """Of an envelope, from a cell's own rows and those of its family's other cells; None where too little is known."""
    told = [k for k in (own, others) if len(k.X)]
    if not told:
        return None
    X, short = np.concatenate([k.X for k in told]), np.concatenate([k.short[:, [envelope]] for k in told])
    objectives = np.concatenate([k.objectives[:, envelope] for k in told])
    whole = short[:, 0] < WHOLE
    if int(whole.sum()) < ENOUGH:
        return None
    return Model.through(X, nominal, objectives, short, whole)


@dataclass(frozen=True, eq=False)
class Model:
    """Objectives and signed shortfall of a cell in one envelope, carried from known rows to others.

    A linear fit, and radial basis functions phi(r) = r with a constant through what it leaves (Powell 1992:
    conditionally definite, so that any distinct rows can be interpolated). Columns are stretched by how much the linear
    fits say that they matter. Objectives are learned from the rows that were worked out, the shortfall from all.
    """

    rows: Floats
    nominal: Bools
    known: Floats
    weight: Floats
    whole: Ints
    objectives: "Part"
    short: "Part"

    @staticmethod
    def through(X: Floats, nominal: Bools, objectives: Floats, short: Floats, whole: Bools) -> "Model":
        """X [n, D], objectives [n, M], short [n, 1], whole [n]."""
        known, some = coded(X, X, nominal), np.flatnonzero(whole)
        goals, holds = Line.through(known[some], objectives[some]), Line.through(known, short)
        weight = np.sqrt((np.concatenate([goals.slopes, holds.slopes], axis=1) ** 2).mean(axis=1))
        weight = np.maximum(weight / max(float(weight.max()), 1e-12), FLAT)
        known = known * weight
        far = distances(known, known)
        first = Part(goals, _factor(far[np.ix_(some, some)], goals.left))
        return Model(X, nominal, known, weight, some, first, Part(holds, _factor(far, holds.left)))

    def at(self, X: Floats) -> tuple[Floats, Floats]:
        """Objectives [m, M] and signed shortfall [m] of rows."""
        wanted = coded(self.rows, X, self.nominal)
        far = distances(wanted * self.weight, self.known)
        return self.objectives.at(wanted, far[:, self.whole]), self.short.at(wanted, far)[:, 0]


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
    """A linear fit and the factors [n + 1, K] of the radial basis functions and the constant."""

    line: Line
    factor: Floats

    def at(self, X: Floats, far: Floats) -> Floats:
        """[m, K] at rows X [m, D] so far [m, n] from the known ones."""
        line = self.line
        found = (X - line.middle) @ line.slopes + self.factor[-1] - far @ self.factor[:-1]
        return np.asarray(line.mean + line.size * found)


def _factor(far: Floats, left: Floats) -> Floats:
    """Factors of radial basis functions through what is left [n, K] at rows so far [n, n] apart."""
    n = len(far)
    system = np.ones((n + 1, n + 1))
    system[:n, :n] = -far
    system[np.arange(n), np.arange(n)] = RIDGE * float(far.mean())
    system[n, n] = 0.0
    return np.asarray(np.linalg.solve(system, np.concatenate([left, np.zeros((1, left.shape[1]))])))


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


class Ground:
    """What a front [m, M] of scaled points leaves to be won: points spread over the unit box that no member dominates.

    The share of them that a point dominates estimates the hypervolume that it would add (Monte Carlo over a fixed
    additive recurrence: Roberts 2018's generalised golden ratio; error about 1 / sqrt(SPREAD)).
    """

    def __init__(self, front: Floats, objectives: int) -> None:
        self.front = front
        spread = _box(objectives)
        if len(front):
            spread = spread[~_dominate(front, spread).any(axis=0)]
        self.left = spread

    def worth(self, points: Floats, short: Floats) -> Floats:
        """[n]: what foretold points promise: hypervolume added, with a little for the lead over the front that decides
        where the share is below what the spread resolves, times the chance that the row holds. Negative where a member
        dominates them."""
        room = _lead(points, self.front) if len(self.front) else np.ones(len(points))
        won = self.won(points).sum(axis=1) / SPREAD if len(self.left) else np.zeros(len(points))
        return _weighed(won, room, short)

    def won(self, points: Floats) -> Bools:
        """[n, left]: which of what is left each point dominates."""
        return _dominate(points, self.left)

    def best(self, points: Floats, short: Floats, rows: int) -> Ints:
        """Which `rows` of foretold points [n, M] promise most, best first, each with the earlier ones taken in."""
        room = _lead(points, self.front) if len(self.front) else np.ones(len(points))
        won = self.won(points)
        sums = won.sum(axis=1).astype(np.float64)
        if len(points) > AMONG * rows:
            # what promises little alone promises no more beside the earlier choices
            some = np.argsort(-_weighed(sums / SPREAD, room, short), kind="stable")[: AMONG * rows]
            return np.asarray(some[_greedy(points[some], short[some], won[some], sums[some], room[some], rows)])
        return _greedy(points, short, won, sums, room, rows)


def _greedy(points: Floats, short: Floats, won: Bools, sums: Floats, room: Floats, rows: int) -> Ints:
    chosen: list[int] = []
    chance, penalty = _chance(short)
    for _ in range(min(rows, len(points))):
        worth = np.where(room > 0.0, (sums / SPREAD + LEAD * room) * chance, room - penalty)
        worth[chosen] = -np.inf
        k = int(worth.argmax())
        chosen.append(k)
        room = np.minimum(room, (points[k] - points).max(axis=1))
        taken = np.flatnonzero(won[k])
        if len(taken):
            sums = sums - won[:, taken].sum(axis=1)
            won[:, taken] = False
    return np.array(chosen, dtype=np.int64)


def _weighed(won: Floats, room: Floats, short: Floats) -> Floats:
    chance, penalty = _chance(short)
    return np.where(room > 0.0, (won + LEAD * room) * chance, room - penalty)


def _chance(short: Floats) -> tuple[Floats, Floats]:
    """Chance to hold, and what is taken off where a member dominates."""
    return np.minimum(np.maximum(0.5 - short, UNSURE), 1.0), 0.1 * np.maximum(short, 0.0)


def _dominate(points: Floats, others: Floats) -> Bools:
    """[n, m]: which of the others each point is at most as great as in everything."""
    found = points[:, None, 0] <= others[None, :, 0]
    for k in range(1, points.shape[1]):
        found &= points[:, None, k] <= others[None, :, k]
    return np.asarray(found)


@cache
def _box(objectives: int) -> Floats:
    """[SPREAD, M] points evenly spread over the unit box."""
    root = 2.0
    for _ in range(60):  # the root of x^(M + 1) = x + 1
        root = (1.0 + root) ** (1.0 / (objectives + 1))
    step = root ** -np.arange(1, objectives + 1)
    return np.asarray((0.5 + np.arange(1, SPREAD + 1)[:, None] * step) % 1.0)


def _lead(points: Floats, front: Floats) -> Floats:
    """[n]: how far each point could be worsened in all objectives until a member dominates it (the maximin improvement
    of Balling 2003): the least over the front of the greatest lead in any objective."""
    lead = front[None, :, 0] - points[:, None, 0]
    for k in range(1, points.shape[1]):
        np.maximum(lead, front[None, :, k] - points[:, None, k], out=lead)
    return np.asarray(lead.min(axis=1))
