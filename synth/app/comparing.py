"""Comparisons: run folders read, compared, and told as text, tables and a page."""

import json
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

from synth.cell import vocabulary
from synth.core.errors import InputError, RunFolderError, StowfrontError, writing
from synth.fronts.compare import compare
from synth.fronts.entry import Detail, Entry, entries_of
from synth.fronts.front import Row
from synth.fronts.store import read_front, read_run, replace_files
from synth.problem.problem import Problem
from synth.problem.reading import load
from synth.problem.requirement import requirements

SWEEP = "sweep.json"


def compare_runs(folders: Sequence[Path], out: Path | None) -> tuple[dict[str, Any], str]:
    """The comparison of run folders (or folders of sweeps) as a document and as text; files go into `out`.

    Raises InputError or RunFolderError where a folder is no run or `out` cannot be used; then nothing is written.
    """
    from synth.export.compare_text import compare_text

    if out is not None and out.exists() and not out.is_dir():
        raise InputError(f"{out}: is not a folder")
    runs = [run for folder in folders for run in run_folders(folder)]
    document = compare(read_entries(runs))
    text = compare_text(document)
    if out is not None:
        names = write_comparison(document, text, out)
        text += "\n\nWritten: " + ", ".join(str(out / n) for n in names)
    return document, text


def run_folders(folder: Path) -> list[Path]:
    """The folder itself, or the runs of a sweep in order."""
    if (folder / "run.json").exists() or not (folder / SWEEP).exists():
        return [folder]
    try:
        told = json.loads((folder / SWEEP).read_text(encoding="utf-8"))
        return [folder / str(run["folder"]) for run in told["runs"]]
    except (OSError, ValueError, KeyError, TypeError):
        raise RunFolderError(f"{folder / SWEEP}: is damaged") from None


def read_entries(folders: Sequence[Path]) -> list[Entry]:
    """The entries of runs, labelled by envelope, and by the limits of the sweep or the folder where names repeat."""
    unique = list(dict.fromkeys(f.resolve() for f in folders))
    words = vocabulary()
    read = [(f, read_run(f), load(f / "problem.toml", words), read_front(f)) for f in unique]
    names = [e.name for _, _, problem, _ in read for e in problem.envelope]
    plain = len(set(names)) == len(names)
    names = _folder_names(unique)
    labels = [_swept(f) or name for f, name in zip(unique, _short(names), strict=True)]
    labels = labels if len(set(labels)) == len(labels) else names
    found: list[Entry] = []
    for (folder, run, problem, front), name, label in zip(read, names, labels, strict=True):
        details = {r.id: _detail(folder, problem, r) for r in front.rows if r.feasible}
        found += entries_of(name, run, problem, front, details, "" if plain else label)
    if len({e.envelope.name for e in found}) == 1 and not plain:
        found = [replace(e, label=label) for e, label in zip(found, labels, strict=True)]
    return found


def _swept(folder: Path) -> str:
    """The limits of a run that is part of a sweep, or an empty text."""
    try:
        told = json.loads((folder.parent / SWEEP).read_text(encoding="utf-8"))
        return next((str(run["limits"]) for run in told["runs"] if run["folder"] == folder.name), "")
    except (OSError, ValueError, KeyError, TypeError):
        return ""


def _folder_names(folders: Sequence[Path]) -> list[str]:
    """Last parts of paths, as many as it takes to tell them apart."""
    for depth in range(1, max((len(f.parts) for f in folders), default=1) + 1):
        names = ["/".join(f.parts[-depth:]) for f in folders]
        if len(set(names)) == len(names):
            return names
    return [str(f) for f in folders]


MOST_LETTERS = 14
"""Longer names of folders swamp tables and pictures."""


def _short(names: Sequence[str]) -> list[str]:
    """Long names without the words that all begin with, where what is left still tells them apart."""
    if max(map(len, names), default=0) <= MOST_LETTERS or len(names) < 2:
        return list(names)
    alike = next(
        (k for k, letters in enumerate(zip(*names, strict=False)) if len(set(letters)) > 1), min(map(len, names))
    )
    cut = max(names[0][:alike].rfind(mark) for mark in "-_/ ") + 1
    left = [n[cut:] for n in names]
    return left if all(left) and len(set(left)) == len(left) else list(names)


def _detail(folder: Path, problem: Problem, row: Row) -> Detail:
    """Margins and thickness from the record; where the record is not there, margins from the table."""
    path = folder / "candidates" / f"{row.id}.json"
    try:
        record = json.loads(path.read_text(encoding="utf-8"))
        margins = {str(r["name"]): float(r["margin"]) for r in record["requirements"]}
        thickness = record["genes"].get("build.thickness")
        return Detail(margins, None if thickness is None else float(thickness))
    except FileNotFoundError:
        asked = requirements(problem)
        return Detail({r.name: r.margin(row.metrics[r.metric]) for r in asked if r.metric in row.metrics}, None)
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        raise RunFolderError(f"{path}: is not a candidate record") from None


def write_comparison(document: dict[str, Any], text: str, out: Path) -> list[str]:
    """Writes comparison.html, .json, .txt and tables as CSV into a folder; returns their names."""
    from synth.export.compare_page import compare_page
    from synth.export.compare_tables import compare_tables

    files = {
        "comparison.html": compare_page(document),
        "comparison.json": json.dumps(document, indent=1, allow_nan=False) + "\n",
        "comparison.txt": text + "\n",
        **compare_tables(document),
    }
    new = not out.exists()
    with writing(out, what="used"):
        out.mkdir(parents=True, exist_ok=True)
    try:
        replace_files({out / name: content.encode() for name, content in files.items()})
    except StowfrontError:
        if new:
            out.rmdir()
        raise
    return list(files)
