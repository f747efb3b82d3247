"""What a search found: the fronts that may be shown, and how they came about."""

from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np

from synth.core.arrays import Bools, Floats
from synth.fronts.indicators import nondominated
from synth.fronts.nested import smallest_first
from synth.search.archive import share, thin
from synth.search.candidate import Candidate
from synth.search.state import State
from synth.search.verdicts import TEN, blocked


@dataclass(frozen=True, eq=False)
class Shown:
    """One row of a front: a design in one envelope. objectives [M] and violation as last computed there."""

    design: str
    cell: Any
    x: Floats
    envelope: int
    objectives: Floats
    violation: float
    verified: bool
    feasible: bool
    reason: str


@dataclass(frozen=True)
class FamilyCount:
    """evaluations put forward for the envelope; feasible ones among them by the cheap order; rows on its front."""

    evaluations: int
    feasible: int
    on_front: int
    cells: int


@dataclass(frozen=True, eq=False)
class CellTold:
    """What became of one cell that was tried: rows put forward (for all envelopes), their share of all that were, rows
    on fronts, verifications passed and failed, and why it ended."""

    number: int
    cell: Any
    parent: int
    spent: int
    share: float
    on_front: int
    passed: int
    failed: int
    cause: str


@dataclass(frozen=True, eq=False)
class Outcome:
    """state: "done", or "stopped" where somebody asked to. fronts[e]: rows by objectives, then design.

    hypervolume[e]: share of the envelope's box that its verified front dominates. blocked[e]: the front holds least
    violators because nothing feasible was found. history: (envelope, family or "all", evaluations, hypervolume).
    aside: (design, repr of the cell, row, reason) of candidates that could not be evaluated; aside_cells: their cells
    by repr. causes: why cells ended, with counts. cells: those that were tried. ended[e]: why no more candidates were
    put forward: "budget", "stalled", "time limit", "nothing new left" or "stopped". nearest: as in the state.
    """

    state: Literal["done", "stopped"]
    fronts: list[list[Shown]]
    hypervolume: list[float]
    blocked: list[bool]
    families: list[dict[str, FamilyCount]]
    history: list[tuple[int, str, int, float]]
    evaluations: list[int]
    verifications: int
    rounds: int
    aside: list[tuple[str, str, tuple[float, ...], str]]
    causes: dict[str, int]
    aside_cells: dict[str, Any] = field(default_factory=dict)
    cells: list[CellTold] = field(default_factory=list)
    ended: list[str] = field(default_factory=list)
    nearest: dict[tuple[int, str], tuple[float, int, float, str]] = field(default_factory=dict)


def fronts(state: State) -> list[list[Candidate]]:
    """Verified, feasible and mutually non-dominated candidates of each envelope, by settled objectives.

    All verdicts are offered to all envelopes, so that of two nested ones the larger is never worse: every point of
    the smaller one's front is met by a point that is at most as great in everything. Cut to the size asked
    where they are many; what meets the smaller one's points, or what is owed to a tighter problem, stays.
    """
    found: list[list[Candidate]] = [[] for _ in state.archives]
    for e in smallest_first(state.goals.inside):
        if not state.goals.open[e]:
            continue
        held = [state.verdicts[k] for k in sorted(state.verdicts) if state.verdicts[k].feasible(e)]
        if not held:
            continue
        points = state.goals.normalised(e, np.stack([c.objectives[e] for c in held]))
        order = sorted(range(len(held)), key=lambda k: (*points[k].tolist(), held[k].id))
        stays = [order[int(k)] for k in np.flatnonzero(nondominated(points[order]))]
        held, points = [held[k] for k in stays], points[stays]
        smaller = [c for a in np.flatnonzero(state.goals.inside[:, e]) for c in found[int(a)] if c.feasible(e)]
        smaller += state.owed.get(e, [])
        met = [state.goals.normalised(e, c.objectives[e]) for c in smaller]
        always = _covers(points, np.stack(met)) if met else []
        rows = thin(points, state.settings.front, always)
        found[e] = [held[int(k)] for k in rows]
    return found


def _covers(points: Floats, others: Floats) -> list[int]:
    """For each of the others the first point that is at most as great in everything."""
    at_most: Bools = np.asarray((points[None] <= others[:, None]).all(axis=2))
    return sorted({int(np.argmax(row)) for row in at_most if row.any()})


def outcome(state: State, stopped: bool) -> Outcome:
    """Reads a state as the result of a search."""
    good = fronts(state)
    rows: list[list[Shown]] = []
    volumes: list[float] = []
    for e, front in enumerate(good):
        points = [c.objectives[e] for c in front]
        volumes.append(share(state.goals.normalised(e, np.stack(points))) if front else 0.0)
        nearest = [] if front or not state.goals.open[e] else blocked(state, e)[:TEN]
        rows.append([_shown(state, c, e) for c in (front or nearest)])
    causes: dict[str, int] = {}
    for cell in state.cells:
        cause = cell.cause or "alive at the end"
        causes[cause] = causes.get(cause, 0) + 1
    return Outcome(
        state="stopped" if stopped else "done",
        fronts=rows,
        hypervolume=volumes,
        blocked=[bool(state.goals.open[e]) and not good[e] for e in range(len(good))],
        families=[_counts(state, e, good[e]) for e in range(len(good))],
        history=list(state.history),
        evaluations=[int(n) for n in state.spent],
        verifications=len(state.verdicts),
        rounds=state.rounds,
        aside=list(state.aside),
        causes={k: causes[k] for k in sorted(causes)},
        aside_cells=_cells(state),
        cells=_tried(state, good),
        ended=[_ended(state, e, stopped) for e in range(len(good))],
        nearest=dict(state.nearest),
    )


def _ended(state: State, e: int, stopped: bool) -> str:
    if not state.goals.open[e]:
        return "ruled out"
    if state.stalled[e]:
        return "stalled"
    if state.spent[e] >= state.settings.evaluations:
        return "budget"
    return "stopped" if stopped else "time limit" if state.late else "nothing new left"


def _tried(state: State, good: list[list[Candidate]]) -> list[CellTold]:
    held: dict[int, int] = {}
    for front in good:
        for c in front:
            held[c.cell] = held.get(c.cell, 0) + 1
    total = max(sum(c.spent for c in state.cells), 1)
    return [
        CellTold(
            number=c.number,
            cell=c.cell,
            parent=c.parent,
            spent=c.spent,
            share=c.spent / total,
            on_front=held.get(c.number, 0),
            passed=c.passed,
            failed=c.failed,
            cause=c.cause or "alive at the end",
        )
        for c in state.cells
        if c.started
    ]


def _cells(state: State) -> dict[str, Any]:
    named = {cell for _, cell, _, _ in state.aside}
    return {repr(c.cell): c.cell for c in state.cells if repr(c.cell) in named} if named else {}


def _shown(state: State, c: Candidate, e: int) -> Shown:
    return Shown(
        design=c.id,
        cell=state.cells[c.cell].cell,
        x=c.x,
        envelope=e,
        objectives=c.objectives[e],
        violation=float(c.violation[e]),
        verified=c.verified,
        feasible=c.feasible(e),
        reason=c.reason,
    )


def _counts(state: State, e: int, front: list[Candidate]) -> dict[str, FamilyCount]:
    found = {}
    for family in state.families:
        evaluations, feasible = state.counts.get((e, family), [0, 0])
        on_front = sum(state.cells[c.cell].family == family for c in front)
        cells = sum(c.family == family and c.started for c in state.cells)
        found[family] = FamilyCount(evaluations, feasible, on_front, cells)
    return found
