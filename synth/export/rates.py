"""Amounts and rates of a comparison as engineers read them: grams a litre, micrometres a centimetre."""

from collections.abc import Mapping
from typing import Any

from synth.core.units import show
from synth.export.engineering import shown

_FINER = {"l": ("cm^3", 1e3), "kg": ("g", 1e3), "um": ("nm", 1e3), "mm": ("um", 1e3)}
_RESOURCES = {"m^3": ("l", 1e3), "m": ("cm", 1e2), "kg": ("kg", 1.0), "m^2": ("dm^2", 1e2), "rad": ("urad", 1e6)}
_NAMES = {
    "envelope.volume": "envelope volume",
    "envelope.side": "envelope side",
    "envelope.diameter": "envelope diameter",
    "envelope.height": "envelope height",
}


def resource_name(resource: str) -> str:
    """A resource in words: an envelope dimension, a metric, or the field of a limit as it stands in the file."""
    return _NAMES.get(resource) or (resource if "." in resource else shown(resource).title)


def resource_unit(resource: str, unit: str) -> tuple[str, float]:
    """Unit in which one spends a resource and how many make one SI unit: litres, centimetres, kilograms; small lengths
    (errors) in micrometres; a plain number is "one"."""
    if unit == "m" and "rms" in resource:
        return "um", 1e6
    return _RESOURCES.get(unit, ("one" if unit in ("", "1") else unit, 1.0))


def amount(value: float, resource: str, unit: str) -> str:
    """An amount of a resource with its unit."""
    name, scale = resource_unit(resource, unit)
    return f"{value * scale:.4g} {name}".removesuffix(" one")


def rate(value: float, metric: str, resource: str, unit: str) -> str:
    """Rate with its unit, "51.9 g/l": how much of the metric one unit of the resource buys."""
    of = shown(metric)
    name, scale = resource_unit(resource, unit)
    number, told = value * of.scale / scale, of.unit or "one"
    if told in _FINER and 0.0 < abs(number) < 0.1:
        told, number = _FINER[told][0], number * _FINER[told][1]
    digits = f"{number:.3g}"
    if "e" in digits:
        digits = f"{float(digits):.6g}"
    return f"{digits} {told}/{name}".replace("one/one", "each").replace("one/", "/")


def given_text(given: Any) -> str:
    """Under which condition the least of an objective is told."""
    if given is None:
        return "anywhere on the front"
    if given == "knee":
        return "all else as at the knee, or better"
    metric, value = given
    sign = "at least" if metric in ("collecting_area_m2", "first_mode_hz") else "at most"
    return f"{shown(metric).title} {sign} {shown(metric).text(value)}"


def tabled(metric: str, value: float, objectives: Mapping[str, Mapping[str, Any]]) -> str:
    """A minimised value as people read it: a maximised objective with its own sign again."""
    sign = objectives[metric]["sign"] if metric in objectives else 1
    return shown(metric).text(sign * value)


def field_value(value: Any, unit: str) -> str:
    """A value of the problem file as text."""
    if value is None:
        return "not asked"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float) and unit:
        return show(float(value), unit)
    if isinstance(value, list | tuple):
        return ", ".join(str(v) for v in value) or "none"
    if isinstance(value, Mapping):
        return ", ".join(f"{k}: {field_value(v, '')}" for k, v in value.items()) or "none"
    return str(value)


def entry_size(entry: Mapping[str, Any]) -> str:
    """Outside of an envelope in millimetres."""
    x, y, z = (1e3 * v for v in entry["outside_m"])
    return f"{x:.4g} x {y:.4g} x {z:.4g} mm" if entry["kind"] == "box" else f"diameter {x:.4g}, height {z:.4g} mm"
