"""The mass of a record with growth, by what the parts are."""

import math
from collections.abc import Mapping
from typing import Any

from synth.mass.rollup import HARNESS
from synth.problem.growth import Growth
from synth.record.file import tidy

LISTS = ("panels", "hinges", "latches", "mount", "fittings", "drives", "harness", "restraints")


def parts(record: Mapping[str, Any]) -> dict[str, float]:
    """Basic mass by kind of part, kg; the harness is told apart from the other drives by its name."""
    found = {name: [record["mount"]] if name == "mount" else record.get(name, []) for name in LISTS}
    wires = [d for d in record["drives"] if HARNESS in d["name"]]
    found |= {"harness": wires, "drives": [d for d in record["drives"] if HARNESS not in d["name"]]}
    return {name: math.fsum(float(x["mass_kg"]) for x in found[name]) for name in LISTS}


def mass_growth(record: Mapping[str, Any], growth: Growth, panels: float) -> list[dict[str, Any]]:
    """Rows of the mass budget: part, basic_kg, class and maturity of its growth, share, mass_kg.

    panels: the share that panels grow by.
    """
    rows = []
    for name, basic in parts(record).items():
        share = {"panels": panels, "harness": growth.wiring}.get(name, growth.structures)
        kind = "wiring" if name == "harness" else "structures"
        if name == "panels" and growth.maturity and panels == growth.composites != growth.structures:
            kind = "composites"
        rows.append({"part": name, "basic_kg": tidy(basic), "class": kind if growth.maturity else "all",
                     "maturity": growth.maturity or "one allowance", "growth": tidy(share),
                     "mass_kg": tidy(basic * (1.0 + share))})  # fmt: skip
    return rows
