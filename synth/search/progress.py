"""What a running search tells while it goes on."""

from dataclasses import dataclass, field

import numpy as np

from synth.search.pool import PoolState
from synth.search.state import State


@dataclass(frozen=True)
class EnvelopeProgress:
    """evaluations of the budget spent; feasible ones among them (cheap order); members of the archive; how many of
    these are verified; share of the box that the archive dominates (predicted). families: name to (evaluations,
    feasible); best [M]: least of each objective among the members (as predicted), empty without any."""

    name: str
    evaluations: int
    budget: int
    feasible: int
    on_front: int
    verified: int
    hypervolume: float
    families: dict[str, tuple[int, int]] = field(default_factory=dict)
    best: tuple[float, ...] = ()


@dataclass(frozen=True)
class Progress:
    """One round's news. phase: "search", then "verify" once the budget is spent. cells: living ones.
    seconds: since this process took the search up; rate: candidates a second since then; seconds_left: None until it
    can be told. to_verify: members of the fronts, cut to their size, that still have no verdict; refused ones bring
    others up in their place."""

    phase: str
    rounds: int
    seconds: float
    seconds_left: float | None
    rate: float
    cells: int
    aside: int
    envelopes: tuple[EnvelopeProgress, ...]
    pool: PoolState
    to_verify: int = 0


@dataclass(frozen=True)
class Mark:
    """How far a search was at a moment of this process: seconds since it took the search up, evaluations spent,
    verdicts given."""

    seconds: float
    spent: int
    verdicts: int


def mark(state: State, seconds: float) -> Mark:
    """How far a search is now."""
    return Mark(seconds, int(state.spent.sum()), len(state.verdicts))


def progress(state: State, pool: PoolState, seconds: float, begun: Mark, searched: Mark | None = None) -> Progress:
    """News of a state; begun: where this process took the search up; searched: where the budget was spent."""
    rows = []
    for e, name in enumerate(state.goals.names):
        members = state.archives[e].members
        rows.append(
            EnvelopeProgress(
                name=name,
                evaluations=int(state.spent[e]),
                budget=state.settings.evaluations if state.goals.open[e] else 0,
                feasible=sum(v[1] for k, v in state.counts.items() if k[0] == e),
                on_front=len(members),
                verified=sum(c.verified for c in members),
                hypervolume=state.archives[e].hypervolume(),
                families={f: (v[0], v[1]) for (k, f), v in sorted(state.counts.items()) if k == e},
                best=tuple(float(v) for v in np.min([c.predicted[e] for c in members], axis=0)) if members else (),
            )
        )
    now = mark(state, seconds)
    done, open_ = now.spent - begun.spent, _unsettled(state)
    if searched is None:
        wait = _wait(seconds, done, int(np.sum(state.left())))
    else:
        wait = _wait(seconds - searched.seconds, now.verdicts - searched.verdicts, open_)
    return Progress(
        phase="verify" if state.searched else "search",
        rounds=state.rounds,
        seconds=seconds,
        seconds_left=wait,
        to_verify=open_ if state.searched else 0,
        rate=done / seconds if seconds > 0.0 else 0.0,
        cells=len(state.living),
        aside=len(state.aside),
        envelopes=tuple(rows),
        pool=pool,
    )


def _wait(seconds: float, done: int, left: int) -> float | None:
    return seconds * left / done if done > 0 and seconds > 1.0 else None


def _unsettled(state: State) -> int:
    """Members without a verdict, each counted once, no more of an envelope than its front and verifications allow."""
    seen: set[str] = set()
    for archive in state.archives:
        room = state.settings.front - sum(c.settled for c in archive.members)
        allowed = max(min(int(state.settings.verifications - state.tried[archive.envelope]), room), 0)
        seen.update([c.id for c in archive.members if not c.settled and c.id not in seen][:allowed])
    return len(seen)
