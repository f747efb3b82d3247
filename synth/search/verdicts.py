"""Verification: who is sent, and what a verdict does to archives, populations and cells."""

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

from synth.search.archive import Archive
from synth.search.candidate import Candidate
from synth.search.state import CellState, State
from synth.search.types import Failed, Result, Task

Keep = Callable[[Candidate, Any, Any], None]
"""Called with a settled candidate, its cell and the `extra` that the worker sent along."""
LAST = 0.9
"""Early passes happen before this share of the budget is spent."""
CHUNK = 24
"""Verifications of a final round for all envelopes together."""
TEN = 10
MOST_ASIDE = 1000
"""Candidates remembered that could not be evaluated or verified."""
REFUSED = 1.0
"""Violation that a population sees in a row that failed verification."""


def due(state: State) -> list[Candidate]:
    """Candidates for the verification pass that falls due at this point of the budget; empty where none does.

    Passes are spread evenly; each takes its share of the early verifications of every envelope: first a member of
    each cell that has no verdict yet, then those that add most hypervolume.
    """
    settings = state.settings
    total = max(int(settings.evaluations * state.goals.open.sum()), 1)
    reached = int(state.spent.sum() / total / LAST * (settings.passes + 1))
    if reached <= state.passes or state.passes >= settings.passes:
        return []
    state.passes = min(reached, settings.passes)
    quota = max(int(settings.verifications * settings.early_share / max(settings.passes, 1)), 1)
    chosen: dict[str, Candidate] = {}
    for archive in state.archives:
        if state.goals.open[archive.envelope]:
            quota_here = min(quota, int(settings.verifications - state.tried[archive.envelope]))
            _take(state, archive.envelope, _early(state, archive), quota_here, chosen)
    return list(chosen.values())


def _early(state: State, archive: Archive) -> list[Candidate]:
    by_gain = [archive.members[int(k)] for k in np.argsort(-archive.gains(), kind="stable")]
    unsettled = [c for c in by_gain if not c.settled]
    first: dict[int, Candidate] = {}
    for c in unsettled:
        owner = state.cells[c.cell]
        if not owner.passed and not owner.failed:
            first.setdefault(c.cell, c)
    ids = {c.id for c in first.values()}
    return _tentative(state, [*first.values(), *(c for c in unsettled if c.id not in ids)])


def _tentative(state: State, wanted: list[Candidate]) -> list[Candidate]:
    """The same with no more of a cell that never passed than failures that would end it."""
    sent: dict[int, int] = {}
    kept = []
    for c in wanted:
        sent[c.cell] = sent.get(c.cell, 0) + 1
        if state.cells[c.cell].passed or sent[c.cell] <= state.settings.failures:
            kept.append(c)
    return kept


def _take(state: State, envelope: int, wanted: Sequence[Candidate], most: int, chosen: dict[str, Candidate]) -> None:
    for c in wanted:
        if most <= 0:
            return
        if c.id not in chosen:
            chosen[c.id] = c
            state.tried[envelope] += 1
            most -= 1


def final(state: State) -> list[Candidate]:
    """The next candidates to verify once the budget is spent; empty when every front stands.

    A front stands when all members of its archive, cut to the front's size, are verified; where an archive is
    empty, when its ten least violators are settled; or when the envelope's verifications are used up.
    """
    chosen: dict[str, Candidate] = {}
    share = max(CHUNK // max(int(state.goals.open.sum()), 1), 1)
    for archive in state.archives:
        e = archive.envelope
        if not state.goals.open[e]:
            continue
        archive.cut(state.settings.front)
        most = min(share, int(state.settings.verifications - state.tried[e]))
        if archive.members:
            by_gain = [archive.members[int(k)] for k in np.argsort(-archive.gains(), kind="stable")]
            _take(state, e, [c for c in by_gain if not c.settled], most, chosen)
        elif not any(c.feasible(e) for c in state.verdicts.values()):
            # its own allowance: ten settled rows are owed even where verifications are used up
            _take(state, e, [c for c in blocked(state, e)[:TEN] if not c.settled], TEN, chosen)
    return list(chosen.values())


def blocked(state: State, envelope: int) -> list[Candidate]:
    """What came nearest in an envelope without a feasible design: by violation, verified ones first among equals."""
    known = {c.id: c for c in state.least[envelope]}
    settled = (c for c in state.verdicts.values() if not c.feasible(envelope))
    known.update({c.id: c for c in settled if state.cells[c.cell].open[envelope]})

    def rank(c: Candidate) -> tuple[float, bool, str]:
        return (float(c.violation[envelope] if c.settled else c.shortfall[envelope]), not c.verified, c.id)

    return sorted(known.values(), key=rank)


def task(state: State, candidate: Candidate) -> Task:
    """The verification of one candidate. Its expected work counts for many evaluated rows."""
    cell = state.cells[candidate.cell]
    return Task(cell.cell, candidate.x[None], "verify", 100.0 * cell.cost)


def judge(state: State, verdicts: Sequence[tuple[Candidate, Result]], keep: Keep | None = None) -> None:
    """Takes verdicts in: settled figures replace the cheap ones, failures are remembered where they matter.

    What failed leaves the archives, is marked in the populations that hold it, and counts against its cell; what
    the cell's cheap figures missed corrects the predictions of all its other candidates.
    """
    touched: set[int] = set()
    for candidate, result in verdicts:
        owner = state.cells[candidate.cell]
        _settle(candidate, owner, result)
        if isinstance(result, Failed) and len(state.aside) < MOST_ASIDE:
            state.aside.append((candidate.id, repr(owner.cell), tuple(candidate.x.tolist()), result.reason))
        state.verdicts[candidate.id] = candidate
        touched.add(owner.number)
        if keep is not None and not isinstance(result, Failed):
            keep(candidate, owner.cell, result.extra)
        if not candidate.verified or bool((candidate.violation > 0.0).any()):
            _condemn(owner, candidate)
    if touched:
        _predict_anew(state, touched)


def _settle(candidate: Candidate, owner: CellState, result: Result) -> None:
    candidate.settled = True
    if isinstance(result, Failed):
        candidate.verified, candidate.reason = False, result.reason
        owner.failed += 1
        return
    assert result.verified is not None
    candidate.verified, candidate.reason = bool(result.verified[0]), str(result.reason[0])
    margins = None if result.margins is None else result.margins[0]
    owner.passed += candidate.verified
    owner.failed += not candidate.verified
    if candidate.verified:
        owner.correction.learn(candidate, result.objectives[0], margins)
    candidate.objectives, candidate.violation, candidate.margins = result.objectives[0], result.violation[0], margins
    candidate.predicted, candidate.shortfall = result.objectives[0], result.violation[0]


def _condemn(owner: CellState, candidate: Candidate) -> None:
    for envelope, breeding in owner.breeding.items():
        breeding.settle()
        same = (candidate.x == breeding.X).all(axis=1)
        worse = REFUSED if not candidate.verified else float(candidate.violation[envelope])
        if same.any() and worse > 0.0:
            breeding.condemn(same, worse)


def _predict_anew(state: State, cells: set[int]) -> None:
    for archive in state.archives:
        for c in [*archive.members, *archive.reserve, *state.least[archive.envelope]]:
            if c.cell in cells and not c.settled:
                correction = state.cells[c.cell].correction
                c.predicted = correction.objectives(c.objectives)
                c.shortfall = correction.violation(c.violation, c.margins)
        archive.refresh()
