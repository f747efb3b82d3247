"""A material that a problem brings itself."""

from collections.abc import Mapping
from typing import Any

from synth.problem.catalogue import FLAGS, Row, shipped
from synth.problem.faults import given_name
from synth.problem.own_reading import Reading, plain, unknown

WORDS = (
    "id", "like", "name", "family", "use", "strength_kind", "transmits", "note", "source", "flag",
    "temperature_range_k", "outgassing",
)  # fmt: skip
NEEDED = {
    "density_kg_m3": "kg/m^3",
    "youngs_modulus_pa": "Pa",
    "poisson_ratio": "1",
    "cte_per_k": "1/K",
    "thermal_conductivity_w_m_k": "W/m/K",
    "strength_pa": "Pa",
}
"""What every material must have, with its unit; the other numbers of the catalogue may stand beside them."""
_FRESH = {"use": "panel", "transmits": False, "strength_kind": "yield", "where": ""}


def material_row(place: str, entry: Mapping[str, Any], base: Row | None, reading: Reading) -> Row:
    """The row of a material: the values given, and those of the entry that it overrides or is like."""
    shelf = shipped().material_rows
    numbers = sorted({key for row in shelf for key, v in row.items() if plain(v)})
    allowed = [*WORDS, *numbers]
    reading.faults += [unknown(f"{place}.{given_name(k)}", k, allowed, v) for k, v in entry.items() if k not in allowed]
    _words(place, entry, sorted({row["family"] for row in shelf}), reading)
    new: dict[str, Any] = {}
    for key in (k for k in numbers if k in entry):
        unit = NEEDED.get(key, "Pa" if key.endswith("_pa") else "SI")
        new[key] = reading.number(f"{place}.{key}", entry[key], unit, any_sign=key == "cte_per_k")
    if not 0.0 < new.get("poisson_ratio", 0.3) < 0.5:
        reading.tell(f"{place}.poisson_ratio", "must lie between 0 and 0.5", entry["poisson_ratio"])
    flag, source = entry.get("flag", "measured"), entry.get("source")
    told = {k: entry[k] for k in WORDS if k in entry and k not in ("source", "flag")}
    row: Row = {**(base or {**_FRESH, "source": source, "checked": flag}), **told, **new}
    row.setdefault("name", entry["id"])
    lost = [key for key in ("family", *NEEDED) if key not in row]
    if lost:
        reading.tell(place, f"lacks {', '.join(lost)}; give them, or like = an id of the catalogue to start from")
    fresh = [*new, *(["transmits"] if "transmits" in told else [])]
    for word in FLAGS:
        kept = [key for key in row.get(f"{word}_keys", ()) if key not in fresh]
        row[f"{word}_keys"] = [*kept, *fresh] if word == flag else kept
    row["sources"] = {**row.get("sources", {}), **dict.fromkeys(fresh, source)}
    return row


def _words(place: str, entry: Mapping[str, Any], families: list[str], reading: Reading) -> None:
    options = {"family": families, "use": ["panel", "prototype", "spring"]}
    options["strength_kind"] = ["yield", "ultimate", "design stress"]
    for key, words in options.items():
        if key in entry:
            reading.one_of(f"{place}.{key}", entry[key], words)
    if not isinstance(entry.get("transmits", False), bool):
        reading.tell(f"{place}.transmits", "must be true or false", entry["transmits"])
    reading.source(place, entry.get("source"))
    reading.flag(place, entry.get("flag", "measured"))
