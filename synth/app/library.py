"""The library: what the commands do, as functions for scripts and notebooks."""

from pathlib import Path
from typing import Any

from synth.app import checking, folder, looking, running
from synth.fronts.front import Front
from synth.fronts.store import read_front as _read_front


def check(file: str | Path) -> checking.CheckReport:
    """Reads a problem and works out the bounds that hold before any search. InputError tells every fault."""
    return checking.check_problem(Path(file))


def run(
    file: str | Path,
    *,
    out: str | Path | None = None,
    evaluations: int | None = None,
    seed: int | None = None,
    workers: int | None = 0,
) -> running.Summary:
    """Searches a problem and writes a run folder; workers: processes, 0 for this one, None for one a core."""
    return running.run_problem(Path(file), None if out is None else Path(out), evaluations, seed, workers)


def attempt(
    file: str | Path,
    family: str,
    variables: dict[str, float | int | str] | None = None,
    *,
    envelope: str | None = None,
    out: str | Path | None = None,
) -> running.Summary:
    """One candidate given by hand, worked out and verified like any other, as a run folder with one row."""
    pairs = [f"{k}={v}" for k, v in (variables or {}).items()]
    return running.try_candidate(Path(file), family, pairs, envelope, None if out is None else Path(out))


def read_front(run_folder: str | Path) -> Front:
    """The front of a run folder."""
    return _read_front(Path(run_folder))


def read_candidate(run_folder: str | Path, name: str) -> dict[str, Any]:
    """The record of a candidate."""
    return folder.candidate_record(Path(run_folder), name)


def recheck_run(run_folder: str | Path) -> Any:
    """Verifies every candidate record of a run folder anew, with code that shares nothing with the generator."""
    return looking.recheck_run(Path(run_folder))
