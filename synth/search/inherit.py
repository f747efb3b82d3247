"""What a search takes over from another of the same candidates under other limits, or of a like problem."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from synth.core.arrays import Floats
from synth.search.candidate import Candidate
from synth.search.correction import Correction
from synth.search.lives import born
from synth.search.rounds import LEAST
from synth.search.state import CellState, State
from synth.search.types import Evaluator

CLEAN = 1e-9
"""Violation that margins do not explain; candidates with more of it failed for another reason and stay behind."""
CAPPED = 10.0
"""A margin counts for at most so much violation."""


@dataclass(frozen=True, eq=False)
class Moved:
    """How margins [..., R] change when limits do: margin * scale + offset, exact where a limit stays.

    With v = L - m |L| (a maximum) a limit L' gives m' = (L' - v) / |L'|, so that scale = |L| / |L'| and
    offset = (L' - L) / |L'|; the offset of a minimum has the other sign.
    """

    scale: Floats
    offset: Floats

    @staticmethod
    def between(before: Sequence[float], after: Sequence[float], directions: Sequence[str]) -> "Moved":
        """Limits before and after, none zero, and "max" or "min" for each requirement."""
        old, new = np.asarray(before, dtype=np.float64), np.asarray(after, dtype=np.float64)
        sign = np.array([1.0 if d == "max" else -1.0 for d in directions])
        return Moved(np.abs(old) / np.abs(new), sign * (new - old) / np.abs(new))

    def margins(self, margins: Floats) -> Floats:
        """Margins under the new limits."""
        return np.asarray(margins * self.scale + self.offset)

    def candidate(self, c: Candidate, cell: int, correction: Correction) -> Candidate | None:
        """The candidate under the new limits, owned by another cell; None where its margins do not tell all."""
        if c.margins is None or (np.abs(c.violation - _shortfall(c.margins)) > CLEAN).any():
            return None
        margins = self.margins(c.margins)
        violation = _shortfall(margins)
        predicted, short = c.objectives, violation
        if not c.settled:
            predicted, short = correction.objectives(c.objectives), correction.violation(violation, margins)
        return Candidate(c.id, cell, c.x, c.objectives, violation, margins, predicted, short, c.reason, c.settled,
                         c.verified)  # fmt: skip

    def correction(self, known: Correction) -> Correction:
        """What a cell has learned, in the new margins."""
        made = Correction(list(known.ratios), [s * self.scale for s in known.shifts])
        made._average()
        return made


def _shortfall(margins: Floats) -> Floats:
    return np.asarray(-np.maximum(np.minimum(margins, 0.0), -CAPPED).sum(axis=-1))


def inherit(state: State, evaluator: Evaluator, source: State, moved: Moved) -> None:
    """Takes over everything a search knows of candidates that other limits only judge anew: members, reserves,
    least violators and verdicts, with the populations and what the cells have learned. Nothing is evaluated.

    Both searches have the same envelopes, objectives and requirements. Whatever is known already is left.
    """
    known = _known(source)
    for number in sorted(known):
        owner = source.cells[number]
        correction = moved.correction(owner.correction)
        found = [moved.candidate(c, -1, correction) for c in known[number]]
        held = [c for c in found if c is not None and c.id not in state.verdicts]
        of_use = [c for c in held if not c.settled or c.verified]
        cell = _adopted(state, evaluator, owner, correction) if of_use else None
        if cell is None:
            continue
        for c in held:
            c.cell = cell.number
        state.verdicts.update({c.id: c for c in held if c.settled})
        _offer(state, cell, of_use)


def _known(source: State) -> dict[int, list[Candidate]]:
    """Candidates of a search by cell number, each once, in order of id."""
    unique: dict[str, Candidate] = {}
    for archive in source.archives:
        for c in [*archive.reserve, *source.least[archive.envelope], *archive.members]:
            unique[c.id] = c
    unique.update(source.verdicts)
    found: dict[int, list[Candidate]] = {}
    for k in sorted(unique):
        found.setdefault(unique[k].cell, []).append(unique[k])
    return found


def _adopted(state: State, evaluator: Evaluator, owner: CellState, correction: Correction) -> CellState | None:
    """This search's cell of the same topology; born where it is not yet known."""
    if repr(owner.cell) in state.known:
        return next((c for c in state.cells if repr(c.cell) == repr(owner.cell)), None)
    cell = born(state, evaluator, owner.cell, -1)
    if cell is not None:
        cell.started = cell.told = True
        cell.spent, cell.passed, cell.failed = owner.spent, owner.passed, owner.failed
        cell.correction = correction
    return cell


def _offer(state: State, cell: CellState, held: list[Candidate]) -> None:
    X = np.stack([c.x for c in held])
    cell.seen.fresh(X)
    for e in np.flatnonzero(cell.open & state.goals.open):
        envelope = int(e)
        predicted = np.stack([c.predicted[envelope] for c in held])
        shortfall = np.array([c.shortfall[envelope] for c in held])
        if cell.alive:
            cell.breeding[envelope].tell(X, predicted, shortfall)
        cell.best[envelope] = min(cell.best[envelope], float(shortfall.min()))
        archive = state.archives[envelope]
        archive.offer(held)
        if not archive.members:
            near = {c.id: c for c in [*state.least[envelope], *held]}
            state.least[envelope] = sorted(near.values(), key=lambda c: (float(c.shortfall[envelope]), c.id))[:LEAST]


def put_forward(state: State, evaluator: Evaluator, source: State, most: int) -> None:
    """Members of another search's archives as the first rows of this one, at most `most` of each envelope: those that
    add most hypervolume there. They are evaluated and paid for like any other."""
    rows: dict[int, dict[str, Floats]] = {}
    for archive in source.archives:
        gains = archive.gains() if archive.members else np.zeros(0)
        for k in np.argsort(-gains, kind="stable")[:most]:
            c = archive.members[int(k)]
            rows.setdefault(c.cell, {})[c.id] = c.x
    for number in sorted(rows):
        cell = born(state, evaluator, source.cells[number].cell, -1)
        if cell is not None:
            cell.waiting = np.stack([rows[number][k] for k in sorted(rows[number])])
