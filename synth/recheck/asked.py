"""What the problem file asks, read anew: only the fields that a recheck needs, in SI."""

import math
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

_BASE = {
    "m": 1.0, "meter": 1.0, "metre": 1.0, "micron": 1e-6,
    "in": 0.0254, "inch": 0.0254, "inches": 0.0254, "ft": 0.3048, "foot": 0.3048, "feet": 0.3048,
    "g": 1e-3, "gram": 1e-3, "t": 1e3, "lb": 0.45359237, "pound": 0.45359237,
    "K": 1.0, "kelvin": 1.0, "delta_degC": 1.0, "Hz": 1.0, "hertz": 1.0,
    "rad": 1.0, "radian": 1.0, "deg": math.pi / 180.0, "degree": math.pi / 180.0,
    "arcmin": math.pi / 10800.0, "arcminute": math.pi / 10800.0,
    "arcsec": math.pi / 648000.0, "arcsecond": math.pi / 648000.0,
}  # fmt: skip
_PREFIX = {
    "": 1.0, "n": 1e-9, "u": 1e-6, "µ": 1e-6, "μ": 1e-6, "m": 1e-3, "c": 1e-2, "d": 0.1, "k": 1e3, "M": 1e6,
    "nano": 1e-9, "micro": 1e-6, "milli": 1e-3, "centi": 1e-2, "deci": 0.1, "kilo": 1e3, "mega": 1e6,
}  # fmt: skip
_QUANTITY = re.compile(r"\s*([-+]?(?:\d+\.?\d*|\.\d+)(?:[eE][-+]?\d+)?)\s*(.*?)\s*")
_POWER = re.compile(r"(.*?)\s*(?:\^|\*\*)\s*(\d)")


class NotUnderstoodError(ValueError):
    """A field of the problem file is written in a way that this reader does not know (it may still be right)."""


def si(value: Any) -> float | None:
    """The SI number of a bare number or of a text such as "850 mm"; None where the text is not understood."""
    if isinstance(value, bool):
        return None
    if isinstance(value, int | float):
        return float(value)
    match = _QUANTITY.fullmatch(value) if isinstance(value, str) else None
    scale = _scale(match[2]) if match else None
    # fifteen digits: "700 mm" is 0.7 and not the nearest number to 700 times 0.001
    return float(f"{float(match[1]) * scale:.15g}") if match and scale is not None else None


def _scale(unit: str) -> float | None:
    """SI scale of a unit with a prefix and a power; None where it is not known."""
    if unit in ("", "1", "%"):
        return 0.01 if unit == "%" else 1.0
    raised = _POWER.fullmatch(unit.replace("²", "^2"))
    name, power = (raised[1], int(raised[2])) if raised else (unit, 1)
    for word in (name, name.removesuffix("s")):
        for base, scale in _BASE.items():
            if word.endswith(base) and word[: len(word) - len(base)] in _PREFIX:
                return float((_PREFIX[word[: len(word) - len(base)]] * scale) ** power)
    return None


@dataclass(frozen=True)
class Room:
    """An envelope: sides [x, y, z] left after the clearance; a round one has x = y = diameter. None: not known."""

    name: str
    round: bool
    allowed: tuple[float, float, float] | None


@dataclass(frozen=True)
class Asked:
    """SI values of the problem. limits: requirement name to limit, as far as the problem states them."""

    clear_diameter: float
    transmissive: bool = False
    focal_ratio: float | None = None
    growth: float = 0.2
    maturity: str | None = None
    refocus: bool = False
    gravity_release: float = 0.0
    panel_gap: float = 5e-4
    edge_gap: float = 1e-3
    max_panels: int | None = None
    limits: Mapping[str, float] = field(default_factory=dict)
    rooms: Mapping[str, Room] = field(default_factory=dict)
    keep_outs: tuple[tuple[str, tuple[float, ...], tuple[float, ...]], ...] = ()
    objectives: tuple[str, ...] = ()


LIMITS = (
    "aperture.min_collecting_area",
    "aperture.min_panel_width",
    "aperture.max_panel_length",
    "mass.limit",
    "accuracy.surface_rms_limit",
    "accuracy.in_plane_rms_limit",
    "accuracy.blur_limit",
    "aperture.field_of_view",
    "structure.deployed_first_mode_min",
    "structure.stowed_first_mode_min",
    "structure.launch_contact_limit",
    "structure.torque_ratio_min",
    "structure.panel_gap",
    "structure.edge_gap",
)
"""Requirements with one number in the problem file."""


def read_asked(path: Path, allowed: Mapping[str, Any] | None = None) -> Asked:
    """The problem file of a run folder. allowed: sides by envelope name, for envelopes given by preset.

    Raises NotUnderstoodError where a field that is needed is written in a way unknown here.
    """
    data = tomllib.loads(path.read_text(encoding="utf-8"))
    return asked_of(data, allowed)


def asked_of(data: Mapping[str, Any], allowed: Mapping[str, Any] | None = None) -> Asked:
    """The same from the parsed document."""

    def number(section: str, name: str, default: float) -> float:
        given = data.get(section, {}).get(name, default)
        found = si(given)
        if found is None:
            raise NotUnderstoodError(f"{section}.{name}: not understood: {given!r}")
        return found

    limits = {}
    for name in LIMITS:
        section, key = name.split(".")
        if key in data.get(section, {}):
            limits[name] = number(section, key, 0.0)
    if data["aperture"].get("optic") == "transmissive" and "focal_ratio" not in data["aperture"]:
        limits.pop("aperture.field_of_view", None)  # no focus, no blur
    # nothing can fail a gap of zero, so it is no requirement
    limits = {name: limit for name, limit in limits.items() if not name.endswith("_gap") or limit > 0.0}
    rooms = [_room(e, (allowed or {}).get(str(e.get("name")))) for e in data.get("envelope", [])]
    most = data.get("choices", {}).get("max_panels")
    return Asked(
        clear_diameter=number("aperture", "clear_diameter", float("nan")),
        transmissive=data["aperture"].get("optic", "reflective") == "transmissive",
        focal_ratio=number("aperture", "focal_ratio", 0.0) or None,
        growth=number("mass", "growth_allowance", 0.2),
        maturity=data.get("mass", {}).get("maturity"),
        refocus=bool(data.get("accuracy", {}).get("refocus", False)),
        gravity_release=1.0 - number("environment", "gravity_offload", 1.0),
        panel_gap=number("structure", "panel_gap", 5e-4),
        edge_gap=number("structure", "edge_gap", 1e-3),
        max_panels=int(most) if most is not None else None,
        limits=limits,
        rooms={room.name: room for room in rooms},
        keep_outs=tuple(_keep_out(k) for k in data.get("keep_out", [])),
        objectives=tuple(data.get("search", {}).get("objectives", [])),
    )


def _room(given: Mapping[str, Any], known: Any) -> Room:
    name = str(given.get("name", given.get("preset", "")))
    gap = 2.0 * (si(given.get("clearance", 0.0)) or 0.0)
    if "size" in given:
        sides = [si(v) for v in given["size"]]
        if len(sides) == 3 and None not in sides:
            x, y, z = (float(v) - gap for v in sides if v is not None)
            return Room(name, False, (x, y, z))
    d, h = si(given.get("diameter")), si(given.get("height"))
    if d is not None and h is not None:
        return Room(name, True, (d - gap, d - gap, h - gap))
    if known is not None:
        x, y, z = (float(v) for v in known["allowed_m"])
        return Room(name, known.get("kind") == "round", (x, y, z))
    return Room(name, False, None)


def _keep_out(given: Mapping[str, Any]) -> tuple[str, tuple[float, ...], tuple[float, ...]]:
    low, high = ([si(v) for v in given[k]] for k in ("min", "max"))
    if None in low or None in high:
        raise NotUnderstoodError(f"keep_out {given.get('name')!r}: not understood")
    return str(given.get("name", "")), tuple(v for v in low if v is not None), tuple(v for v in high if v is not None)
