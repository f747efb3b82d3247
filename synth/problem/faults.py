"""Faults of a problem file, all told at once: file, field, what was given, what is allowed."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from pydantic import ValidationError
from pydantic_core import PydanticCustomError

from synth.core.errors import InputError, nearest

_LONGEST = 60


def given(value: Any) -> str:
    """The value as it stood in the file, cut to a readable length, control characters escaped."""
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, bool):
        return "true" if value else "false"
    try:
        text = f'"{value[: 2 * _LONGEST]}"' if isinstance(value, str) else repr(value)
    except (ValueError, RecursionError):  # whole numbers too long to print, lists too deep to walk
        return "a number of thousands of digits" if isinstance(value, int) else "a value too deep to print"
    text = printable(text[: 2 * _LONGEST])
    return text if len(text) <= _LONGEST else text[: _LONGEST - 4] + " ..."


def refuse(message: str) -> PydanticCustomError:
    """The error that a field's validator raises; the message says what is allowed."""
    return PydanticCustomError("stowfront", "{message}", {"message": message})


@dataclass(frozen=True)
class Fault:
    """One thing wrong: the dotted field, the sentence about it."""

    field: str
    message: str


@dataclass(frozen=True)
class Missing:
    """Stands for a field that was not given."""


def fault(field: str, message: str, value: Any = Missing()) -> Fault:
    """A fault that also says what was given."""
    return Fault(field, message if isinstance(value, Missing) else f"{message}; given {given(value)}")


def dotted(section: str, where: Sequence[str | int]) -> str:
    """envelope[1].size[2] for ("envelope", 1, "size", 2)."""
    text = section
    for part in where:
        text += f"[{part}]" if isinstance(part, int) else f".{part}" if text else part
    return text


def from_validation(error: ValidationError, section: str, known: Iterable[str]) -> list[Fault]:
    """Faults of one section, in the order of its fields; `known` are the section's own field names."""
    names = list(known)
    found = []
    for e in error.errors(include_url=False, include_context=True):
        where, value = [p for p in e["loc"] if not str(p).startswith("function-")], e["input"]
        field = dotted(section, where)
        if e["type"] == "missing":
            found.append(Fault(field, "is missing and must be given"))
        elif e["type"] == "extra_forbidden":
            hint = nearest(str(where[-1]), names)
            found.append(fault(given_name(field), f"is not a known field.{hint} Allowed: {', '.join(names)}", value))
        else:
            found.append(fault(field, _words(e["type"], e["msg"]), value))
    return found


def given_name(field: str) -> str:
    """A field name from the file, made safe to print and cut to a readable length."""
    return printable(field[:120])


def printable(text: str) -> str:
    """The text with control characters, line breaks and lone surrogates escaped."""
    return "".join(c if c.isprintable() else repr(c)[1:-1] for c in text)


_PLAIN = {
    "string_type": "must be text",
    "bool_type": "must be true or false",
    "int_type": "must be a whole number",
    "int_from_float": "must be a whole number",
    "list_type": "must be a list",
    "tuple_type": "must be a list",
    "dict_type": "must be a table",
    "model_type": "must be a table",
    "model_attributes_type": "must be a table",
    "too_long": "has too many entries",
    "too_short": "has too few entries",
}


def _words(kind: str, message: str) -> str:
    """The program's own sentence where there is one, else what the validator said."""
    return _PLAIN.get(kind, message)


def raise_all(name: str, faults: Iterable[Fault]) -> None:
    """InputError with one line a fault; nothing where there is none."""
    told = list(faults)
    lines = [f"{name}: {f.field}: {f.message}" if f.field else f"{name}: {f.message}" for f in told]
    if lines:
        error = InputError("\n".join(lines))
        error.faults = tuple((f.field, f.message) for f in told)
        raise error
