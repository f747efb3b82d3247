"""What every stage stopped half-way leaves free, written into the record that a seed package carries."""

import sys
import time
from collections.abc import Callable, Iterator
from typing import Any

from synth.app.stopping import HALF_WAY, Laid, laid_out
from synth.core.errors import StowfrontError
from synth.fold.interference import Clearance
from synth.fold.partial import Onward
from synth.problem.problem import Problem

FIELD = "stopped_half_way"
ALL_STAGES = 8
"""Up to so many stages every pair is proven: 28 pairs take two to three seconds."""
BUDGET_S = 10.0
"""Time for a candidate of more stages; 18 stages, 153 pairs, would take half a minute."""
SILENT_S = 2.0
"""Work that is over sooner tells no progress; a line at most that often."""
ONLY_ONE = "it is the only stage"


def with_stops(
    record: dict[str, Any],
    problem: Problem | None,
    tell: Callable[[str], None] = lambda text: print(text, file=sys.stderr, flush=True),
    clock: Callable[[], float] = time.monotonic,
) -> dict[str, Any]:
    """A copy of the record whose path.stages[k].stopped_half_way tells what later stages can do once stage k stopped.

    Stages are their places in the list. free_next: those that can move as the next one, all others at rest;
    free_in_order: those that can move in turn, after the ones before them that could. blocked_next, blocked_in_order:
    the others, each with two solids found to meet, where (share of that stage's turn; s of the path: a meeting, not the
    first contact), overlap_m. not_worked_out:
    stages that the time did not reach, nearest first served. note: why nothing is left to move or is worked out.
    """
    stages = record["path"]["stages"]
    count, id = len(stages), record["id"]
    asked: Laid | None = None
    why = ONLY_ONE if count == 1 else ""
    if not why:
        try:
            if problem is None:
                raise StowfrontError("the run folder holds no problem")
            asked = laid_out(problem, record)
        except StowfrontError as fault:
            why = f"not worked out: {str(fault).removeprefix(f'{id}: ')}"
    found: list[list[Onward]] = [[] for _ in stages]
    if asked is not None:
        _prove(asked.onward, found, id, tell, clock)
    told = []
    for k, stage in enumerate(stages):
        note = why or (asked.nothing_left(k) if asked is not None else "")
        missing = [] if note and asked is not None else [j for j in range(k + 1 + len(found[k]), count)]
        told.append({**stage, FIELD: _entry(found[k], stages, missing, note)})
    return {**record, "path": {**record["path"], "stages": told}}


def _prove(
    onward: Callable[[int], Iterator[Onward]],
    found: list[list[Onward]],
    id: str,
    tell: Callable[[str], None],
    clock: Callable[[], float],
) -> None:
    """Fills found: of every stage the one after it, then the one after that, until all are done or time is up."""
    count = len(found)
    waiting = {k: onward(k) for k in range(count)}
    begun = said = clock()
    while waiting:
        for k, ahead in list(waiting.items()):
            now = clock()
            if count > ALL_STAGES and now - begun >= BUDGET_S:
                return
            if now - said >= SILENT_S:
                said = now
                tell(f"{id}: what a stage stopped half-way leaves free: {sum(map(len, found))} of "
                     f"{count * (count - 1) // 2} pairs of stages proven")  # fmt: skip
            step = next(ahead, None)
            if step is None:
                del waiting[k]
            else:
                found[k].append(step)


def _entry(found: list[Onward], stages: list[dict[str, Any]], missing: list[int], note: str) -> dict[str, Any]:
    free_in_order = [o.stage for o in found if o.in_order.clear]
    return {
        "share": HALF_WAY,
        "free_next": [o.stage for o in found if o.alone.clear],
        "blocked_next": [_blocked(o.stage, o.alone, stages) for o in found if not o.alone.clear],
        "free_in_order": free_in_order,
        "blocked_in_order": [_blocked(o.stage, o.in_order, stages) for o in found if not o.in_order.clear],
        "not_worked_out": missing,
        "note": note,
    }


def _blocked(stage: int, met: Clearance, stages: list[dict[str, Any]]) -> dict[str, Any]:
    low, high = stages[stage]["s"]
    return {
        "stage": stage,
        "solids": list(met.pair),
        "share": round(met.s, 6),
        "s": round(low + met.s * (high - low), 6),
        "overlap_m": round(max(-met.least_m, 0.0), 9),
    }
