"""Quantities as people write them ("850 mm", "5 um") turned into SI numbers, and back.

The unit that a field asks for is one of UNITS. A bare number is SI already. Only
`number unit` is read, never an expression, so that no text can make the reader compute.
"""

import math
import re
from functools import cache
from typing import Any

UNITS: dict[str, tuple[str, str]] = {
    "1": ("a plain number or a percentage", "0.2"),
    "m": ("a length", "850 mm"),
    "m^2": ("an area", "0.42 m^2"),
    "m^3": ("a volume", "30 l"),
    "kg": ("a mass", "14 kg"),
    "rad": ("an angle", "50 urad"),
    "Hz": ("a frequency", "60 Hz"),
    "K": ("a temperature difference", "20 K"),
    "Pa": ("a pressure", "70 GPa"),
    "N": ("a force", "20 N"),
    "N/m": ("a stiffness", "5 N/um"),
    "W/m^2": ("a heat flux", "100 W/m^2"),
    "W/m^2/K": ("a heat loss", "5 W/m^2/K"),
}
"""SI unit of a field -> what it is, and an example of how to write it."""

_TEXT = re.compile(r"([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d{1,4})?)\s*(.*)", re.ASCII)
_UNIT = re.compile(
    r"[A-Za-zµμ%][A-Za-zµμ_]*(?:\s*(?:\^|\*\*)\s*-?[1-4])?"
    r"(?:\s*[*/]\s*[A-Za-zµμ_]+(?:\s*(?:\^|\*\*)\s*-?[1-4])?)*"
)
_ANGLES = frozenset({"radian", "degree", "arcminute", "arcsecond"})
_LONGEST = 60


class QuantityError(ValueError):
    """The text or value is not a quantity of the unit asked; the message says what is allowed."""


def allowed(unit: str) -> str:
    """What a field of this unit takes, in words: 'a length such as "850 mm" (a bare number is in m)'."""
    what, example = UNITS[unit]
    if unit == "1":
        return what
    return f'{what} such as "{example}" (a bare number is in {unit})'


def to_si(given: Any, unit: str) -> float:
    """The SI value of a number or of a text 'number unit'.

    given: int, float or str. unit: a key of UNITS. The product of number and unit is
    rounded to 15 significant digits, so "700 mm" is exactly 0.7. Raises QuantityError
    for any other type (bool included), numbers that are not finite, text that is not a
    quantity, and units of another dimension. Temperature scales with an offset (degC)
    are refused, and so are turns a second for a frequency.
    """
    if isinstance(given, bool) or not isinstance(given, int | float | str):
        raise QuantityError(f"must be {allowed(unit)}")
    if isinstance(given, str):
        return _from_text(given, unit)
    try:
        value = float(given)
    except OverflowError:
        raise QuantityError(f"must be {allowed(unit)}; the number is too large") from None
    if not math.isfinite(value):
        raise QuantityError(f"must be a finite number: {allowed(unit)}")
    return value


def _from_text(text: str, unit: str) -> float:
    match = _TEXT.fullmatch(text.strip()) if len(text) <= _LONGEST else None
    if match is None:
        raise QuantityError(f"must be {allowed(unit)}")
    value = float(match[1])
    if match[2]:
        value = float(f"{value * _factor(match[2].strip(), unit):.15g}")
    if not math.isfinite(value):
        raise QuantityError(f"must be a finite number: {allowed(unit)}")
    return value


@cache
def _factor(text: str, unit: str) -> float:
    """SI units in one of the unit that the text names; checked for its dimension."""
    import pint

    plain = text.replace("²", "^2").replace("³", "^3")
    if not _UNIT.fullmatch(plain):
        raise QuantityError(f"must be {allowed(unit)}; '{text}' is not a unit")
    registry = _registry()
    try:
        parsed = registry.parse_units("percent" if plain == "%" else plain)
        found = registry.Quantity(1.0, parsed)
        factor = float(found.to(registry.parse_units("" if unit == "1" else unit)).magnitude)
    except pint.DimensionalityError:
        raise QuantityError(f"must be {allowed(unit)}; '{text}' is not a unit of {_noun(unit)}") from None
    except pint.OffsetUnitCalculusError:
        raise QuantityError(f"must be {allowed(unit)}; '{text}' is a scale with an offset") from None
    except (pint.UndefinedUnitError, pint.PintError, ValueError, TypeError, ArithmeticError, AttributeError):
        raise QuantityError(f"must be {allowed(unit)}; '{text}' is not a known unit") from None
    _refuse_traps(parsed, text, unit)
    return factor


def _refuse_traps(parsed: Any, text: str, unit: str) -> None:
    """Angles are dimensionless to pint, so that it takes rad/s for Hz, or mm/mm and % for an angle; it also takes
    degC for K. Those are refused."""
    names = [str(name) for name in parsed._units]
    angles = [n for n in names if any(n.endswith(a) for a in _ANGLES) or n in ("turn", "revolutions_per_minute")]
    if unit == "rad" and (len(names) != 1 or len(angles) != 1 or "turn" in names):
        raise QuantityError(f"must be {allowed(unit)}; '{text}' is not a unit of an angle")
    if unit == "1" and names not in ([], ["percent"]):
        raise QuantityError(f"must be {allowed(unit)}; '{text}' is a unit")
    if unit == "Hz" and not (len(names) == 1 and names[0].endswith("hertz")):
        raise QuantityError(f"must be {allowed(unit)}; '{text}' is not a unit of a frequency (turns are not cycles)")
    if unit == "K" and any("degree_" in n and not n.startswith("delta_") for n in names):
        raise QuantityError(f"must be {allowed(unit)}; '{text}' is a scale with an offset")


def _noun(unit: str) -> str:
    return UNITS[unit][0]


@cache
def _registry() -> Any:
    """The unit registry, built on first use (a third of a second) and kept."""
    import pint

    return pint.UnitRegistry(cache_folder=None)


_STEPS: dict[str, tuple[tuple[float, str], ...]] = {
    "m": ((1.0, "m"), (1e-3, "mm"), (1e-6, "um"), (1e-9, "nm")),
    "m^2": ((1e-2, "m^2"), (1e-6, "mm^2")),
    "m^3": ((1.0, "m^3"), (1e-3, "l"), (1e-6, "cm^3")),
    "kg": ((1.0, "kg"), (1e-3, "g")),
    "rad": ((1e-1, "rad"), (1e-3, "mrad"), (1e-6, "urad"), (1e-9, "nrad")),
    "Pa": ((1e9, "GPa"), (1e6, "MPa"), (1e3, "kPa"), (1.0, "Pa")),
    "N/m": ((1e6, "N/um"), (1e3, "N/mm"), (1.0, "N/m")),
    "N m/rad": ((1e3, "kN m/rad"), (1.0, "N m/rad")),
}
_SIZE = {"m^2": 1.0, "rad": 1.0, "mm^2": 1e-6}
"""Units whose step of choice is not their size: 0.42 m^2 and 0.3 rad are told in the unit itself."""


def show(value: float, unit: str, digits: int = 4) -> str:
    """SI value as engineering text: show(0.85, "m") is "850 mm", show(5e-6, "m") is "5 um"."""
    if not math.isfinite(value):
        return f"{value} {unit}".removesuffix(" 1")
    for step, name in _STEPS.get(unit, ()):
        if abs(value) >= step * (1.0 - 1e-12):
            return f"{_plain(value / _SIZE.get(name, step), digits)} {name}"
    if unit in _STEPS and value != 0.0:
        step, name = _STEPS[unit][-1]
        return f"{_plain(value / _SIZE.get(name, step), digits)} {name}"
    return _plain(value, digits) + ("" if unit == "1" else f" {unit}")


def _plain(value: float, digits: int) -> str:
    """Significant digits without an exponent where the number is of ordinary size."""
    text = f"{value:.{digits}g}"
    if "e" in text and 1.0 <= abs(value) < 1e9:
        return f"{float(text):.0f}"
    return text
