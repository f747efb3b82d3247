"""What passes between the search, the evaluator that is searched, and the workers that evaluate.

Axis letters beyond core.arrays: n rows of a batch, D columns of a cell, E envelopes, M objectives
(all minimised), R requirements.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Literal, Protocol, TypeAlias

import numpy as np

from synth.core.arrays import Bools, Floats

Level: TypeAlias = Literal["evaluate", "verify"]
"""The cheap order that steers the search, or path proof and settled figures for what would enter a front."""

HOPELESS = 1e6
"""Violation given to rows that could not be computed: beyond what margins of a real candidate add up to."""


class Cell(Protocol):
    """A fixed topology: hashable, picklable, and told apart from others by its repr."""

    @property
    def family(self) -> str: ...

    def __hash__(self) -> int: ...


@dataclass(frozen=True, eq=False)
class Task:
    """One call for a worker: rows X [n, D] in [0, 1] of one cell. cost: expected work, for the order of sending."""

    cell: Any
    X: Floats
    level: Level = "evaluate"
    cost: float = 1.0


@dataclass(frozen=True, eq=False)
class Scores:
    """What a worker answers for n rows, all envelopes at once.

    objectives [n, E, M]; violation [n, E]: 0 where feasible, else the sum of negative margins with its sign
    turned; reason [n]: "" or one sentence. margins [n, E, R] (optional): every requirement's margin, which lets
    the search learn how far the cheap order is off. verified [n]: only at level "verify". extra: whatever the
    composition root wants back with a verified row; the search hands it on and forgets it.
    """

    objectives: Floats
    violation: Floats
    reason: np.ndarray
    margins: Floats | None = None
    verified: Bools | None = None
    extra: Any = None


@dataclass(frozen=True)
class Failed:
    """A task that no worker could finish, and why."""

    reason: str


Result: TypeAlias = Scores | Failed


class Evaluator(Protocol):
    """The side of the evaluation that the driver asks; all answers are deterministic."""

    def cells(self) -> Sequence[Any]:
        """Cells that a search starts from, of all families that are not ruled out."""

    def relatives(self, cell: Any, rng: np.random.Generator) -> Sequence[Any]:
        """Cells one step away from a cell."""

    def names(self, cell: Any) -> tuple[str, ...]:
        """Column names of a cell, in order; equal names mean the same scale in every cell of a family."""

    def nominal(self, cell: Any) -> Bools:
        """[D]: columns whose values have no order."""

    def traits(self, cell: Any) -> tuple[Floats, Bools]:
        """Numbers [T] that tell cells of a family apart, near for like cells, and which of them [T] have no order."""

    def lacking(self) -> Bools:
        """[M + R]: objectives and requirements whose figures rows lack that the screen stopped."""

    def snap(self, cell: Any, X: Floats) -> Floats:
        """Rows [n, D] moved onto the designs that the cell can tell apart (categories to the middle of their bins)."""

    def open(self, cell: Any) -> Bools:
        """[E]: whether bounds leave the cell a chance in each envelope."""

    def cost(self, cell: Any) -> float:
        """Expected work of a row, in any unit (the number of panels will do)."""


@dataclass(frozen=True, eq=False)
class Goals:
    """Envelopes and the box in objective space that each is judged in.

    ideal, reference [E, M]: corners of that box, fixed before the search. An envelope whose row is not finite
    is closed: bounds rule everything out and no evaluations are spent on it.
    inside [E, E]: inside[a, b] where a larger envelope b contains a (of one kind), so that what fits a fits b.
    """

    names: tuple[str, ...]
    ideal: Floats
    reference: Floats
    inside: Bools = field(default_factory=lambda: np.zeros((0, 0), dtype=bool))

    def __post_init__(self) -> None:
        if not self.inside.size:
            object.__setattr__(self, "inside", np.zeros((self.count, self.count), dtype=bool))

    @property
    def count(self) -> int:
        return len(self.names)

    @property
    def open(self) -> Bools:
        return np.asarray(np.isfinite(self.ideal).all(axis=1) & np.isfinite(self.reference).all(axis=1))

    def normalised(self, envelope: int, objectives: Floats) -> Floats:
        """(f - ideal) / (reference - ideal) of one envelope; shape kept."""
        span = self.reference[envelope] - self.ideal[envelope]
        return np.asarray((objectives - self.ideal[envelope]) / np.where(span > 0.0, span, 1.0))


def sound(result: Any, rows: int, envelopes: int, objectives: int, level: Level) -> Result:
    """The result with nothing in it that could mislead: shapes checked, rows that are not finite made hopeless.

    A result of the wrong shape comes back as Failed.
    """
    if isinstance(result, Failed):
        return result
    if not isinstance(result, Scores):
        return Failed(f"the worker answered with {type(result).__name__} instead of scores")
    shapes = (np.shape(result.objectives), np.shape(result.violation), np.shape(result.reason))
    if shapes != ((rows, envelopes, objectives), (rows, envelopes), (rows,)):
        return Failed(f"the worker answered with arrays of the wrong shape {shapes}")
    verified = result.verified
    if level == "verify" and (verified is None or np.shape(verified) != (rows,)):
        return Failed("the worker answered a verification without a verdict")
    f, v = np.array(result.objectives, dtype=np.float64), np.array(result.violation, dtype=np.float64)
    margins = None if result.margins is None else np.array(result.margins, dtype=np.float64)
    bad = ~(np.isfinite(f).all(axis=(1, 2)) & np.isfinite(v).all(axis=1) & (v >= 0.0).all(axis=1))
    if margins is not None:
        if margins.ndim != 3 or margins.shape[:2] != (rows, envelopes):
            return Failed(f"the worker answered with margins of the wrong shape {margins.shape}")
        bad |= ~np.isfinite(margins).all(axis=(1, 2))
    if not bad.any():
        return Scores(f, v, np.asarray(result.reason, dtype=object), margins, verified, result.extra)
    f[bad], v[bad] = 0.0, HOPELESS
    if margins is not None:
        margins[bad] = -HOPELESS / margins.shape[2]
    reason = np.where(bad, "the evaluation gave numbers that are not finite", result.reason).astype(object)
    if verified is not None:
        verified = np.asarray(verified, dtype=bool) & ~bad
    return Scores(f, v, reason, margins, verified, result.extra)
