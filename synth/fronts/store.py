"""The files of a run folder that hold fronts. Each is written whole or not at all; equal content gives equal bytes."""

import csv
import io
import json
import os
from collections.abc import Iterable, Mapping
from pathlib import Path
from typing import Any

from synth.core.errors import RunFolderError, unwritable
from synth.fronts.front import Front, Row
from synth.record.file import tidy

FIXED = ("id", "envelope", "family", "verified", "feasible")
HISTORY = ("envelope", "family", "evaluations", "hypervolume")
SCHEMA = "run/1"
STATES = ("running", "done", "stopped", "failed")


def replace_file(path: Path, content: bytes) -> None:
    """Writes a file so that a crash at any instant leaves the old content or the new: written beside it, flushed to
    disk, renamed over it, and the folder flushed. Raises StorageError (a full disk) or RunFolderError."""
    replace_files({path: content})


def replace_files(files: Mapping[Path, bytes]) -> None:
    """As replace_file for several: none is replaced before all are on the disk. Raises as that does."""
    path = next(iter(files))
    waiting = {p: p.with_name(f".{p.name}.new") for p in files}
    try:
        for path, content in files.items():
            with open(waiting[path], "wb") as file:
                file.write(content)
                file.flush()
                os.fsync(file.fileno())
        for path, beside in waiting.items():
            os.replace(beside, path)
        for parent in {p.parent for p in files}:
            folder = os.open(parent, os.O_RDONLY)
            try:
                os.fsync(folder)
            finally:
                os.close(folder)
    except OSError as fault:
        for beside in waiting.values():
            beside.unlink(missing_ok=True)
        raise unwritable(path, fault, RunFolderError) from fault


def number(value: float) -> str:
    """A number as the tables hold it: the shortest text of its 12 significant digits. Not finite: ValueError."""
    return repr(tidy(float(value)))


def front_text(front: Front) -> str:
    """front.csv: a row a candidate, numbers with 12 significant digits, flags as true or false, lines ended by \\n."""
    out = io.StringIO()
    table = csv.writer(out, lineterminator="\n")
    table.writerow([*FIXED, *front.columns])
    for r in front.rows:
        flags = ["true" if flag else "false" for flag in (r.verified, r.feasible)]
        table.writerow([r.id, r.envelope, r.family, *flags, *(number(r.metrics[m]) for m in front.columns)])
    return out.getvalue()


def write_front(folder: Path, front: Front) -> None:
    """Writes front.csv."""
    replace_file(folder / "front.csv", front_text(front).encode())


def read_front(folder: Path) -> Front:
    """Reads front.csv. Raises RunFolderError that names file and line where it is missing or damaged."""
    path = folder / "front.csv"
    lines = _lines(path)
    if not lines or tuple(lines[0][: len(FIXED)]) != FIXED:
        raise RunFolderError(f"{path}: the first line must begin with {', '.join(FIXED)}")
    columns = tuple(lines[0][len(FIXED) :])
    rows = []
    for place, line in enumerate(lines[1:], start=2):
        if len(line) != len(lines[0]):
            raise RunFolderError(f"{path}, line {place}: {len(lines[0])} fields are expected, found {len(line)}")
        flags = line[3:5]
        if not set(flags) <= {"true", "false"}:
            raise RunFolderError(f"{path}, line {place}: verified and feasible must be true or false, found {flags}")
        try:
            metrics = {m: tidy(float(v)) for m, v in zip(columns, line[5:], strict=True)}
        except ValueError as fault:
            raise RunFolderError(f"{path}, line {place}: {fault}") from None
        rows.append(Row(line[0], line[1], line[2], flags[0] == "true", flags[1] == "true", metrics))
    return Front(columns, tuple(rows))


def write_history(folder: Path, rows: Iterable[tuple[str, str, int, float]]) -> None:
    """Writes history.csv from (envelope, family or "all", evaluations, hypervolume)."""
    out = io.StringIO()
    table = csv.writer(out, lineterminator="\n")
    table.writerow(HISTORY)
    table.writerows([envelope, family, evaluations, number(v)] for envelope, family, evaluations, v in rows)
    replace_file(folder / "history.csv", out.getvalue().encode())


CELLS = ("cell", "what", "parent", "evaluations", "share", "on_front", "verified", "refused", "ended")


def write_cells(folder: Path, rows: Iterable[tuple[int, str, int, int, float, int, int, int, str]]) -> None:
    """Writes cells.csv: every cell that was tried (number, what it fixes, number of the cell it was born of or -1,
    candidates put forward, their share of all, rows on fronts, verifications passed and failed, why it ended)."""
    out = io.StringIO()
    table = csv.writer(out, lineterminator="\n")
    table.writerow(CELLS)
    table.writerows([*row[:4], number(row[4]), *row[5:]] for row in rows)
    replace_file(folder / "cells.csv", out.getvalue().encode())


def read_history(folder: Path) -> list[tuple[str, str, int, float]]:
    """Reads history.csv. Raises RunFolderError."""
    path = folder / "history.csv"
    lines = _lines(path)
    if not lines or tuple(lines[0]) != HISTORY:
        raise RunFolderError(f"{path}: the first line must be {','.join(HISTORY)}")
    try:
        return [(a, b, int(n), float(v)) for a, b, n, v in lines[1:]]
    except ValueError as fault:
        raise RunFolderError(f"{path}: {fault}") from None


def write_run(folder: Path, run: Mapping[str, Any]) -> None:
    """Writes run.json; the mapping must hold a schema and a known state.

    Raises ValueError for another schema or state, or a number that is not finite.
    """
    if run.get("schema") != SCHEMA or run.get("state") not in STATES:
        raise ValueError(f"run.json needs schema {SCHEMA!r} and a state among {', '.join(STATES)}")
    replace_file(folder / "run.json", (json.dumps(run, indent=1, allow_nan=False, ensure_ascii=False) + "\n").encode())


def read_run(folder: Path) -> dict[str, Any]:
    """Reads run.json. Raises RunFolderError where it is missing, is no JSON or has another schema."""
    path = folder / "run.json"
    try:
        run = json.loads(_text(path))
    except ValueError as fault:
        raise RunFolderError(f"{path}: is not a JSON document: {fault}") from None
    if not isinstance(run, dict) or run.get("schema") != SCHEMA:
        raise RunFolderError(f"{path}: is not the file of a run (schema must be {SCHEMA!r})")
    return run


def _lines(path: Path) -> list[list[str]]:
    try:
        return list(csv.reader(io.StringIO(_text(path))))
    except csv.Error as fault:
        raise RunFolderError(f"{path}: is not a table: {fault}") from None


def _text(path: Path) -> str:
    try:
        return path.read_text(encoding="utf-8")
    except FileNotFoundError:
        raise RunFolderError(f"{path}: there is no such file; is {path.parent} a run folder?") from None
    except UnicodeDecodeError:
        raise RunFolderError(f"{path}: is not a text file") from None
    except OSError as fault:
        raise RunFolderError(f"{path}: cannot be read: {fault.strerror}") from None
