"""Field types of the problem file: quantities in SI, names, shares, counts, each with its range in the message."""

import re
from typing import Annotated, Any

from pydantic import BeforeValidator, WithJsonSchema

from synth.core.errors import nearest
from synth.core.units import QuantityError, allowed, show, to_si
from synth.problem.faults import refuse
from synth.problem.objective import OBJECTIVES


def quantity(unit: str, *, above: float | None = None, least: float | None = None, most: float | None = None) -> Any:
    """An annotation for pydantic: number or text with a unit in, SI float out.

    above: the value must exceed this; least, most: it may reach these. Faults tell the range.
    """

    def read(value: Any) -> float:
        try:
            number = to_si(value, unit)
        except QuantityError as error:
            raise refuse(str(error)) from None
        low = (above is not None and number <= above) or (least is not None and number < least)
        if low or (most is not None and number > most):
            raise refuse(f"must be {allowed(unit)}, {_range(unit, above, least, most)}")
        return number

    schema = {"anyOf": [{"type": "number"}, {"type": "string"}], "unit": unit}
    return Annotated[float, BeforeValidator(read), WithJsonSchema(schema)]


def _range(unit: str, above: float | None, least: float | None, most: float | None) -> str:
    low = f"above {show(above, unit)}" if above is not None else ""
    low = low or (f"from {show(least, unit)}" if least is not None else "")
    high = f"up to {show(most, unit)}" if most is not None else ""
    return " ".join(part for part in (low, high) if part)


def whole(least: int, most: int) -> Any:
    """An annotation for pydantic: a whole number within the bounds."""

    def read(value: Any) -> int:
        if isinstance(value, bool) or not isinstance(value, int) or not least <= value <= most:
            raise refuse(f"must be a whole number from {least} to {most}")
        return value

    schema = {"type": "integer", "minimum": least, "maximum": most}
    return Annotated[int, BeforeValidator(read), WithJsonSchema(schema)]


_NAME = re.compile(r"[A-Za-z0-9][A-Za-z0-9 _.+-]{0,59}")


def _name(value: Any) -> str:
    if not isinstance(value, str) or not _NAME.fullmatch(value) or value != value.strip():
        raise refuse("must be a name of 1 to 60 letters, digits, spaces and . _ + - (a letter or digit first)")
    return value


def _title(value: Any) -> str:
    if not isinstance(value, str) or not value.strip() or len(value) > 200 or not value.isprintable():
        raise refuse("must be one line of text of 1 to 200 characters")
    return value


def _flag(value: Any) -> bool:
    if not isinstance(value, bool):
        raise refuse("must be true or false")
    return value


def one_of(*options: str) -> Any:
    """An annotation for pydantic: one of the words given."""

    def read(value: Any) -> str:
        if not isinstance(value, str) or value not in options:
            hint = nearest(value, options) if isinstance(value, str) else ""
            raise refuse(f"must be one of {', '.join(options)}.{hint}")
        return value

    return Annotated[str, BeforeValidator(read), WithJsonSchema({"enum": list(options)})]


Name = Annotated[str, BeforeValidator(_name)]
Title = Annotated[str, BeforeValidator(_title)]
Flag = Annotated[bool, BeforeValidator(_flag)]

Length = quantity("m", above=0.0, most=100.0)
Coordinate = quantity("m", least=-100.0, most=100.0)
Gap = quantity("m", least=0.0, most=1.0)
Area = quantity("m^2", above=0.0, most=1e4)
Mass = quantity("kg", above=0.0, most=1e6)
Angle = quantity("rad", above=0.0, most=1.0)
Wavelength = quantity("m", least=1e-8, most=1e-2)
SmallLength = quantity("m", above=0.0, most=1.0)
Frequency = quantity("Hz", above=0.0, most=1e5)
Ratio = quantity("1", above=0.0, most=1e4)
Share = quantity("1", least=0.0, most=1.0)
Growth = quantity("1", least=0.0, most=2.0)
Load = quantity("1", above=0.0, most=1e4)
Duration = quantity("s", least=1.0, most=1e7)
MATURITIES = ("estimated", "layout", "pre_release", "released", "existing", "actual")
Maturity = one_of(*MATURITIES)
Optic = one_of("reflective", "transmissive")
ObjectiveName = one_of(*OBJECTIVES)
Evaluations = whole(1, 10_000_000)
Seed = whole(0, 2**63 - 1)
PanelCount = whole(1, 500)
TemperatureChange = quantity("K", least=-1000.0, most=1000.0)
HeatFlux = quantity("W/m^2", least=-1e5, most=1e5)
HeatLoss = quantity("W/m^2/K", above=0.0, most=1e5)
Strain = quantity("1", least=-0.01, most=0.01)
SmallAngle = quantity("rad", least=-0.1, most=0.1)
CommonCause = one_of("none", "edge", "kind")
