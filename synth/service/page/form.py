"""A problem file as a form: the main numbers as they are written, changed in the text itself so that comments stay."""

import tomllib
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import tomlkit
from tomlkit.exceptions import TOMLKitError

import problems
from synth.core.errors import InputError
from synth.families import families
from synth.problem.catalogue import envelopes
from synth.problem.objective import OBJECTIVES

_SHIPPED = Path(problems.__file__).parent
_ROOM = ("name", "size", "diameter", "height", "preset", "clearance")
MOST_ENVELOPES = 50


@dataclass(frozen=True)
class Field:
    """One entry of the form. unit: of a bare number; kind: quantity, number, count, flag, or word to choose.
    default: what holds where nothing is given; empty: then it is not asked."""

    field: str
    label: str
    unit: str = ""
    kind: str = "quantity"
    about: str = ""
    default: str = ""
    words: tuple[str, ...] = ()


FIELDS: tuple[tuple[str, tuple[Field, ...]], ...] = (
    ("Aperture", (
        Field("aperture.clear_diameter", "Clear diameter", "m", about="circle whose light is collected"),
        Field("aperture.min_collecting_area", "Least collecting area", "m²", about="gaps and shadows taken off"),
        Field("aperture.optic", "Optic", kind="word", words=("reflective", "transmissive")),
        Field("aperture.focal_ratio", "Focal ratio", kind="number", about="focal length over clear diameter"),
        Field("aperture.field_of_view", "Field of view", "rad", about="full angle of the receiver"),
        Field("aperture.min_panel_width", "Least panel width", "m"),
        Field("aperture.max_panel_length", "Longest panel", "m", about="the largest blank"),
    )),
    ("Mass", (
        Field("mass.limit", "Limit", "kg", about="with growth"),
        Field("mass.growth_allowance", "Growth allowance", kind="number", about="share of basic mass", default="0.2"),
    )),
    ("Accuracy", (
        Field("accuracy.surface_rms_limit", "Surface error rms", "m"),
        Field("accuracy.in_plane_rms_limit", "In-plane error rms", "m"),
        Field("accuracy.blur_limit", "Blur", "rad"),
        Field("accuracy.refocus", "Refocus: best paraboloid removed", kind="flag"),
    )),
    ("Environment", (
        Field("environment.bulk_temperature_change", "Bulk temperature change", "K", default="0 K"),
        Field("environment.through_thickness_difference", "Front warmer than back", "K", default="0 K"),
        Field("environment.gravity_offload", "Gravity offload on ground", kind="number", default="1",
              about="share of the weight"),
    )),
    ("Structure", (
        Field("structure.deployed_first_mode_min", "First mode, deployed", "Hz", about="at least"),
        Field("structure.stowed_first_mode_min", "First mode, stowed", "Hz", about="at least"),
        Field("structure.launch_load_g", "Launch load", kind="number", about="standard gravities"),
        Field("structure.panel_gap", "Gap between stowed panels", "m", default="0.5 mm"),
        Field("structure.edge_gap", "Gap between deployed edges", "m", default="1 mm"),
    )),
    ("Search", (
        Field("search.evaluations", "Candidates for each envelope", kind="count", default="20000"),
        Field("search.seed", "Seed", kind="count", default="1"),
        Field("choices.max_panels", "Most panels", kind="count", default="61"),
    )),
)  # fmt: skip


def vocabulary_of_form() -> dict[str, Any]:
    """What the form is built of: groups of fields, objectives, families, envelope presets, shipped problems."""
    return {
        "groups": [{"title": title, "fields": [asdict(f) for f in fields]} for title, fields in FIELDS],
        "objectives": [{"name": o.name, "better": "least" if o.sign > 0 else "greatest"} for o in OBJECTIVES.values()],
        "families": list(families()),
        "presets": list(envelopes()),
        "shipped": shipped(),
    }


def shipped() -> list[dict[str, str]]:
    """Problems that come with the program: name, title, text."""
    found = []
    for file in sorted(_SHIPPED.glob("*.toml")):
        text = file.read_text(encoding="utf-8")
        found.append({"name": file.stem, "title": str(tomllib.loads(text)["title"]), "text": text})
    return found


def form_of(text: str) -> dict[str, Any] | None:
    """The form's values as they are written (empty where not given), or None where the text is no TOML."""
    try:
        raw = tomllib.loads(text)
    except (ValueError, RecursionError):
        return None
    fields = [f.field for _, group in FIELDS for f in group]
    rooms = raw.get("envelope", [])
    rooms = [r for r in rooms if isinstance(r, dict)] if isinstance(rooms, list) else []
    return {
        "title": _plain(raw.get("title", "")),
        "values": {name: _plain(_under(raw, name)) for name in fields},
        "envelopes": [{k: _plain(r.get(k, "")) for k in _ROOM} for r in rooms],
        "objectives": _names(_under(raw, "search.objectives")),
        "families": _names(_under(raw, "choices.families")),
    }


def edited(text: str, changes: Mapping[str, Any]) -> str:
    """The text with fields changed: dotted name to the new value as written, None or "" to leave it out. Envelopes:
    "envelope[0].size[2]"; "envelope" with "+" adds one, "envelope[0]" with None takes one away.

    Raises InputError where the text is no TOML or a name is none of the form's.
    """
    try:
        document = tomlkit.parse(text)
    except (TOMLKitError, ValueError, RecursionError) as fault:
        raise InputError(f"problem: is not TOML: {fault}") from None
    kinds = {f.field: f.kind for _, group in FIELDS for f in group}
    for name, value in changes.items():
        if name.startswith("envelope"):
            _edit_room(document, name, value)
        elif name == "title":
            document["title"] = str(value)
        elif name in ("search.objectives", "choices.families"):
            _put(document, name, [str(v) for v in value] or None)
        elif name in kinds:
            _put(document, name, written(value, kinds[name]))
        else:
            raise InputError(f"problem: the form has no field '{name[:80]}'")
    return tomlkit.dumps(document)


def written(value: Any, kind: str) -> Any:
    """What a person typed as TOML has it: a bare number as a number, all else as text; None for nothing."""
    if kind == "flag":
        return bool(value)
    text = str(value if value is not None else "").strip()
    if not text or kind == "word":
        return text or None
    try:
        number = float(text)
    except ValueError:
        return text
    whole = text.lstrip("+-").isdigit()
    return int(text) if whole and len(text) < 20 else number


def _under(raw: Mapping[str, Any], name: str) -> Any:
    section, field = name.split(".")
    table = raw.get(section, {})
    return table.get(field, "") if isinstance(table, dict) else ""


def _plain(value: Any) -> Any:
    if isinstance(value, list):
        return [_plain(v) for v in value]
    return value if isinstance(value, bool) else str(value)


def _names(value: Any) -> list[str]:
    return [str(v) for v in value] if isinstance(value, list) else []


def _put(document: Any, name: str, value: Any) -> None:
    section, field = name.split(".")
    if section not in document:
        if value is None:
            return
        document.append(section, tomlkit.table())
    table = document[section]
    if value is None:
        table.pop(field, None)
    else:
        table[field] = value


def _edit_room(document: Any, name: str, value: Any) -> None:
    """One envelope added, taken away, or one field of it changed."""
    rooms = document.get("envelope")
    if name == "envelope":
        if rooms is None:
            rooms = tomlkit.aot()
            document.append("envelope", rooms)
        if len(rooms) < MOST_ENVELOPES:
            rooms.append(_new_room([str(r.get("name", "")) for r in rooms]))
        return
    head, _, field = name.partition(".")
    place = int(head[9:-1]) if head[9:-1].isdigit() else -1
    part, _, side = field.partition("[")
    if rooms is None or not 0 <= place < len(rooms) or (field and part not in (*_ROOM, "shape")):
        raise InputError(f"problem: the form has no field '{name[:80]}'")
    if not field:
        if value is None:
            rooms.pop(place)
    elif part == "shape":
        _reshape(rooms[place], str(value))
    elif side:
        rooms[place]["size"][int(side[:1]) % 3] = written(value, "quantity") or ""
    elif (new := written(value, "word" if part in ("name", "preset") else "quantity")) is None:
        rooms[place].pop(part, None)
    else:
        rooms[place][part] = new


def _new_room(known: list[str]) -> Any:
    room = tomlkit.table()
    room["name"] = next(n for n in (f"room_{k}" for k in range(1, MOST_ENVELOPES + 2)) if n not in known)
    room["size"] = ["400 mm", "300 mm", "200 mm"]
    room["clearance"] = "5 mm"
    room.add(tomlkit.nl())
    return room


def _reshape(room: Any, shape: str) -> None:
    """A box, a round room or a preset, with sizes to begin with."""
    for key in ("size", "diameter", "height", "preset"):
        room.pop(key, None)
    if shape == "round":
        room["diameter"], room["height"] = "300 mm", "300 mm"
    elif shape == "preset":
        room["preset"] = next(iter(envelopes()))
    else:
        room["size"] = ["400 mm", "300 mm", "200 mm"]
