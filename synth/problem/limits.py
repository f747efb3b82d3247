"""The scalar limits of a problem file: their fields, units, and which way each one admits more."""

from collections.abc import Mapping
from functools import cache
from typing import Any

from synth.problem.problem import Problem
from synth.problem.sections import Accuracy, Aperture, Environment, MassLimit, Section, Structure

_SECTIONS: Mapping[str, type[Section]] = {
    "aperture": Aperture,
    "mass": MassLimit,
    "accuracy": Accuracy,
    "environment": Environment,
    "structure": Structure,
}

JUDGED: Mapping[str, int] = {
    "mass.limit": 1,
    "accuracy.surface_rms_limit": 1,
    "accuracy.in_plane_rms_limit": 1,
    "accuracy.blur_limit": 1,
    "aperture.min_collecting_area": -1,
    "aperture.min_panel_width": -1,
    "aperture.max_panel_length": 1,
    "structure.deployed_first_mode_min": -1,
    "structure.stowed_first_mode_min": -1,
    "structure.launch_contact_limit": 1,
    "structure.torque_ratio_min": -1,
}
"""Limits that only judge a candidate and enter no figure of it: 1 where a greater limit admits more, -1 where less."""


@cache
def limit_units() -> Mapping[str, str]:
    """Every scalar quantity of the sections by its dotted field, with its SI unit, in the order of the file."""
    found: dict[str, str] = {}
    for name, model in _SECTIONS.items():
        properties = model.model_json_schema(mode="validation")["properties"]
        for field, schema in properties.items():
            unit = _unit(schema)
            if unit is not None:
                found[f"{name}.{field}"] = unit
    return found


def _unit(schema: Any) -> str | None:
    """The unit that a field's schema tells, wherever its optional form hides it."""
    if not isinstance(schema, dict):
        return None
    if "unit" in schema:
        return str(schema["unit"])
    return next((u for u in map(_unit, schema.get("anyOf", ())) if u is not None), None)


def limit_value(problem: Problem, field: str) -> float | None:
    """The value of a scalar field in SI, None where it is not asked. KeyError for a field that is none."""
    if field not in limit_units():
        raise KeyError(field)
    section, name = field.split(".")
    value = getattr(getattr(problem, section), name)
    return None if value is None else float(value)
