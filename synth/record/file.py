"""Candidate records on disk: JSON with the same bytes for the same candidate, written whole or not at all."""

import json
import math
import os
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from synth.core.errors import RunFolderError, unwritable
from synth.record.model import SCHEMA, Record

SIGNIFICANT = 12
"""Digits kept of every number: finer than 1e-9 m over any aperture, coarser than the noise of summation order."""
_SHOWN_FAULTS = 8


def tidy(value: float) -> float:
    """The number with 12 significant digits, minus zero made zero; the same for a record and for a table.

    Raises ValueError where it is not finite: no such number may leave the program.
    """
    if not math.isfinite(value):
        raise ValueError(f"a record holds finite numbers only, got {value}")
    return float(f"{value:.{SIGNIFICANT}g}") + 0.0


def record_text(record: Mapping[str, Any]) -> str:
    """JSON text of a record: one line a field, one line an entry of its lists, one line a frame of the poses."""
    lines = [f" {json.dumps(name)}: {_field(value, 1)}" for name, value in record.items()]
    return "{\n" + ",\n".join(lines) + "\n}\n"


def _flat(value: Any) -> str:
    return json.dumps(value, allow_nan=False, separators=(", ", ": "), ensure_ascii=False)


def _field(value: Any, depth: int) -> str:
    """Lists of objects or of rows broken into lines; small things on one line."""
    pad = " " * (depth + 1)
    if isinstance(value, Mapping) and any(isinstance(v, list | dict) for v in value.values()):
        inner = [f"{pad}{json.dumps(k)}: {_field(v, depth + 1)}" for k, v in value.items()]
        return "{\n" + ",\n".join(inner) + "\n" + pad[:-1] + "}"
    if isinstance(value, list) and value and isinstance(value[0], list | dict):
        return "[\n" + ",\n".join(pad + _flat(v) for v in value) + "\n" + pad[:-1] + "]"
    return _flat(value)


def write_record(path: Path, record: Mapping[str, Any]) -> None:
    """Writes the record beside its place and moves it there in one step, so that a reader never sees half of it.

    Raises StorageError where the disk is full, RunFolderError where it cannot be written otherwise.
    """
    passing = path.with_name(f".{path.name}.{os.getpid()}")
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        passing.write_text(record_text(record), encoding="utf-8")
        os.replace(passing, path)
    except OSError as fault:
        passing.unlink(missing_ok=True)
        raise unwritable(path, fault, RunFolderError) from fault


def read_record(path: Path) -> dict[str, Any]:
    """The record of a file, its shape checked.

    Raises RunFolderError that names the file and each faulty field where it is missing, is not JSON, has
    another schema or a field of the wrong kind.
    """
    try:
        data = json.loads(path.read_text(encoding="utf-8"))
    except FileNotFoundError as fault:
        raise RunFolderError(f"{path}: there is no such candidate record") from fault
    except OSError as fault:
        raise RunFolderError(f"{path}: cannot be read: {fault.strerror}") from fault
    except (UnicodeDecodeError, json.JSONDecodeError, RecursionError) as fault:
        raise RunFolderError(f"{path}: is not a JSON document: {fault}") from fault
    if not isinstance(data, dict):
        raise RunFolderError(f"{path}: a candidate record must be a JSON object, got {type(data).__name__}")
    if data.get("schema") != SCHEMA:
        raise RunFolderError(f"{path}: schema must be '{SCHEMA}', got {data.get('schema')!r}")
    try:
        Record.model_validate(data)
    except ValidationError as fault:
        raise RunFolderError(_told(path, fault)) from fault
    return data


def _told(path: Path, fault: ValidationError) -> str:
    """One line a faulty field, the first few of them."""
    lines = []
    for error in fault.errors()[:_SHOWN_FAULTS]:
        place = ".".join(str(part) for part in error["loc"])
        given = "" if error["type"] == "missing" else f", got {str(error['input'])[:60]}"
        lines.append(f"{path}: {place}: {error['msg']}{given}")
    more = fault.error_count() - len(lines)
    return "\n".join(lines + ([f"{path}: and {more} more"] if more > 0 else []))
