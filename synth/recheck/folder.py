"""A whole run folder: every record, and the rows of the front against them and among each other."""

import csv
import hashlib
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from synth.recheck.asked import Asked, NotUnderstoodError, read_asked
from synth.recheck.finding import Finding, Notes, Report
from synth.recheck.front import check_front
from synth.recheck.whole import recheck_record


def recheck_folder(folder: Path | str, *, network: bool = True) -> Report:
    """Reads problem.toml, run.json, front.csv and candidates/*.json of a run folder and verifies them anew.

    Raises FileNotFoundError where there is no such folder or it holds no front.
    """
    folder = Path(folder)
    if not (folder / "front.csv").is_file():
        raise FileNotFoundError(f"{folder}: no run folder: there is no front.csv in it")
    notes, skipped = Notes("run"), []
    run = _json(folder / "run.json", notes) or {}
    asked, digest, why = _problem(folder / "problem.toml", run, notes)
    if asked is None:
        skipped.append(f"growth, collecting area, gaps, keep-outs, limits, network: {why}")
    if not network:
        skipped.append("deployed network: not asked")
    findings: list[Finding] = []
    records: dict[str, Mapping[str, Any]] = {}
    for path in sorted((folder / "candidates").glob("*.json")):
        record = _json(path, notes)
        if record is None:
            continue
        findings += recheck_record(record, asked, network=network)
        notes.true(record.get("id") == path.stem, "ids", f"candidates/{path.name}", path.stem, record.get("id"))
        told = record.get("problem_digest")
        notes.true(told == digest, "problem digest", f"candidates/{path.name}", digest, told)
        records[path.stem] = record
    rows = _rows(folder / "front.csv")
    check_front(rows, records, asked, run, notes)
    if asked:
        unknown = sorted(name for name, room in asked.rooms.items() if room.allowed is None)
        skipped += [f"fit into envelope {name}: its sides come from a preset that run.json does not tell"
                    for name in unknown]  # fmt: skip
    return Report(str(folder), len(records), (*notes.found, *findings), tuple(skipped))


def _json(path: Path, notes: Notes) -> dict[str, Any] | None:
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
    except (OSError, ValueError, RecursionError) as fault:
        notes.add("file", path.name, "a JSON object", f"{type(fault).__name__}: {fault}"[:100])
        return None
    if not notes.true(isinstance(data, dict), "file", path.name, "a JSON object", type(data).__name__):
        return None
    return dict(data)


def _problem(path: Path, run: Mapping[str, Any], notes: Notes) -> tuple[Asked | None, str, str]:
    """The problem as asked, the digest of its bytes, which run.json must name, and why it could not be read."""
    allowed = {str(e.get("name")): e for e in run.get("envelopes", []) if isinstance(e, dict) and "allowed_m" in e}
    try:
        digest = hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError as fault:
        notes.add("file", path.name, "the problem as given", fault.strerror)
        return None, "", "no problem file"
    notes.true(run.get("problem_digest") == digest, "problem digest", "run.json", digest, run.get("problem_digest"))
    try:
        return read_asked(path, allowed), digest, ""
    except NotUnderstoodError as fault:
        return None, digest, str(fault)
    except (ValueError, KeyError, TypeError, AttributeError) as fault:
        notes.add("file", path.name, "a problem", f"{type(fault).__name__}: {fault}"[:100])
        return None, digest, "the problem file is damaged"


def _rows(path: Path) -> list[dict[str, str]]:
    with path.open(newline="", encoding="utf-8") as stream:
        return list(csv.DictReader(stream))
