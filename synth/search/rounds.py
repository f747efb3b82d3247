"""A round: a fixed number of tasks formed from the state alone, and their answers told in order."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np

from synth.core.arrays import Floats
from synth.search import bandit, lives, proposals, verdicts
from synth.search.archive import share
from synth.search.candidate import Candidate, design_id
from synth.search.foresight import Known, depths
from synth.search.outlook import Outlook, glance
from synth.search.state import CellState, State
from synth.search.types import HOPELESS, Evaluator, Failed, Result, Scores, Task

LEAST = 20
"""Least violators remembered in each envelope (ten are shown; some may turn out worse once settled)."""


@dataclass(frozen=True, eq=False)
class Sent:
    """One task of a round: evaluated for an envelope with the operator behind each row, or verified."""

    task: Task
    cell: int
    envelope: int = -1
    origins: list[str] = field(default_factory=list)
    candidate: Candidate | None = None


def form(state: State, evaluator: Evaluator) -> list[Sent]:
    """The tasks of the next round. What is put forward is charged to its envelope here. Empty: the search is over."""
    if state.searched:
        return [Sent(verdicts.task(state, c), c.cell, candidate=c) for c in verdicts.final(state)]
    sent = [Sent(verdicts.task(state, c), c.cell, candidate=c) for c in verdicts.due(state)]
    outlook = Outlook(state)
    lives.births(outlook, evaluator)
    given: list[dict[int, int]] = [{} for _ in state.archives]
    for _ in range(state.settings.tasks):
        batch = _next(outlook, evaluator, given)
        if batch is None:
            break
        sent.append(batch)
    return sent


def _next(outlook: Outlook, evaluator: Evaluator, given: list[dict[int, int]]) -> Sent | None:
    """One more evaluation task for the envelope with most left, or for the next that can use one."""
    state = outlook.state
    left = state.left()
    for envelope in (int(e) for e in np.argsort(-left, kind="stable")):
        rows = int(min(left[envelope], state.settings.batch))
        while rows > 0:
            ready = [c for c in state.cells if c.alive and c.open[envelope]]
            known = next((c for c in ready if len(c.waiting)), None)
            newborn = next((c for c in ready if not c.started), None)
            if known is None and newborn is None:
                glance(outlook, evaluator, envelope, [c for c in ready if c.told])
            cell = known or newborn or bandit.choose(state, envelope, given[envelope])
            if cell is None:
                break
            if known is not None:
                X, origins = proposals.waiting_rows(evaluator, cell, rows)
            elif newborn is not None:
                X, origins = proposals.first_batch(state, evaluator, cell, min(rows, state.settings.first))
            else:
                X, origins = proposals.propose(outlook, evaluator, envelope, cell, rows)
            cell.started = True
            if not len(X):
                cell.exhausted = known is None
                continue
            given[envelope][cell.number] = given[envelope].get(cell.number, 0) + 1
            cell.spent += len(X)
            state.spent[envelope] += len(X)
            cost = cell.cost * len(X)
            return Sent(Task(cell.cell, X, "evaluate", cost), cell.number, envelope, origins)
    return None


def tell(state: State, sent: Sequence[Sent], results: Sequence[Result], keep: verdicts.Keep | None = None) -> None:
    """Takes the answers of a round in, in the order in which it was formed."""
    settled = [(s.candidate, r) for s, r in zip(sent, results, strict=True) if s.candidate is not None]
    verdicts.judge(state, settled, keep)
    for s, r in zip(sent, results, strict=True):
        if s.candidate is None:
            _tell_batch(state, s, r)
    lives.deaths(state)
    state.rounds += 1
    if state.searched:
        return
    _note_history(state)
    _note_stall(state)


def _tell_batch(state: State, sent: Sent, result: Result) -> None:
    cell, X = state.cells[sent.cell], sent.task.X
    if isinstance(result, Failed):
        result = hopeless(len(X), state.goals.ideal.shape, result.reason)
    _set_aside(state, cell, X, result)
    predicted = cell.correction.objectives(result.objectives)
    shortfall = cell.correction.violation(result.violation, result.margins)
    rows_told = (
        np.concatenate([np.tile(cell.traits, (len(X), 1)), X], axis=1),
        predicted,
        np.zeros((*shortfall.shape, 0)) if result.margins is None else cell.correction.margins(result.margins),
        *depths(result.violation, result.margins, state.lacking),
    )
    if cell.alive:
        cell.told_rows.tell(*rows_told)
    state.lore.setdefault(cell.family, Known()).tell(*rows_told)
    counts = state.counts.setdefault((sent.envelope, cell.family), [0, 0])
    counts[0] += len(X)
    counts[1] += int((result.violation[:, sent.envelope] <= 0.0).sum())
    made: dict[int, Candidate] = {}
    entered: set[int] = set()
    gains = np.zeros(len(state.archives))
    for e in np.flatnonzero(cell.open & state.goals.open):
        envelope = int(e)
        if cell.alive:
            cell.breeding[envelope].tell(X, predicted[:, envelope], shortfall[:, envelope])
        rows = _worth_holding(state, envelope, predicted[:, envelope], shortfall[:, envelope])
        for row in rows:
            if row not in made:
                made[row] = _candidate(cell, X, result, predicted, shortfall, row)
        gains[envelope], won = _offer(state, envelope, [made[row] for row in rows])
        entered |= {row for row in rows if made[row].id in won}
        nearest = float(shortfall[:, envelope].min(initial=np.inf))
        if not state.archives[envelope].members and nearest < cell.best[envelope] < np.inf:
            gains[envelope] = max(gains[envelope], 1e-6 * (1.0 - nearest / cell.best[envelope]))
        cell.best[envelope] = min(cell.best[envelope], nearest)
    _note_nearest(state, sent.envelope, cell.family, result)
    bandit.note(cell, gains, len(X))
    proposals.credit(state, sent.origins, [row in entered for row in range(len(X))])


def _note_nearest(state: State, envelope: int, family: str, scores: Scores) -> None:
    """Remembers the least violation of a family in an envelope, with the requirement that fails most."""
    row = int(np.argmin(scores.violation[:, envelope]))
    violation = float(scores.violation[row, envelope])
    if violation >= state.nearest.get((envelope, family), (np.inf, -1, 0.0, ""))[0]:
        return
    worst, margin = -1, 0.0
    if scores.margins is not None and scores.margins.shape[2]:
        worst = int(np.argmin(scores.margins[row, envelope]))
        margin = float(scores.margins[row, envelope, worst])
    state.nearest[envelope, family] = (violation, worst, margin, str(scores.reason[row]))


def _worth_holding(state: State, envelope: int, predicted: Floats, shortfall: Floats) -> list[int]:
    """Rows that may enter the archive or the list of least violators of an envelope."""
    archive = state.archives[envelope]
    wanted = archive.wanted(state.goals.normalised(envelope, predicted), shortfall <= 0.0)
    if not archive.members:
        least = state.least[envelope]
        bound = np.inf if len(least) < LEAST else float(least[-1].shortfall[envelope])
        order = np.argsort(shortfall, kind="stable")[:LEAST]
        wanted[order[shortfall[order] < min(bound, HOPELESS)]] = True
    return [int(row) for row in np.flatnonzero(wanted)]


def _offer(state: State, envelope: int, candidates: list[Candidate]) -> tuple[float, set[str]]:
    """Offers candidates to an envelope; returns the gain in hypervolume and the ids of new members."""
    archive = state.archives[envelope]
    if not candidates:
        return 0.0, set()
    before = {c.id for c in archive.members}
    old = archive.hypervolume()
    archive.offer(candidates)
    if not archive.members:
        held = {c.id: c for c in [*state.least[envelope], *candidates]}
        state.least[envelope] = sorted(held.values(), key=lambda c: (float(c.shortfall[envelope]), c.id))[:LEAST]
    won = {c.id for c in archive.members} - before
    # a member beyond the reference point adds no volume, yet it is news: the front had no such point
    return max(archive.hypervolume() - old, 1e-9 * len(won)), won


def _candidate(cell: CellState, X: Floats, scores: Scores, predicted: Floats, shortfall: Floats, row: int) -> Candidate:
    return Candidate(
        id=design_id(cell.cell, X[row]),
        cell=cell.number,
        x=X[row].copy(),
        objectives=scores.objectives[row].copy(),
        violation=scores.violation[row].copy(),
        margins=None if scores.margins is None else scores.margins[row].copy(),
        predicted=predicted[row].copy(),
        shortfall=shortfall[row].copy(),
        reason=str(scores.reason[row]),
    )


def hopeless(rows: int, shape: tuple[int, ...], reason: str) -> Scores:
    """Scores for rows that nobody could evaluate; shape: envelopes, objectives."""
    envelopes, objectives = shape
    violation = np.full((rows, envelopes), HOPELESS)
    return Scores(np.zeros((rows, envelopes, objectives)), violation, np.full(rows, reason, dtype=object))


def _set_aside(state: State, cell: CellState, X: Floats, scores: Scores) -> None:
    """Notes rows that could not be evaluated, with their genes and the reason."""
    for row in np.flatnonzero((scores.violation == HOPELESS).all(axis=1)):
        if len(state.aside) < verdicts.MOST_ASIDE:
            x = X[int(row)]
            state.aside.append((design_id(cell.cell, x), repr(cell.cell), tuple(x.tolist()), str(scores.reason[row])))


def _note_history(state: State) -> None:
    """One line for each open envelope, and one for each of its families, with the volume that its members dominate."""
    for archive in state.archives:
        e = archive.envelope
        if not state.goals.open[e]:
            continue
        state.history.append((e, "all", int(state.spent[e]), archive.hypervolume()))
        families = np.array([state.cells[c.cell].family for c in archive.members], dtype=object)
        for family in state.families:
            spent = state.counts.get((e, family), [0, 0])[0]
            points = archive.points[families == family] if len(families) else archive.points
            state.history.append((e, family, spent, share(points)))


def _note_stall(state: State) -> None:
    """Marks envelopes that hold something and whose last evaluations brought next to nothing."""
    window, gain = state.settings.stall_window, state.settings.stall_gain
    if window <= 0:
        return
    for archive in state.archives:
        e = archive.envelope
        told = [(spent, volume) for envelope, name, spent, volume in state.history if envelope == e and name == "all"]
        if state.stalled[e] or not archive.members or not told or told[-1][0] < window:
            continue
        before = max((volume for spent, volume in told if spent <= told[-1][0] - window), default=None)
        state.stalled[e] = before is not None and told[-1][1] - before <= gain
