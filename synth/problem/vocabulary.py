"""The names a problem file may use for families and variables; told by those who know the families."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal


@dataclass(frozen=True)
class Allowed:
    """What a variable may be: kind "real" or "count" within [low, high] in SI unit, or "choice" among options.

    A choice without options takes any text (its family reads it); build.material and
    build.hinge without options take the names of the catalogues.
    """

    kind: Literal["real", "count", "choice"]
    low: float = 0.0
    high: float = 0.0
    unit: str = "1"
    options: tuple[str, ...] = ()


@dataclass(frozen=True)
class Vocabulary:
    """families: names in order. variables: full name ("segment_stack.rings", "build.thickness") -> what it may be."""

    families: tuple[str, ...]
    variables: Mapping[str, Allowed] = field(default_factory=dict)


@dataclass(frozen=True)
class Narrowed:
    """What a problem leaves of a variable: numbers within [low, high] in SI (equal where pinned), or some options."""

    low: float = 0.0
    high: float = 0.0
    options: tuple[str, ...] = ()


Pins = dict[str, Narrowed]
"""By full name of the variable."""
