"""Reference cases of mass, structure, hinges, accuracy, thermal, optics, drive: numbers with source and flag, read
once.

structures_checks.toml: flag `checked` is derived (worked out and recomputed), or seen (formula or factor read in the
source named); values recalled stand only as `published` with published_checked = "memory".
"""

import tomllib
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

from tests.near import near


@dataclass(frozen=True)
class Case:
    """One case: id, what, inputs, expected (number or list), tolerances, flag and source."""

    id: str
    what: str
    inputs: dict[str, Any]
    expected: Any
    unit: str
    checked: str
    source: str
    where: str
    formula: str = ""
    note: str = ""
    tolerance_rel: float = 0.0
    tolerance_abs: float = 0.0
    published: list[Any] = field(default_factory=list)
    published_checked: str = ""

    def holds(self, *actual: Any) -> bool:
        """Each of the results against its part of `expected`, within the case's own tolerance."""
        wanted = self.expected if isinstance(self.expected, list) else [self.expected]
        assert len(actual) == len(wanted), f"{self.id}: {len(wanted)} results expected"
        why = f"{self.id}: {self.source} ({self.checked})"
        return all(
            near(a, e, rel=self.tolerance_rel, abs=self.tolerance_abs, why=why)
            for a, e in zip(actual, wanted, strict=True)
        )

    def __str__(self) -> str:
        return self.id


@cache
def all_cases() -> dict[str, Case]:
    text = Path(__file__).with_name("structures_checks.toml").read_text(encoding="utf-8")
    return {c["id"]: Case(**c) for c in tomllib.loads(text)["case"]}


STRUCK = {
    "prbm.elastica": "no figure comes from a pseudo-rigid-body model: flexures here are bent by a pure moment",
    "prbm.constants": "no figure comes from a pseudo-rigid-body model: flexures here are bent by a pure moment",
    "env.baggage_square_stack": "no envelope of the program limits length + width + height; the preset is data only",
    "thermal.bow_cylindrical_square": "sections are isotropic: a panel bows alike in both directions",
    "lidar.photons": "collected light is told as area; there is no link budget",
}
"""Cases that no figure of the program depends on, and why."""


def case(name: str) -> Case:
    return all_cases()[name]


def cases(*starts: str) -> list[Case]:
    """All cases whose id begins with one of the given texts; there must be some for each."""
    for start in starts:
        assert any(k.startswith(start) for k in all_cases()), start
    return [c for k, c in all_cases().items() if k.startswith(starts)]
