"""A hinge, latch or mount that a problem brings itself."""

from collections.abc import Mapping
from typing import Any

from synth.hinges import all_kinds
from synth.problem.catalogue import GROWTH, MEASURED, Row
from synth.problem.faults import given_name
from synth.problem.own_reading import Reading, plain, unknown

WORDS = ("id", "kind", "like", "title", "note", "values", "measured", "temperature_range_k", "outgassing")
_VALUE = ("value", "flag", "source")
_EXAMPLE = 'must be a table such as { value = 2e-7, source = "20 closings of the prototype" }'


def joint_row(place: str, entry: Mapping[str, Any], base: Row | None, reading: Reading) -> Row:
    """The row of a joint: the values given, and those of the entry that it overrides or is like."""
    reading.faults += [unknown(f"{place}.{given_name(k)}", k, WORDS, v) for k, v in entry.items() if k not in WORDS]
    word = _kind(place, entry, base, reading)
    if word is None:
        return {}
    values = {**(base["values"] if base else {}), **_values(place, entry.get("values", {}), word, reading)}
    wanted = all_kinds()[word].keys()
    missing = [key for key in wanted if key not in values]
    if missing:
        reading.tell(f"{place}.values", f"are incomplete for {word}; missing: {', '.join(missing)}")
    measured = {**(base or {}).get("measured", {}), **_measured(place, entry.get("measured", {}), reading)}
    told = {k: entry[k] for k in ("like", "note", "temperature_range_k", "outgassing") if k in entry}
    kept = {k: v for k, v in (base or {}).items() if k not in ("id", "title", "values", "measured")}
    title = entry.get("title", base["title"] if base else entry["id"])
    row: Row = {**kept, **told, "id": entry["id"], "kind": word, "title": title, "values": values}
    return {**row, "measured": measured} if measured else row


def _kind(place: str, entry: Mapping[str, Any], base: Row | None, reading: Reading) -> str | None:
    """Name of its kind, None where there is none."""
    kinds, word = all_kinds(), entry.get("kind", base["kind"] if base else None)
    where = f"{place}.kind"
    if word is None:
        reading.tell(where, f"is missing: give it, or like = an id of the catalogue. Kinds: {', '.join(kinds)}")
        return None
    before = len(reading.faults)
    reading.one_of(where, word, kinds)
    if len(reading.faults) > before:
        return None
    if base is not None and word != base["kind"]:
        reading.tell(
            where, f"must be {base['kind']} as that of {base['id']}; another kind needs an id of its own", word
        )
        return None
    return str(word)


def _sourced(place: str, given: Any, reading: Reading) -> tuple[Any, dict[str, Any]]:
    """The raw value of a table { value, source, flag } with its flag ("measured" where none is given) and source."""
    if not isinstance(given, dict) or "value" not in given:
        reading.tell(place, _EXAMPLE, given)
        return None, {}
    reading.faults += [unknown(f"{place}.{given_name(k)}", k, _VALUE, v) for k, v in given.items() if k not in _VALUE]
    reading.flag(place, given.get("flag", "measured"))
    reading.source(place, given.get("source"))
    return given["value"], {"flag": given.get("flag", "measured"), "source": given.get("source")}


def _values(place: str, given: Any, word: str, reading: Reading) -> dict[str, Any]:
    """Parameters of the kind."""
    if not isinstance(given, dict):
        reading.tell(f"{place}.values", "must be a table [catalogue.joint.values]", given)
        return {}
    kind, found = all_kinds()[word], {}
    fields, keys = kind.parameters(), kind.keys()
    for key, told in given.items():
        where = f"{place}.values.{given_name(key)}"
        if key not in keys:
            reading.faults.append(unknown(where, key, keys, told))
            continue
        raw, about = _sourced(where, told, reading)
        if about:
            parameter = fields[keys[key]]
            found[key] = {"value": reading.number(where, raw, parameter.unit, zero=parameter.zero), **about}
    return found


def _measured(place: str, given: Any, reading: Reading) -> dict[str, Any]:
    """Figures measured on the unit itself."""
    if not isinstance(given, dict):
        reading.tell(f"{place}.measured", "must be a table [catalogue.joint.measured]", given)
        return {}
    found = {}
    for key, told in given.items():
        where = f"{place}.measured.{given_name(key)}"
        if key not in MEASURED:
            reading.faults.append(unknown(where, key, MEASURED, told))
            continue
        raw, about = _sourced(where, told, reading)
        if not about:
            continue
        if key == "unit_mass_kg":
            found[key] = {"value": reading.number(where, raw, "kg"), **about}
        elif key == GROWTH:
            if plain(raw):
                found[key] = {"value": float(raw), **about}
            else:
                reading.tell(where, "must be a number, the growth a kelvin (1/K)", raw)
        elif isinstance(raw, list) and len(raw) == 3 and all(plain(v) and v > 0.0 for v in raw):
            found[key] = {"value": [float(v) for v in raw], **about}
        else:
            reading.tell(where, "must be three numbers above zero: along the edge, across it, z", raw)
    return found
