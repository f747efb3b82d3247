"""Run folders as the page reads them: each file once, again only when it has changed."""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import Any

from synth.cell import vocabulary
from synth.core.errors import InputError, nearest
from synth.fronts.front import Front
from synth.fronts.store import read_front, read_history, read_run
from synth.problem.objective import OBJECTIVES, Objective
from synth.problem.problem import Problem
from synth.problem.reading import load
from synth.record.file import read_record

_KEPT_RUNS, _KEPT_RECORDS = 16, 64


@dataclass(frozen=True, eq=False)
class RunFiles:
    """One run folder: run.json, its problem, front and history (empty while the run has written none)."""

    path: Path
    run: Mapping[str, Any]
    problem: Problem
    front: Front
    history: tuple[tuple[str, str, int, float], ...]

    @property
    def objectives(self) -> tuple[Objective, ...]:
        """What the run sought."""
        return tuple(OBJECTIVES[name] for name in self.run["objectives"])


def read_files(path: Path) -> RunFiles:
    """The files of a run folder. Raises RunFolderError or InputError where one is missing or damaged."""
    return _read(path, tuple(_changed(path / name) for name in ("run.json", "front.csv", "history.csv")))


def candidate(path: Path, name: str) -> dict[str, Any]:
    """The record of a candidate that stands on the run's front; InputError names the nearest one for any other."""
    files = read_files(path)
    if files.front.find(name) is None:
        known = [r.id for r in files.front.rows]
        raise InputError(f"candidate: this run has none called '{name[:80]}'.{nearest(name[:80], known)}")
    file = path / "candidates" / f"{name}.json"
    return _record(file, _changed(file))


def _changed(file: Path) -> int:
    try:
        return file.stat().st_mtime_ns
    except OSError:
        return 0


@lru_cache(maxsize=_KEPT_RUNS)
def _read(path: Path, changed: tuple[int, ...]) -> RunFiles:
    problem = load(path / "problem.toml", vocabulary())
    front = read_front(path) if changed[1] else Front(())
    history = tuple(read_history(path)) if changed[2] else ()
    return RunFiles(path, read_run(path), problem, front, history)


@lru_cache(maxsize=_KEPT_RECORDS)
def _record(file: Path, changed: int) -> dict[str, Any]:
    return read_record(file)
