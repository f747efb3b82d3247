"""Mass of a record: the sum of its parts, and the growth of each kind of part."""

import math
from collections.abc import Mapping
from typing import Any

from synth.recheck.asked import Asked
from synth.recheck.finding import Notes

MASS = 1e-9
GROWN = {
    "estimated": {"structures": 0.18, "composites": 0.24, "wiring": 0.50},
    "layout": {"structures": 0.15, "composites": 0.19, "wiring": 0.30},
    "pre_release": {"structures": 0.08, "composites": 0.13, "wiring": 0.25},
    "released": {"structures": 0.04, "composites": 0.06, "wiring": 0.05},
    "existing": {"structures": 0.02, "composites": 0.03, "wiring": 0.03},
    "actual": {"structures": 0.0, "composites": 0.0, "wiring": 0.0},
}
"""Growth by maturity and class, as the docs state it."""


def basic_masses(record: Mapping[str, Any]) -> dict[str, float]:
    """Basic mass by kind of part, kg."""
    lists = {name: record[name] for name in ("panels", "hinges", "latches", "fittings", "restraints")}
    lists["mount"] = [record["mount"]]
    lists["harness"] = [d for d in record["drives"] if "harness" in str(d["name"])]
    lists["drives"] = [d for d in record["drives"] if "harness" not in str(d["name"])]
    return {name: math.fsum(float(x["mass_kg"]) for x in found) for name, found in lists.items()}


def check_mass(record: Mapping[str, Any], asked: Asked | None, notes: Notes) -> None:
    """Basic mass is the sum of parts; mass adds the growth of every kind of part."""
    found, metrics = basic_masses(record), record["metrics"]
    total = math.fsum(found.values())
    near = MASS * max(1.0, total)
    notes.near("mass", "basic_mass_kg against the sum of parts", total, metrics["basic_mass_kg"], near)
    rows = record.get("mass_growth")
    if rows is None:
        if asked and asked.maturity is None:
            notes.near("mass", "mass_kg with growth", total * (1.0 + asked.growth), metrics["mass_kg"], 2.0 * near)
        return
    told = {row["part"]: row for row in rows}
    notes.true(set(told) == set(found), "mass", "parts of mass_growth", sorted(found), sorted(told))
    for name in sorted(set(told) & set(found)):
        row = told[name]
        notes.near("mass", f"basic mass of {name}", found[name], float(row["basic_kg"]), near)
        notes.near("mass", f"growth of {name}", found[name] * (1.0 + row["growth"]), float(row["mass_kg"]), near)
        if asked:
            _share(record, name, row, asked, notes)
    grown = math.fsum(float(row["mass_kg"]) for row in rows)
    notes.near("mass", "mass_kg with growth", grown, metrics["mass_kg"], 2.0 * near)


def _share(record: Mapping[str, Any], name: str, row: Mapping[str, Any], asked: Asked, notes: Notes) -> None:
    """The share of a kind of part is the problem's. Which solid materials are composites a record does not say."""
    if asked.maturity is None:
        notes.near("mass", f"growth share of {name}", asked.growth, float(row["growth"]), 1e-9)
        return
    table = GROWN[asked.maturity]
    kinds = {"harness": ("wiring",), "panels": ("composites", "structures")}.get(name, ("structures",))
    if name == "panels" and any(p["section"] == "sandwich" for p in record["panels"]):
        kinds = ("composites",)
    allowed = [table[k] for k in kinds]
    right = any(abs(float(row["growth"]) - a) <= 1e-9 for a in allowed)
    notes.true(right, "mass", f"growth share of {name}", allowed, row["growth"])
