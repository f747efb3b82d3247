"""Runs: a search from a problem file to a run folder, gone on with after a stop, or one candidate by hand."""

import os
import signal
import sys
import time
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

import numpy as np

from synth.app.checking import closed_families, read_problem
from synth.app.display import Display
from synth.app.floors import gap_note
from synth.app.folder import RunFolder, opened, started
from synth.app.pools import pool_for
from synth.cell import cell_from, vocabulary
from synth.core.errors import InputError, StorageError, StowfrontError, is_full, unwritable
from synth.fronts.nested import inside
from synth.problem.bounds import objective_box
from synth.problem.problem import Problem
from synth.problem.reading import load
from synth.search import checkpoint
from synth.search.evaluator import ProblemEvaluator, work
from synth.search.progress import Progress
from synth.search.run import Watch, search
from synth.search.settings import Settings
from synth.search.state import State, begin
from synth.search.types import Goals

_pool = pool_for
SAVE_EVERY_S = 5.0
"""A killed run loses at most about so much of its work."""


@dataclass(frozen=True)
class Summary:
    """How a run ended: its folder, and run.json as a document."""

    folder: Path
    run: dict[str, Any]
    table: str

    @property
    def any_feasible(self) -> bool:
        return any(f["on_front"] for e in self.run["envelopes"] for f in e["families"].values())

    @property
    def interrupted(self) -> bool:
        return bool(self.run["state"] == "stopped")

    def document(self) -> dict[str, Any]:
        """run.json with the folder."""
        return {"folder": str(self.folder), **self.run}

    def text(self) -> str:
        """What was found, and where everything lies."""
        go_on = f"\nStopped early; go on with: stowfront resume {self.folder}" if self.interrupted else ""
        more = f"The whole front: stowfront show {self.folder}"
        return f"{self.table}\n\nRun folder: {self.folder}\n{more}{go_on}"


def goals_of(problem: Problem) -> Goals:
    """Envelopes and the boxes that their fronts are judged in; closed where bounds rule everything out."""
    count = len(problem.search.objectives)
    boxes = [objective_box(problem, e) for e in problem.envelope]
    shut, _ = closed_families(problem)
    closed = np.all(np.stack(list(shut.values())), axis=0)
    void = (np.full(count, np.nan), np.full(count, np.nan))
    pairs = [void if box is None or closed[e] else box for e, box in enumerate(boxes)]
    within = inside([e.kind for e in problem.envelope], [e.allowed for e in problem.envelope])
    return Goals(
        tuple(e.name for e in problem.envelope),
        np.array([p[0] for p in pairs], dtype=np.float64),
        np.array([p[1] for p in pairs], dtype=np.float64),
        within,
    )


def settings_of(problem: Problem) -> Settings:
    """How the search of a problem spends its budget, and when it stops before."""
    asked = problem.search
    settings = Settings.for_budget(asked.evaluations, asked.seed, len(problem.envelope))
    gain, window = (asked.stall.gain, asked.stall.evaluations) if asked.stall else (0.0, 0)
    return settings.stopping(gain, window, asked.time_limit or 0.0)


def run_problem(
    file: Path,
    out: Path | None,
    evaluations: int | None,
    seed: int | None,
    workers: int | None,
    ray: str | None = None,
    watch: Watch | None = None,
) -> Summary:
    """Searches the problem of a file and writes a run folder. workers, ray: where, as in pools.pool_for; watch: told
    the news of every round.

    What is laid out otherwise than asked is told first, on standard error. Raises InputError where the file or an
    argument is wrong (nothing is started), RunFolderError where the folder holds another run already.
    """
    problem = read_problem(file).with_search(evaluations, seed)
    if note := gap_note(problem):
        print(f"Note: {note}.", file=sys.stderr, flush=True)
    folder = started(out or _fresh(file), problem)
    with checkpoint.alone(folder.lock):
        return _search(folder, problem, None, workers, ray, watch)


def resume_run(path: Path, workers: int | None, ray: str | None = None, watch: Watch | None = None) -> Summary:
    """Goes on with a run that was stopped or killed; the front is that of an undisturbed run."""
    folder = opened(path)
    with checkpoint.alone(folder.lock):
        run = folder.run()
        problem = load(folder.problem_file, vocabulary()).with_search(run["evaluations"], run["seed"])
        if run["state"] == "done":
            return Summary(path, run, folder.table())
        state = checkpoint.load(folder.state_file, folder.about(problem)) if folder.state_file.exists() else None
        return _search(folder, problem, state, workers, ray, watch)


def _fresh(file: Path) -> Path:
    """A new folder under results/, named after the problem and the time."""
    stamp = datetime.now().strftime("%Y%m%d-%H%M%S")
    base = Path("results") / f"{file.stem}-{stamp}"
    return base if not base.exists() else Path(f"{base}-{os.getpid()}")


def _search(
    folder: RunFolder,
    problem: Problem,
    state: State | None,
    workers: int | None,
    ray: str | None,
    watch: Watch | None,
) -> Summary:
    begun = time.monotonic()
    shut, reasons = closed_families(problem)
    evaluator, goals = ProblemEvaluator(problem, shut), goals_of(problem)
    if state is None:
        state = begin(evaluator, goals, settings_of(problem))
    about = folder.about(problem)
    with _resumable(folder), _pool(problem, workers, ray) as pool, Display(pool) as display, _asked_to_stop() as stop:

        def told(news: Progress) -> None:
            display.show(news)
            if watch is not None:
                watch(news)

        found = search(
            state,
            evaluator,
            pool,
            save=lambda s: checkpoint.save(folder.state_file, s, about),
            save_every_s=SAVE_EVERY_S,
            watch=told,
            keep=lambda candidate, cell, extra: folder.keep(candidate.id, extra),
            stop=stop,
        )
    with _resumable(folder):
        run = folder.finish(problem, found, reasons, goals, time.monotonic() - begun)
    return Summary(folder.path, run, folder.table())


@contextmanager
def _resumable(folder: RunFolder) -> Iterator[None]:
    """Tells with a fault that stops a run (a full disk, a lost cluster) how it is gone on with."""
    try:
        yield
    except StowfrontError as fault:
        raise type(fault)(f"{fault}\nNothing saved is lost; go on with: stowfront resume {folder.path}") from fault
    except OSError as fault:
        if not is_full(fault):
            raise
        told = unwritable(folder.path, fault)
        raise StorageError(f"{told}\nNothing saved is lost; go on with: stowfront resume {folder.path}") from fault


@contextmanager
def _asked_to_stop() -> Iterator[Callable[[], bool]]:
    """A question that turns true after Ctrl-C or a plain kill, so that a run stops cleanly and can be resumed."""
    asked = [False]

    def note(*_: object) -> None:
        asked[0] = True

    try:
        before = [(s, signal.signal(s, note)) for s in (signal.SIGINT, signal.SIGTERM)]
    except ValueError:  # not the main thread: whoever runs us decides when to stop
        before = []
    try:
        yield lambda: asked[0]
    finally:
        for number, old in before:
            signal.signal(number, old)


def try_candidate(file: Path, family: str, settings: Sequence[str], envelope: str | None, out: Path | None) -> Summary:
    """Works one candidate given by hand out in full, as a run folder with one row."""
    from synth.search.types import Task

    begun = time.monotonic()
    problem = read_problem(file)
    values = dict(_pair(text) for text in settings)
    cell, row = cell_from(problem, family, values)
    names = [e.name for e in problem.envelope]
    if envelope is not None and envelope not in names:
        raise InputError(f"envelope: unknown envelope '{envelope}'; known: {', '.join(names)}")
    place = names.index(envelope) if envelope is not None else 0
    scores = work(problem, Task(cell, row, "verify"))
    if scores.extra is None:
        raise InputError(f"{family}: this is no design: {scores.reason[0]}")
    folder = started(out or _fresh(Path(f"try-{family}")), problem)
    with checkpoint.alone(folder.lock):
        run = folder.finish_one(problem, place, scores, time.monotonic() - begun)
    return Summary(folder.path, run, folder.table())


def _pair(text: str) -> tuple[str, str]:
    name, sign, value = text.partition("=")
    if not sign or not name.strip() or not value.strip():
        raise InputError(f"set: must be NAME=VALUE, such as build.thickness='6 mm'; got '{text}'")
    return name.strip(), value.strip()
