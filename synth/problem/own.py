"""Catalogue entries that a problem brings itself: added, or in place of the catalogue's; every fault told at once."""

import re
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from synth.core.errors import nearest
from synth.problem.catalogue import Catalogue, Row, joint_of, shipped
from synth.problem.faults import Fault, fault, given_name, printable
from synth.problem.own_joint import joint_row
from synth.problem.own_material import material_row
from synth.problem.own_reading import Reading, line, plain, unknown

SCHEMA = "catalogue/1"
LARGEST_FILE = 1 << 20
LISTS = ("material", "joint")
_ID = re.compile(r"[a-z0-9][a-z0-9_]{0,59}")


def merged(tables: Mapping[str, Any], folder: Path) -> tuple[dict[str, Any], list[Fault]]:
    """The [catalogue] table of a problem with the entries of its catalogue file taken in; `from` then tells the file.

    The file stands in the folder of the problem file. What is wrong with it as a file is told here; entries are read
    later, those of the file before the problem's own.
    """
    name = tables.get("file")
    rest = {k: v for k, v in tables.items() if k != "file"}
    if not isinstance(name, str) or not name or Path(name).name != name:
        words = 'must be the name of a TOML file in the folder of the problem file, such as "our_parts.toml"'
        return rest, [fault("catalogue.file", words, name)]
    shown = printable(name)
    try:
        found = tomllib.loads((folder / name).read_bytes()[:LARGEST_FILE].decode("utf-8-sig"))
    except FileNotFoundError:
        return rest, [fault("catalogue.file", "names a file that is not there", name)]
    except (OSError, ValueError, RecursionError) as error:
        return rest, [Fault("catalogue.file", f"{shown} cannot be read as TOML: {given_name(str(error))}")]
    faults = []
    if found.get("schema") != SCHEMA:
        faults.append(fault(f"{shown}: schema", f'must be "{SCHEMA}"', found.get("schema")))
    allowed = ("schema", *LISTS)
    faults += [unknown(f"{shown}: {given_name(k)}", k, allowed, v) for k, v in found.items() if k not in allowed]
    for key in LISTS:
        if key in found and not isinstance(found[key], list):
            faults.append(fault(f"{shown}: {key}", f"must be tables [[{key}]]", found[key]))
        elif key in found:
            here = rest.get(key)
            rest[key] = [*found[key], *(here if isinstance(here, list) else [])]
    return {**rest, "from": name}, faults


def read_own(tables: Any) -> tuple[Catalogue, list[Fault]]:
    """The catalogue with the entries of a problem's [catalogue] table, and everything that is wrong with them."""
    base = shipped()
    if not isinstance(tables, Mapping):
        words = "must be a table [catalogue] with [[catalogue.joint]] or [[catalogue.material]]"
        return base, [fault("catalogue", words, tables)]
    reading = Reading()
    allowed = ("file", "from", *LISTS)
    reading.faults += [
        unknown(f"catalogue.{given_name(k)}", k, allowed, v) for k, v in tables.items() if k not in allowed
    ]
    if "file" in tables:
        words = "is read only where the problem is a file on disk; give [[catalogue.joint]] and [[catalogue.material]]"
        reading.tell("catalogue.file", words, tables["file"])
    old = {"material": base.material_rows, "joint": base.joint_rows}
    for key in LISTS:
        given = tables.get(key, [])
        if not isinstance(given, list) or not all(isinstance(one, dict) for one in given):
            reading.tell(f"catalogue.{key}", f"must be tables [[catalogue.{key}]]", given)
            continue
        for i, entry in enumerate(given):
            _read(key, f"catalogue.{key}[{i}]", entry, {row["id"]: row for row in old[key]}, reading)
    known = {key: {row["id"] for row in rows} for key, rows in old.items()}
    own = {f"{k} {i}": "overrides" if i in known[k] else "added" for k in LISTS for i in reading.rows[k]}
    materials, joints = (_put(old[key], reading.rows[key]) for key in LISTS)
    return Catalogue(materials, joints, own), reading.faults


def _put(old: tuple[Row, ...], new: Mapping[str, Row]) -> tuple[Row, ...]:
    """Rows with new ones in the place of those that they override, added ones behind."""
    held = {row["id"] for row in old}
    return (*(new.get(row["id"], row) for row in old), *(row for i, row in new.items() if i not in held))


def _read(key: str, place: str, entry: Mapping[str, Any], known: Mapping[str, Row], reading: Reading) -> None:
    """Reads one entry into reading.rows, or tells what is wrong with it."""
    before, name = len(reading.faults), entry.get("id")
    if not isinstance(name, str) or not _ID.fullmatch(name):
        given = () if name is None else (name,)
        reading.tell(f"{place}.id", "must be an id of 1 to 60 small letters, digits and _", *given)
        return
    if name in reading.rows[key]:
        reading.tell(f"{place}.id", f"must differ from the other catalogue.{key} ids", name)
    like = entry.get("like", name)
    if "like" in entry and (not isinstance(like, str) or like not in known):
        words = f"must be an id of the catalogue.{nearest(str(like), known)} Allowed: {', '.join(known)}"
        reading.tell(f"{place}.like", words, like)
        return
    row = (joint_row if key == "joint" else material_row)(place, entry, known.get(like), reading)
    for word in ("note", "outgassing", "title" if key == "joint" else "name"):
        if word in entry and not line(entry[word]):
            reading.tell(f"{place}.{word}", "must be one line of text", entry[word])
    span = entry.get("temperature_range_k", [200.0, 300.0])
    if not (isinstance(span, list) and len(span) == 2 and all(plain(v) for v in span) and 0.0 < span[0] < span[1]):
        reading.tell(f"{place}.temperature_range_k", "must be [lowest, highest] in kelvin", span)
    if len(reading.faults) == before and key == "joint":
        try:
            joint_of(row)
        except (ValueError, ArithmeticError) as error:
            reading.tell(place, f"cannot be built: {error}")
    if len(reading.faults) == before:
        reading.rows[key][name] = row
