"""Sweeps: a scalar of the problem given several values, and the problems that come of it."""

import copy
import re
import tomllib
from dataclasses import dataclass
from itertools import product
from typing import Any

import numpy as np

from synth.core.errors import InputError, nearest
from synth.core.units import QuantityError, show, to_si
from synth.problem.envelope import Envelope
from synth.problem.limits import JUDGED, limit_units
from synth.problem.problem import Problem
from synth.problem.reading import from_mapping
from synth.problem.vocabulary import Vocabulary

MOST_VALUES = 50
_ROOM = re.compile(r"envelope(?:\[(?P<place>\d+)\]|\.(?P<name>.+))?\.(?P<part>size\[[012]\]|diameter|height|clearance)")
_FORM = "FIELD=FIRST:LAST:COUNT or FIELD=VALUE,VALUE,..., such as envelope.size[2]=100mm:300mm:9 or mass.limit=8kg,10kg"


@dataclass(frozen=True)
class Axis:
    """field: as given. values: SI, rising or falling. envelope: its place, or -1 for a limit; part: what of it."""

    field: str
    unit: str
    values: tuple[float, ...]
    envelope: int = -1
    part: str = ""

    @property
    def judged(self) -> bool:
        """Whether the field only judges candidates, so that what is known of them holds for every value."""
        return self.envelope < 0 and self.field in JUDGED

    def told(self, value: float) -> str:
        """A value with its unit."""
        return show(value, self.unit, 6)


def read_axis(problem: Problem, text: str) -> Axis:
    """The axis that "FIELD=FIRST:LAST:COUNT" (evenly) or "FIELD=VALUE,VALUE" names. InputError tells what is wrong."""
    field, sign, given = text.partition("=")
    field, given = field.strip(), given.strip()
    if not sign or not field or not given:
        raise InputError(f"sweep: must be {_FORM}; got '{text}'")
    room = _ROOM.fullmatch(field)
    if room is not None:
        place = _envelope(problem, room["place"], room["name"], field)
        _insist_part(problem.envelope[place], room["part"], field)
        return Axis(field, "m", _values(field, given, "m"), place, room["part"])
    units = limit_units()
    if field not in units:
        known = [*units, "envelope.NAME.size[2]", "envelope.NAME.diameter", "envelope.NAME.height"]
        hint = nearest(field, known)
        raise InputError(f"sweep: '{field}' is no scalar of a problem.{hint} Known: {', '.join(known)}")
    return Axis(field, units[field], _values(field, given, units[field]))


def _envelope(problem: Problem, place: str | None, name: str | None, field: str) -> int:
    names = [e.name for e in problem.envelope]
    if place is not None and int(place) < len(names):
        return int(place)
    if name in names:
        return names.index(name)
    if place is None and name is None and len(names) == 1:
        return 0
    if place is None and name is None:
        example = f"envelope.{names[0]}.size[2]"
        raise InputError(f"sweep: {field}: name the envelope, as {example}; known: {', '.join(names)}")
    raise InputError(f"sweep: {field}: there is no such envelope; known: {', '.join(names)}")


def _insist_part(envelope: Envelope, part: str, field: str) -> None:
    allowed = ("size[0]", "size[1]", "size[2]") if envelope.kind == "box" else ("diameter", "height")
    if part not in (*allowed, "clearance"):
        raise InputError(f"sweep: {field}: this envelope is a {envelope.kind} one; it has {', '.join(allowed)}")


def _values(field: str, given: str, unit: str) -> tuple[float, ...]:
    """Numbers in SI, each once, in order."""
    try:
        if ":" in given:
            first, last, count = (part.strip() for part in given.split(":"))
            if not 2 <= int(count) <= MOST_VALUES:
                raise InputError(f"sweep: {field}: COUNT must be a whole number from 2 to {MOST_VALUES}; got {count}")
            even = np.linspace(_si(first, unit), _si(last, unit), int(count))
            values = tuple(float(f"{v:.12g}") for v in even)
        else:
            values = tuple(_si(part.strip(), unit) for part in given.split(","))
    except QuantityError as fault:
        raise InputError(f"sweep: {field}: {fault}; got '{given}'") from None
    except ValueError:
        raise InputError(f"sweep: must be {_FORM}; got '{field}={given}'") from None
    steps = np.diff(values)
    if not 2 <= len(values) <= MOST_VALUES or not ((steps > 0.0).all() or (steps < 0.0).all()):
        raise InputError(f"sweep: {field}: needs 2 to {MOST_VALUES} values that only rise or only fall; got '{given}'")
    return values


def _si(text: str, unit: str) -> float:
    try:
        return to_si(float(text), unit)
    except ValueError:
        return to_si(text, unit)


@dataclass(frozen=True)
class Variant:
    """One problem of a sweep. values: of the axes that are limits, in the order of `limits`; label: "mass.limit 8 kg",
    empty where only rooms are swept."""

    problem: Problem
    limits: tuple[Axis, ...]
    values: tuple[float, ...]

    @property
    def label(self) -> str:
        """The limits with their values."""
        return ", ".join(f"{a.field} {a.told(v)}" for a, v in zip(self.limits, self.values, strict=True))


def variants(problem: Problem, axes: tuple[Axis, ...], first: int, later: int, words: Vocabulary) -> list[Variant]:
    """The problems of a sweep over one or two axes, the tightest first where a limit only judges.

    Dimensions of a room become envelopes of one problem (other envelopes are left out). first: evaluations for each
    envelope of the first problem; later: of those that start from what a neighbour found. The problems' sources hold
    all of it, so that each can be read, run and compared on its own.
    """
    rooms = tuple(a for a in axes if a.envelope >= 0)
    limits = tuple(_tightest_first(a) for a in axes if a.envelope < 0)
    raw = tomllib.loads(problem.source.decode("utf-8-sig"))
    raw.setdefault("search", {})["seed"] = problem.search.seed
    if rooms:
        raw["envelope"] = _rooms(problem, raw, rooms)
    found = []
    for place, values in enumerate(product(*(a.values for a in limits))):
        made = copy.deepcopy(raw)
        for axis, value in zip(limits, values, strict=True):
            section, name = axis.field.split(".")
            made.setdefault(section, {})[name] = value
        made["search"]["evaluations"] = later if place else first
        found.append(Variant(from_mapping(made, problem.name, words), limits, tuple(values)))
    return found


def _tightest_first(axis: Axis) -> Axis:
    looser = JUDGED.get(axis.field, 0) * (axis.values[1] - axis.values[0])
    return axis if looser >= 0.0 else Axis(axis.field, axis.unit, axis.values[::-1])


def _rooms(problem: Problem, raw: dict[str, Any], rooms: tuple[Axis, ...]) -> list[dict[str, Any]]:
    """An envelope for each combination of the swept dimensions of one envelope."""
    if len({a.envelope for a in rooms}) > 1 or len({a.part for a in rooms}) < len(rooms):
        raise InputError("sweep: two dimensions must be different ones of the same envelope")
    count = int(np.prod([len(a.values) for a in rooms]))
    if count > MOST_VALUES:
        raise InputError(f"sweep: makes {count} envelopes; a run takes at most {MOST_VALUES}")
    envelope = problem.envelope[rooms[0].envelope]
    given = {k: v for k, v in raw["envelope"][rooms[0].envelope].items() if k != "preset"}
    if envelope.kind == "box":
        given["size"] = list(envelope.outside)
    else:
        given |= {"diameter": envelope.outside[0], "height": envelope.outside[2]}
    found = []
    for values in product(*(a.values for a in rooms)):
        made = copy.deepcopy(given)
        for axis, value in zip(rooms, values, strict=True):
            if axis.part.startswith("size"):
                made["size"][int(axis.part[5])] = value
            else:
                made[axis.part] = value
        made["name"] = f"{envelope.name} " + " x ".join(a.told(v) for a, v in zip(rooms, values, strict=True))
        found.append(made)
    return found
