"""The driver: rounds formed, worked and told until the budget is spent and every front is verified."""

import time
from collections.abc import Callable, Sequence

import numpy as np

from synth.core.errors import StowfrontError
from synth.search import rounds
from synth.search.outcome import Outcome, outcome
from synth.search.pool import Interrupted, Pool, one_thread
from synth.search.progress import Mark, Progress, mark, progress
from synth.search.state import State
from synth.search.types import HOPELESS, Evaluator, Failed, Result, Scores, Task, sound
from synth.search.verdicts import Keep

Save = Callable[[State], None]
Watch = Callable[[Progress], None]


class SearchFailed(StowfrontError):  # noqa: N818  (told to people as a sentence)
    """Nothing can be evaluated at all; the message holds the workers' reason."""


def search(
    state: State,
    evaluator: Evaluator,
    pool: Pool,
    *,
    save: Save | None = None,
    save_every_s: float = 5.0,
    watch: Watch | None = None,
    keep: Keep | None = None,
    stop: Callable[[], bool] | None = None,
) -> Outcome:
    """Runs a search from a state (new from begin(), or read from a checkpoint) to its end and returns what it found.

    The result depends on the state alone: not on the pool, the clock, or how often the search was interrupted; save
    where its settings hold a time limit, which the clock decides.
    save: called between rounds, at most every save_every_s seconds and at the end. watch: called after each round.
    keep: called with every settled candidate. stop: asked often; when true (or on Ctrl-C) the search ends within
    the pool's reaction time with what is verified so far. A round cut short leaves no trace in what was saved.
    Raises SearchFailed where a whole round of tasks fails.
    """
    threads = one_thread()  # what is foretold must not depend on how many threads a library takes
    started = saved = time.monotonic()
    begun, earlier = mark(state, 0.0), state.elapsed_s
    searched: Mark | None = begun if state.searched else None
    between = True
    try:
        while not state.done:
            between = True
            if stop is not None and stop():
                raise Interrupted
            now = time.monotonic()
            state.elapsed_s = earlier + now - started
            if _time_is_up(state):
                break
            if save is not None and now - saved >= save_every_s:
                save(state)
                saved = time.monotonic()
            between = False
            advance(state, evaluator, pool, keep, stop)
            seconds = time.monotonic() - started
            if searched is None and state.searched:
                searched = mark(state, seconds)
            if watch is not None:
                watch(progress(state, pool.state(), seconds, begun, searched))
    except (Interrupted, KeyboardInterrupt):
        if save is not None and between:
            save(state)
        return outcome(state, stopped=True)
    finally:
        threads.restore_original_limits()
    if save is not None:
        save(state)
    return outcome(state, stopped=False)


SEARCH_SHARE = 0.6
"""Of a time limit: then no more candidates are put forward, and the rest is for verifying the fronts."""


def _time_is_up(state: State) -> bool:
    """Goes to the final verification, and in the end says that all is over, where the time limit says so."""
    limit = state.settings.time_limit_s
    if limit > 0.0 and not state.searched and state.elapsed_s >= SEARCH_SHARE * limit:
        state.searched, state.late = True, True
    if limit > 0.0 and state.searched and state.elapsed_s >= limit:
        state.done, state.late = True, True
    return state.done


def advance(
    state: State, evaluator: Evaluator, pool: Pool, keep: Keep | None = None, stop: Callable[[], bool] | None = None
) -> None:
    """One round; or, when there is nothing left to put forward, the step to the final verification or to the end."""
    sent = rounds.form(state, evaluator)
    if not sent:
        state.done = state.searched
        state.searched = True
        return
    rounds.tell(state, sent, worked(state, pool, [s.task for s in sent], stop), keep)


def worked(state: State, pool: Pool, tasks: Sequence[Task], stop: Callable[[], bool] | None = None) -> list[Result]:
    """Checked answers to tasks. A batch that fails as a whole is tried again row by row, so that only the rows that
    are to blame are lost."""
    count, objectives = state.goals.ideal.shape
    answers = [
        sound(r, len(t.X), count, objectives, t.level) for t, r in zip(tasks, pool.map(tasks, stop), strict=True)
    ]
    whole = [k for k, (t, r) in enumerate(zip(tasks, answers, strict=True)) if isinstance(r, Failed) and len(t.X) > 1]
    singles = [Task(tasks[k].cell, x[None], tasks[k].level) for k in whole for x in tasks[k].X]
    if singles:
        found = iter(zip(singles, pool.map(singles, stop), strict=True))
        for k in whole:
            rows = [next(found) for _ in range(len(tasks[k].X))]
            answers[k] = _joined([sound(r, 1, count, objectives, t.level) for t, r in rows], count, objectives)
    _insist(tasks, answers)
    return answers


def _joined(rows: list[Result], envelopes: int, objectives: int) -> Scores:
    scores = [rounds.hopeless(1, (envelopes, objectives), r.reason) if isinstance(r, Failed) else r for r in rows]
    margins = [s.margins for s in scores if s.margins is not None]
    width = margins[0].shape[2] if margins else 0
    lost = np.full((1, envelopes, width), -HOPELESS / max(width, 1))
    filled = [lost if s.margins is None else s.margins for s in scores]
    return Scores(
        np.concatenate([s.objectives for s in scores]),
        np.concatenate([s.violation for s in scores]),
        np.concatenate([s.reason for s in scores]),
        np.concatenate(filled) if margins else None,
    )


def _insist(tasks: Sequence[Task], answers: Sequence[Result]) -> None:
    """Raises SearchFailed where every evaluated row of a round of tasks failed: then no candidate is to blame."""
    evaluated = [r for t, r in zip(tasks, answers, strict=True) if t.level == "evaluate"]
    lost = [r for r in evaluated if isinstance(r, Failed) or bool((r.violation == HOPELESS).all())]
    if len(evaluated) > 1 and len(lost) == len(evaluated):
        first = lost[0]
        reason = first.reason if isinstance(first, Failed) else str(first.reason[0])
        raise SearchFailed(f"no candidate of a whole round could be evaluated: {reason}")
