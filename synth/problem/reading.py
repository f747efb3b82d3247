"""From bytes to a Problem, or to one InputError that tells every fault, whatever the bytes hold."""

import os
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError

from synth.core.errors import InputError, nearest
from synth.problem.choices import Choices, check_names, narrow
from synth.problem.crossing import crossing
from synth.problem.envelope import Envelope
from synth.problem.faults import Fault, fault, from_validation, given_name, printable, raise_all
from synth.problem.own import merged, read_own
from synth.problem.problem import SCHEMA, Problem
from synth.problem.quantity import Title
from synth.problem.sections import Accuracy, Aperture, Environment, KeepOut, MassLimit, Search, Section, Structure
from synth.problem.toml_text import toml_text
from synth.problem.vocabulary import Pins, Vocabulary

LARGEST_FILE = 1 << 20
"""Bytes; a problem file is a few thousand."""

_TABLES: dict[str, type[Section]] = {
    "aperture": Aperture,
    "mass": MassLimit,
    "accuracy": Accuracy,
    "environment": Environment,
    "structure": Structure,
    "choices": Choices,
    "search": Search,
}
_LISTS: dict[str, type[Section]] = {"envelope": Envelope, "keep_out": KeepOut}
_REQUIRED = ("aperture", "envelope", "mass", "search")
_FIELDS = ("schema", "title", "aperture", "envelope", "mass", "accuracy", "environment", "structure", "choices",
           "catalogue", "keep_out", "search")  # fmt: skip
_MOST_ENTRIES = 50


class _Head(BaseModel):
    title: Title


def load(path: str | os.PathLike[str], vocabulary: Vocabulary) -> Problem:
    """The problem of a file. InputError tells, a line each, everything that is wrong with it."""
    name = printable(str(path))
    try:
        file = Path(path)
        if not file.exists():
            raise InputError(f"{name}: there is no such file")
        if not file.is_file():
            raise InputError(f"{name}: is not a file but a directory or device")
        with file.open("rb") as stream:
            data = stream.read(LARGEST_FILE + 1)
    except (OSError, ValueError) as error:
        reason = error.strerror if isinstance(error, OSError) and error.strerror else str(error)
        raise InputError(f"{name}: cannot be read: {reason}") from None
    return _build(*_with_catalogue_file(_parse(data, name), data, name, file.parent), name, vocabulary)


def loads(data: bytes, name: str, vocabulary: Vocabulary) -> Problem:
    """The problem of a file's bytes; name is what messages call it."""
    return _build(_parse(data, name), data, name, vocabulary)


def from_mapping(data: Mapping[str, Any], name: str, vocabulary: Vocabulary) -> Problem:
    """The problem of the same fields as a mapping (from JSON, say); its source is the TOML text that they make."""
    try:
        source = toml_text(data).encode()
    except (TypeError, ValueError, RecursionError) as error:
        raise InputError(f"{name}: cannot be told as TOML: {error}") from None
    return loads(source, name, vocabulary)


def _parse(data: bytes, name: str) -> dict[str, Any]:
    if len(data) > LARGEST_FILE:
        raise InputError(f"{name}: is larger than {LARGEST_FILE} bytes and so no problem file")
    if not data.strip():
        raise InputError(f"{name}: is empty; `stowfront new FILE` writes one to start from")
    try:
        return tomllib.loads(data.decode("utf-8-sig"))
    except UnicodeDecodeError as error:
        raise InputError(f"{name}: is not text in UTF-8 (byte {error.start}), so not a TOML file") from None
    except RecursionError:
        raise InputError(f"{name}: is nested too deeply") from None
    except ValueError as error:  # tomllib.TOMLDecodeError is one; so is a whole number of too many digits
        raise InputError(f"{name}: is not TOML: {given_name(str(error))}") from None


def _with_catalogue_file(raw: dict[str, Any], data: bytes, name: str, folder: Path) -> tuple[dict[str, Any], bytes]:
    """The document and bytes of a problem that holds the entries of its catalogue file too: it needs no other file."""
    tables = raw.get("catalogue")
    if not isinstance(tables, dict) or "file" not in tables:
        return raw, data
    own, faults = merged(tables, folder)
    raise_all(name, faults)
    whole = {**raw, "catalogue": own}
    return whole, toml_text(whole).encode()


def _build(raw: dict[str, Any], data: bytes, name: str, vocabulary: Vocabulary) -> Problem:
    sections, faults = _sections(raw)
    shelf, more = read_own(raw.get("catalogue", {}))
    faults += more
    pins: Pins = {}
    if "choices" in sections:
        faults += check_names(sections["choices"], vocabulary, shelf)
        pins, more = narrow(sections["choices"].variables, vocabulary, shelf)
        faults += more
    faults += crossing(sections, pins, shelf)
    raise_all(name, faults)
    return Problem.read_from(sections, data, name, vocabulary, pins, shelf)


def _sections(raw: dict[str, Any]) -> tuple[dict[str, Any], list[Fault]]:
    """Sections that could be read, and the faults of the others, in the order of the contract's file."""
    found: dict[str, Any] = {}
    faults = [
        fault(given_name(key), f"is not a known field.{nearest(key, _FIELDS)} Allowed: {', '.join(_FIELDS)}", value)
        for key, value in raw.items()
        if key not in _FIELDS
    ]
    if "schema" not in raw:
        faults.append(Fault("schema", f'is missing and must be given: schema = "{SCHEMA}"'))
    elif raw["schema"] != SCHEMA:
        faults.append(fault("schema", f'must be "{SCHEMA}"', raw["schema"]))
    try:
        found.update(_Head.model_validate({k: raw[k] for k in ("title",) if k in raw}))
    except ValidationError as error:
        faults += from_validation(error, "", ("title",))
    for key in (k for k in _FIELDS[2:] if k != "catalogue"):
        if key not in raw:
            if key in _REQUIRED:
                what = "one [[envelope]] or more" if key == "envelope" else f"a table [{key}]"
                faults.append(Fault(key, f"is missing and must be given: {what}"))
            continue
        if key in _LISTS:
            _read_list(key, raw[key], found, faults)
        else:
            _read_table(key, raw[key], _TABLES[key], found, faults)
    return found, faults


def _read_table(key: str, value: Any, model: type[Section], found: dict[str, Any], faults: list[Fault]) -> None:
    if not isinstance(value, dict):
        faults.append(fault(key, f"must be a table [{key}]", value))
        return
    try:
        found[key] = model.model_validate(value)
    except ValidationError as error:
        faults += from_validation(error, key, model.model_fields)


def _read_list(key: str, value: Any, found: dict[str, Any], faults: list[Fault]) -> None:
    if not isinstance(value, list) or not value or len(value) > _MOST_ENTRIES:
        faults.append(fault(key, f"must be tables [[{key}]], from one to {_MOST_ENTRIES} of them", value))
        return
    entries: dict[str, Any] = {}
    before = len(faults)
    for i, entry in enumerate(value):
        _read_table(f"{key}[{i}]", entry, _LISTS[key], entries, faults)
    for i, entry in enumerate(value):
        name = entry.get("name") if isinstance(entry, dict) else None
        earlier = [e.get("name") for e in value[:i] if isinstance(e, dict)]
        if isinstance(name, str) and name in earlier:
            faults.append(fault(f"{key}[{i}].name", f"must differ from the other {key} names", name))
    if len(faults) == before:
        found[key] = tuple(entries.values())
