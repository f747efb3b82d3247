"""A job of the service, as the process that works it: one JSON argument in, events and a run folder out.

It ends at once when its standard input is closed: the service that started it is gone, and another one may want the
run folder. What it writes is what `stowfront run` and `stowfront resume` write.
"""

import fcntl
import json
import os
import sys
import threading
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from synth.app.running import Summary, resume_run, run_problem
from synth.core.errors import InputError, RunFolderError, StowfrontError
from synth.problem.objective import OBJECTIVES
from synth.search.progress import Progress
from synth.search.run import Watch
from synth.service.events import append

LOCK_DEADLINE_S = 60.0
"""A process of a service that was killed lets go of the job within a second; longer is a fault."""
INTERVAL_S = 0.5
EVENTS_A_TIMES = 1000
"""Events come at most twice a second, and later at most so many for each doubling or so of the time spent, so that a
job of days has thousands of events, not millions."""


def news_document(news: Progress, objectives: Sequence[str]) -> dict[str, Any]:
    """One round's news as a page or a script reads them. best: objective to the best value so far, SI, maximised ones
    as they are."""
    signs = {name: OBJECTIVES[name].sign for name in objectives}
    return {
        "phase": news.phase,
        "rounds": news.rounds,
        "seconds": round(news.seconds, 3),
        "seconds_left": None if news.seconds_left is None else round(news.seconds_left, 1),
        "to_verify": news.to_verify,
        "rate": round(news.rate, 3),
        "cells": news.cells,
        "aside": news.aside,
        "workers": news.pool.workers,
        "note": news.pool.note,
        "envelopes": [
            {
                "name": e.name,
                "evaluations": e.evaluations,
                "budget": e.budget,
                "feasible": e.feasible,
                "on_front": e.on_front,
                "verified": e.verified,
                "hypervolume": e.hypervolume,
                "families": {f: {"evaluations": n, "feasible": k} for f, (n, k) in e.families.items()},
                "best": {name: signs[name] * value for name, value in zip(objectives, e.best, strict=False)},
            }
            for e in news.envelopes
        ],
    }


def teller(events: Path, objectives: Sequence[str]) -> Watch:
    """What a search tells its news to; most of them are let pass."""
    last, begun = [-1e9], time.monotonic()

    def told(news: Progress) -> None:
        now = time.monotonic()
        if now - last[0] >= max(INTERVAL_S, (now - begun) / EVENTS_A_TIMES):
            last[0] = now
            append(events, "progress", news_document(news, objectives))

    return told


def _end_with_service() -> None:
    """Ends this process once standard input is closed."""
    while os.read(0, 1):
        pass
    os._exit(1)


def _alone(file: Path) -> int:
    """Takes the job's lock, waiting for a process that is about to end. The lock goes with this process."""
    descriptor = os.open(file, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
    deadline = time.monotonic() + LOCK_DEADLINE_S
    while True:
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
            return descriptor
        except OSError:
            if time.monotonic() > deadline:
                raise RunFolderError(f"{file}: another process still works on this job") from None
            time.sleep(0.05)


def work(about: dict[str, Any]) -> Summary:
    """Runs or resumes the job and returns how it ended. about: problem, folder, events, lock (paths), objectives,
    evaluations, seed, workers, ray."""
    folder = Path(about["folder"])
    events = Path(about["events"])
    watch = teller(events, about["objectives"])
    _alone(Path(about["lock"]))
    append(events, "process", {"pid": os.getpid()})
    if (folder / "run.json").exists():
        return resume_run(folder, about["workers"], about["ray"], watch)
    return run_problem(
        Path(about["problem"]), folder, about["evaluations"], about["seed"], about["workers"], about["ray"], watch
    )


def main(arguments: Sequence[str]) -> int:
    """Exit code as of `stowfront run`."""
    about = json.loads(arguments[0])
    os.nice(about["nice"])
    threading.Thread(target=_end_with_service, daemon=True).start()
    try:
        summary = work(about)
    except StowfrontError as fault:
        print(fault, file=sys.stderr)
        return 2 if isinstance(fault, InputError | RunFolderError) else 1
    return 130 if summary.interrupted else 0 if summary.any_feasible else 3


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
