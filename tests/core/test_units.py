"""Quantities: text to SI and back, exact where people expect it, refused where they would be misread."""

import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from synth.core.units import UNITS, QuantityError, show, to_si


@pytest.mark.parametrize(
    ("text", "unit", "value"),
    [
        ("700 mm", "m", 0.7), ("850 mm", "m", 0.85), ("532 nm", "m", 5.32e-7), ("5 um", "m", 5e-6), ("5 µm", "m", 5e-6),
        ("3 in", "m", 0.0762), ("0.42 m^2", "m^2", 0.42), ("4200 cm²", "m^2", 0.42), ("30 l", "m^3", 0.03),
        ("14 kg", "kg", 14.0), ("500 g", "kg", 0.5), ("200 urad", "rad", 2e-4), ("1 deg", "rad", math.radians(1.0)),
        ("1 arcsec", "rad", math.radians(1.0 / 3600.0)), ("1.2 kHz", "Hz", 1200.0), ("20 K", "K", 20.0),
        ("-2 K", "K", -2.0),
        ("20 %", "1", 0.2), ("20 percent", "1", 0.2), ("0.98", "1", 0.98), ("850", "m", 850.0), ("  3mm ", "m", 0.003),
        ("1e3 mm", "m", 1.0), (".5 mm", "m", 5e-4), ("70 GPa", "Pa", 7e10), ("5 N/um", "N/m", 5e6), ("3 N", "N", 3.0),
        (3, "m", 3.0), (0.7, "m", 0.7),
    ],
)  # fmt: skip
def test_text_to_si_is_exact(text: str | float, unit: str, value: float) -> None:
    assert to_si(text, unit) == pytest.approx(value, rel=1e-14, abs=0.0)
    if unit != "rad":
        assert to_si(text, unit) == value


@pytest.mark.parametrize(
    ("text", "unit"),
    [
        ("850 kg", "m"), ("20 degC", "K"), ("20 degF", "K"), ("60 rpm", "Hz"), ("1 rad/s", "Hz"),
        ("1/s", "Hz"), ("5 %", "rad"),
        ("1 mm/mm", "rad"), ("1 turn", "rad"), ("5 rad", "1"), ("15 g", "1"), ("1 dB", "1"),
        ("5 frobs", "m"), ("", "m"),
        ("mm", "m"), ("nan mm", "m"), ("inf m", "m"), ("1e999 m", "m"), ("9**9**9 m", "m"), ("m 3", "m"),
        ("3 mm/", "m"),
        ("3 __class__", "m"), ("1 m^4", "m"), ("4 m m", "m"), ("1,5 mm", "m"), ("3 mm" + " " * 80, "m"), ("٣ mm", "m"),
        (True, "m"), (None, "m"), ([1.0], "m"), ({}, "m"), (math.nan, "m"), (-math.inf, "m"), (10**400, "m"),
    ],
)  # fmt: skip
def test_what_is_no_quantity_is_refused_with_what_is_allowed(text: object, unit: str) -> None:
    with pytest.raises(QuantityError, match=r"must be .*"):
        to_si(text, unit)


@pytest.mark.parametrize(
    ("value", "unit", "text"),
    [
        (0.85, "m", "850 mm"), (2.0, "m", "2 m"), (5e-6, "m", "5 um"), (5.32e-7, "m", "532 nm"), (0.0, "m", "0 m"),
        (0.4255, "m^2", "0.4255 m^2"), (1e-3, "m^2", "1000 mm^2"), (0.0123, "m^3", "12.3 l"), (14.0, "kg", "14 kg"),
        (0.5, "kg", "500 g"), (2e-4, "rad", "200 urad"), (3.14159, "rad", "3.142 rad"), (60.0, "Hz", "60 Hz"),
        (0.2, "1", "0.2"), (7e10, "Pa", "70 GPa"), (5e6, "N/m", "5 N/um"), (-0.003, "m", "-3 mm"),
        (math.inf, "1", "inf"),
        (1000000.0, "kg", "1000000 kg"),
    ],
)  # fmt: skip
def test_si_to_text(value: float, unit: str, text: str) -> None:
    assert show(value, unit) == text


_SHOWN = [unit for unit in UNITS if unit not in ("m^2",)]


@settings(max_examples=300, deadline=None, derandomize=True, database=None)
@given(st.sampled_from(_SHOWN), st.floats(1e-8, 1e6), st.booleans())
def test_what_is_shown_reads_back(unit: str, size: float, negative: bool) -> None:
    value = -size if negative else size
    assert to_si(show(value, unit, digits=12), unit) == pytest.approx(value, rel=1e-10, abs=0.0)


@settings(max_examples=200, deadline=None, derandomize=True, database=None)
@given(st.integers(1, 10**6), st.sampled_from([("mm", 3), ("um", 6), ("nm", 9)]))
def test_whole_numbers_of_small_units_are_the_nearest_float(count: int, unit: tuple[str, int]) -> None:
    name, power = unit
    assert to_si(f"{count} {name}", "m") == float(f"{count}e-{power}")


@settings(max_examples=300, deadline=None, derandomize=True, database=None)
@given(st.text(max_size=80) | st.integers() | st.floats() | st.none(), st.sampled_from(sorted(UNITS)))
def test_anything_gives_a_finite_number_or_a_refusal(given_value: object, unit: str) -> None:
    try:
        assert math.isfinite(to_si(given_value, unit))
    except QuantityError as error:
        assert str(error).startswith("must be ")
