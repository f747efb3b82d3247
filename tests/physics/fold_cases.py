"""Reference cases of fold geometry: numbers with their source and flag (seen, derived, memory), read once."""

import tomllib
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np


@dataclass(frozen=True)
class Case:
    """One case: id, inputs, expected numbers, tolerance (absolute), flag and source."""

    id: str
    inputs: dict[str, Any]
    expected: dict[str, Any]
    tolerance: float
    checked: str
    source: str

    def angle(self, name: str) -> np.ndarray:
        """An input given in degrees, in radians."""
        return np.radians(np.asarray(self.inputs[name], dtype=np.float64))

    def __str__(self) -> str:
        return self.id


@cache
def all_cases() -> dict[str, Case]:
    read = tomllib.loads((Path(__file__).parent / "fold_geometry.toml").read_text(encoding="utf-8"))
    keys = ("id", "inputs", "expected", "tolerance", "checked", "source")
    return {c["id"]: Case(**{k: c[k] for k in keys}) for c in read["case"]}


def case(name: str) -> Case:
    return all_cases()[name]


def cases(*starts: str) -> list[Case]:
    """All cases whose id begins with one of the given texts; there must be some for each."""
    for start in starts:
        assert any(k.startswith(start) for k in all_cases()), start
    return [c for k, c in all_cases().items() if k.startswith(starts)]
