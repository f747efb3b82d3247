"""What the readers of own catalogue entries share: faults collected, numbers, sources, words."""

import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from synth.core.errors import nearest
from synth.core.units import UNITS, QuantityError, to_si
from synth.problem.catalogue import FLAGS, Row
from synth.problem.faults import Fault, fault


def unknown(place: str, key: str, allowed: Iterable[str], value: Any) -> Fault:
    """A field that is not one of the allowed."""
    names = list(allowed)
    return fault(place, f"is not a known field.{nearest(key, names)} Allowed: {', '.join(names)}", value)


def plain(value: Any) -> bool:
    """Whether it is a finite number."""
    return isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)


def line(value: Any) -> bool:
    """Whether it is one line of text."""
    return isinstance(value, str) and bool(value.strip()) and value.isprintable()


@dataclass
class Reading:
    """Rows read so far, by list and id, and the faults."""

    rows: dict[str, dict[str, Row]] = field(default_factory=lambda: {"material": {}, "joint": {}})
    faults: list[Fault] = field(default_factory=list)

    def tell(self, place: str, words: str, *value: Any) -> None:
        """Adds a fault, with what was given where there was something."""
        self.faults.append(fault(place, words, *value))

    def one_of(self, place: str, value: Any, options: Iterable[str]) -> None:
        """A word of some."""
        words = list(options)
        if value not in words:
            self.tell(place, f"must be one of {', '.join(words)}.{nearest(str(value), words)}", value)

    def source(self, place: str, value: Any) -> None:
        """Where a value comes from must be told."""
        if not line(value):
            given = () if value is None else (value,)
            self.tell(f"{place}.source", "must tell in one line where it comes from", *given)

    def flag(self, place: str, value: Any) -> None:
        """One of FLAGS."""
        self.one_of(f"{place}.flag", value, FLAGS)

    def number(self, place: str, value: Any, unit: str, *, zero: bool = False, any_sign: bool = False) -> float:
        """A number in SI, above zero unless said otherwise; a fault and 1 where it is none."""
        try:
            found = to_si(value, unit) if unit in UNITS else None
        except QuantityError as error:
            self.tell(place, str(error), value)
            return 1.0
        if found is None:
            if not plain(value):
                self.tell(place, f"must be a bare number in {unit}", value)
                return 1.0
            found = float(value)
        if not (any_sign or found > 0.0 or (zero and found == 0.0)):
            self.tell(place, "must be zero or more" if zero else "must be above zero", value)
        return found
