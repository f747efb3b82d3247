"""Catalogues of materials, cores, envelopes and joints: read from TOML, each value with its source and flag."""

import tomllib
from dataclasses import asdict, dataclass
from functools import cache
from importlib import resources
from typing import Any

from synth.core.material import Core, Material
from synth.hinges import all_kinds
from synth.hinges.kind import JointKind

Row = dict[str, Any]

FLAGS = {
    "seen": "read in the source named",
    "derived": "computed",
    "memory": "recalled, not found in a source",
    "chosen": "a size of the part as drawn, or a value picked in a range whose source is named",
    "mixed": "some seen, some recalled; the source says which",
}


@dataclass(frozen=True)
class Preset:
    """An envelope that a problem file may name: kind "box" with size (m), or "round" with diameter and height (m)."""

    id: str
    name: str
    kind: str
    size: tuple[float, ...]


@cache
def rows(name: str) -> tuple[Row, ...]:
    """Entries of problems/catalogue/<name>.toml as they stand in the file."""
    text = resources.files("problems").joinpath("catalogue", f"{name}.toml").read_text(encoding="utf-8")
    loaded = tomllib.loads(text)
    (key,) = [k for k in loaded if k != "schema"]
    return tuple(loaded[key])


@cache
def materials() -> dict[str, Material]:
    """Every material by id. Strength: a stated design stress, else yield, else ultimate; film and spring stock too."""
    return {row["id"]: _material(row) for row in rows("materials")}


def _material(row: Row) -> Material:
    return Material(
        id=row["id"],
        name=row["name"],
        kind=row["family"],
        density=row["density_kg_m3"],
        youngs_modulus=row["youngs_modulus_pa"],
        poisson_ratio=row["poisson_ratio"],
        cte=row["cte_per_k"],
        conductivity=row["thermal_conductivity_w_m_k"],
        strength=row["strength_pa"],
        strength_kind=row["strength_kind"],
        transmits=row["transmits"],
    )


@cache
def panel_materials() -> tuple[str, ...]:
    """Ids of the materials that panels are built of unless the problem says otherwise."""
    return tuple(row["id"] for row in rows("materials") if row["use"] == "panel")


@cache
def named_materials() -> tuple[str, ...]:
    """Ids of all materials that a problem may name for panels: those offered, and those for prototypes."""
    return tuple(row["id"] for row in rows("materials") if row["use"] in ("panel", "prototype"))


@cache
def cores() -> dict[str, Core]:
    """Sandwich cores by id, each with the lesser of its two shear moduli and strengths."""
    return {
        row["id"]: Core(
            id=row["id"],
            name=row["name"],
            density=row["density_kg_m3"],
            shear_modulus=min(row["shear_modulus_l_pa"], row["shear_modulus_w_pa"]),
            shear_strength=min(row["shear_strength_l_pa"], row["shear_strength_w_pa"]),
            conductivity=row["thermal_conductivity_z_w_m_k"],
        )
        for row in rows("cores")
    }


@cache
def envelopes() -> dict[str, Preset]:
    """Presets by id: the boxes and cylinders of the catalogue."""
    found = [
        Preset(row["id"], row["name"], "box", tuple(row["size_m"]))
        if row["kind"] == "box"
        else Preset(row["id"], row["name"], "round", (row["diameter_m"], row["height_m"]))
        for row in rows("envelopes")
        if row["kind"] in ("box", "cylinder")
    ]
    return {preset.id: preset for preset in found}


@cache
def joints() -> dict[str, JointKind]:
    """Every hinge, latch and mount of the catalogue by id, computed from its values by its kind's formulas.

    ValueError where an entry lacks a value, has one too many, or one that cannot be.
    """
    return {row["id"]: joint_of(row) for row in rows("joints")}


def joint_of(row: Row) -> JointKind:
    """The joint of one catalogue entry (id, kind, title, note, values: key -> value, flag, source)."""
    kind = all_kinds().get(row["kind"])
    if kind is None:
        raise ValueError(f"joint {row['id']}: unknown kind '{row['kind']}', known: {', '.join(all_kinds())}")
    keys, values = kind.keys(), row["values"]
    if set(keys) != set(values):
        raise ValueError(f"joint {row['id']}: values {sorted(set(keys) ^ set(values))} are missing or not of its kind")
    given = {field: float(values[key]["value"]) for key, field in keys.items()}
    for name, parameter in kind.parameters().items():
        if not (given[name] > 0.0 or (parameter.zero and given[name] == 0.0)):
            raise ValueError(f"joint {row['id']}: {name} must be above zero, it is {given[name]}")
    made: JointKind = kind(**given).joint(row["id"], row["title"], row.get("note", ""))
    return made


@cache
def of_role(role: str) -> tuple[str, ...]:
    """Ids of the joints of one role ("hinge", "latch", "mount") that a design may use, in catalogue order."""
    return tuple(name for name, joint in joints().items() if joint.role == role and not joint.model.moving_axis)


@dataclass(frozen=True)
class Value:
    """One catalogue value as listed: the key says the unit; flag is a key of FLAGS."""

    key: str
    value: Any
    flag: str
    source: str


@dataclass(frozen=True)
class Entry:
    """One catalogue entry as listed: what it may be used for, its values, a note."""

    id: str
    name: str
    use: str
    values: tuple[Value, ...]
    note: str


LISTS = ("materials", "envelopes", "hinges")
"""What catalogue_text and catalogue_json know; the cores are listed with the materials, the other
joints with the hinges."""

_WORDS = frozenset({"id", "name", "family", "use", "kind", "source", "checked", "where", "note", "strength_kind"})
_USES = {
    "panel": "for panels",
    "prototype": "for panels where a problem names it",
    "spring": "stock for hinges",
    "box": "preset, box",
    "cylinder": "preset, round",
    "plate": "data only: an interface without a volume",
    "linear_sum": "data only: a limit on length + width + height",
}


def entries(kind: str) -> tuple[Entry, ...]:
    """Entries of one of LISTS in file order, every value with flag and source."""
    if kind == "hinges":
        return tuple(_joint_entry(row) for row in rows("joints"))
    found = [_entry(row) for row in rows(kind)]
    return tuple(found + [_entry(row) for row in rows("cores")] if kind == "materials" else found)


def _entry(row: Row) -> Entry:
    source = "; ".join(text for text in (row["source"], row["where"]) if text)
    values = tuple(
        Value(key, value, _flag(row, key), source)
        for key, value in row.items()
        if key not in _WORDS and not key.endswith("_keys")
    )
    use = _USES.get(str(row.get("use", row.get("kind"))), "sandwich core")
    return Entry(row["id"], row["name"], use, values, row.get("note", ""))


def _flag(row: Row, key: str) -> str:
    """The flag of one value: by the key lists where the entry has them, else the entry's own."""
    for flag in ("seen", "memory", "derived"):
        if key in row.get(f"{flag}_keys", ()):
            return flag
    return str(row["checked"])


def _joint_entry(row: Row) -> Entry:
    joint = joints()[row["id"]]
    values = [Value(key, v["value"], v["flag"], v["source"]) for key, v in row["values"].items()]
    formula = f"formulas of {row['kind']}"
    made = {
        "stiffness_n_m": joint.stiffness[:3],
        "stiffness_n_m_rad": joint.stiffness[3:],
        "misfit_m": joint.sigma[:3],
        "misfit_rad": joint.sigma[3:],
        "unit_mass_kg": joint.mass,
        "least_gap_needed_m": joint.least_gap,
        "turns_up_to_rad": joint.largest_angle,
    }
    values += [Value(k, list(v) if isinstance(v, tuple) else v, "derived", formula) for k, v in made.items()]
    return Entry(row["id"], row["title"], f"{joint.role}, {row['kind']}", tuple(values), joint.note)


def catalogue_json(kind: str) -> dict[str, Any]:
    """The entries of one of LISTS as plain data for JSON."""
    listed = [asdict(entry) for entry in entries(kind)]
    return {"schema": "catalogue/1", "kind": kind, "flags": FLAGS, "entries": listed}


def catalogue_text(kind: str) -> str:
    """The entries of one of LISTS as text: a line a value with its flag; a source once where it stays the same."""
    lines: list[str] = []
    for entry in entries(kind):
        lines += ["", f"{entry.id}: {entry.name} ({entry.use})"]
        last = ""
        for v in entry.values:
            source = v.source if v.source != last else ""
            last = v.source
            lines.append(f"    {v.key:<30} {_number(v.value):<34} {v.flag:<8} {source}".rstrip())
        if entry.note:
            lines.append(f"    note: {entry.note}")
    flags = "; ".join(f"{flag}: {meaning}" for flag, meaning in FLAGS.items())
    return "\n".join([f"{kind}, SI, typical values and no design allowables. {flags}.", *lines])


def _number(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return ", ".join(_number(v) for v in value)
    return f"{value:.5g}" if isinstance(value, float) else str(value)
