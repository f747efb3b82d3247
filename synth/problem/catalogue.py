"""Catalogues of materials, cores, envelopes and joints: read from TOML, each value with its source and flag."""

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from functools import cache, cached_property
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
    "measured": "measured on the part or a prototype; the source says how",
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


@dataclass(frozen=True)
class Catalogue:
    """Materials and joints to choose from: rows as they stand in the files, and what they make.

    own: "material ID" or "joint ID" -> "added" or "overrides", of entries that a problem brings itself; empty for the
    catalogue as shipped.
    """

    material_rows: tuple[Row, ...]
    joint_rows: tuple[Row, ...]
    own: Mapping[str, str] = field(default_factory=dict)

    @cached_property
    def materials(self) -> dict[str, Material]:
        """Every material by id. Strength: a stated design stress, else yield, else ultimate; film and spring stock
        too."""
        return {row["id"]: _material(row) for row in self.material_rows}

    @cached_property
    def joints(self) -> dict[str, JointKind]:
        """Every hinge, latch and mount by id, computed from its values by its kind's formulas.

        ValueError where an entry lacks a value, has one too many, or one that cannot be.
        """
        return {row["id"]: joint_of(row, f"joint {row['id']}" in self.own) for row in self.joint_rows}

    @cached_property
    def panel_materials(self) -> tuple[str, ...]:
        """Ids of the materials that panels are built of unless the problem says otherwise."""
        return tuple(row["id"] for row in self.material_rows if row["use"] == "panel")

    @cached_property
    def named_materials(self) -> tuple[str, ...]:
        """Ids of all materials that a problem may name for panels: those offered, and those for prototypes."""
        return tuple(row["id"] for row in self.material_rows if row["use"] in ("panel", "prototype"))

    def of_role(self, role: str) -> tuple[str, ...]:
        """Ids of the joints of one role ("hinge", "latch", "mount", "membrane") that a design may use, in order."""
        return self._roles.get(role, ())

    @cached_property
    def _roles(self) -> dict[str, tuple[str, ...]]:
        found: dict[str, tuple[str, ...]] = {}
        for name, joint in self.joints.items():
            if not joint.model.moving_axis:
                found[joint.role] = (*found.get(joint.role, ()), name)
        return found

    def __reduce__(self) -> tuple[Any, ...]:
        """To another process goes no more than what a problem brings; the shipped catalogue is there already."""
        return (Catalogue, (self.material_rows, self.joint_rows, self.own)) if self.own else (shipped, ())

    def own_entries(self) -> list[dict[str, Any]]:
        """Entries that a problem brings itself, for every output: what ("material" or "joint"), id, how ("added" or
        "overrides"), and the values that differ from those of the shipped entry that it overrides or is like:
        key -> value, flag, source."""
        found = []
        for name, how in self.own.items():
            what, one = name.split(" ", 1)
            mine = {r["id"]: r for r in self._rows(what)}[one]
            old = {r["id"]: r for r in shipped()._rows(what)}.get(mine.get("like", one), {})
            told = _joint_values if what == "joint" else _material_values
            new, before = told(mine), told(old)
            changed = {k: v for k, v in new.items() if before.get(k) != v}
            like = {"like": mine["like"]} if "like" in mine else {}
            found.append({"what": what, "id": one, "how": how, **like, "values": changed})
        return found

    def _rows(self, what: str) -> tuple[Row, ...]:
        return self.joint_rows if what == "joint" else self.material_rows


def _joint_values(row: Row) -> dict[str, Any]:
    return {**row.get("values", {}), **row.get("measured", {})}


def _material_values(row: Row) -> dict[str, Any]:
    sources = row.get("sources", {})
    flags = {key: flag for flag in FLAGS for key in row.get(f"{flag}_keys", ())}
    return {
        key: {"value": row[key], "flag": flag, "source": sources.get(key, row.get("source", ""))}
        for key, flag in flags.items()
    }


@cache
def shipped() -> Catalogue:
    """The catalogue that comes with the program."""
    return Catalogue(rows("materials"), rows("joints"))


def materials() -> dict[str, Material]:
    """Every shipped material by id."""
    return shipped().materials


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


def panel_materials() -> tuple[str, ...]:
    """Ids of the shipped materials that panels are built of."""
    return shipped().panel_materials


def named_materials() -> tuple[str, ...]:
    """Ids of the shipped materials that a problem may name for panels."""
    return shipped().named_materials


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


def joints() -> dict[str, JointKind]:
    """Every shipped hinge, latch and mount by id."""
    return shipped().joints


def joint_of(row: Row, own: bool = False) -> JointKind:
    """The joint of one catalogue entry (id, kind, title, note, values: key -> value, flag, source; measured: key of
    MEASURED -> the same, in place of what the formulas make)."""
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
    made: JointKind = kind(**given).joint(row["id"], row["title"], row.get("note", ""), own)
    measured = {key: v["value"] for key, v in row.get("measured", {}).items()}
    if GROWTH in measured:
        made = replace(made, cte=float(measured.pop(GROWTH)))
    return made.as_measured(**{MEASURED[key]: value for key, value in measured.items()}) if measured else made


GROWTH = "cte_per_k"
"""Growth of what lies between the two feet of a unit; giving it leaves the flexures to be sized."""
MEASURED = {
    "stiffness_n_m": "push",
    "stiffness_n_m_rad": "turn",
    "misfit_m": "shift",
    "misfit_rad": "tilt",
    "unit_mass_kg": "mass",
    GROWTH: "cte",
}
"""What may be measured on a unit as built and latched, by its key in a file: three numbers each (along the edge, across
it, z), the mass and the growth a kelvin."""


def of_role(role: str) -> tuple[str, ...]:
    """Ids of the shipped joints of one role ("hinge", "latch", "mount", "membrane") that a design may use, in order."""
    return shipped().of_role(role)
