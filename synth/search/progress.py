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
    can be told."""

    phase: str
    rounds: int
    seconds: float
    seconds_left: float | None
    rate: float
    cells: int
    aside: int
    envelopes: tuple[EnvelopeProgress, ...]
    pool: PoolState


def progress(state: State, pool: PoolState, seconds: float, spent_before: int) -> Progress:
    """News of a state; spent_before: evaluations that were spent when this process took the search up."""
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
    done, left = int(state.spent.sum()) - spent_before, int(np.sum(state.left()))
    wait = seconds * left / done if done > 0 and seconds > 1.0 and not state.searched else None
    return Progress(
        phase="verify" if state.searched else "search",
        rounds=state.rounds,
        seconds=seconds,
        seconds_left=wait,
        rate=done / seconds if seconds > 0.0 else 0.0,
        cells=len(state.living),
        aside=len(state.aside),
        envelopes=tuple(rows),
        pool=pool,
    )
