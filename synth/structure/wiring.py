"""Which units and point masses sit on which panel: index tables shared by a batch."""

from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from synth.core.arrays import Ints
from synth.core.joints import SPACECRAFT, Units
from synth.structure.elimination import Plan, plan

Buckets = tuple[tuple[Ints, Ints], ...]
"""Groups with equally many items each: numbers of the groups [G], their items [G, S]. Groups without items are left
out."""


def _buckets(groups: Iterable[list[int]]) -> Buckets:
    found: dict[int, list[tuple[int, list[int]]]] = {}
    for number, items in enumerate(groups):
        if items:
            found.setdefault(len(items), []).append((number, items))
    return tuple(
        (np.array([n for n, _ in alike], dtype=np.int64), np.array([i for _, i in alike], dtype=np.int64))
        for alike in found.values()
    )


@dataclass(frozen=True, eq=False)
class Wiring:
    """Unit sides are numbered 2 u + side.

    panel [2 U]: the panel a side moves with (0 for the spacecraft's sides, which do not move); fixed [2 U].
    sides: unit sides on each panel. pairs: coupled panels (i < j); low, high: the sides of their units on i and on j.
    """

    panels: int
    panel: Ints
    fixed: Ints
    sides: Buckets
    pairs: tuple[tuple[int, int], ...]
    low: Buckets
    high: Buckets
    steps: Plan

    @staticmethod
    def of(units: Units, panels: int) -> "Wiring":
        """Tables of a batch's units."""
        return _wired(tuple(map(tuple, units.panels.tolist())), panels)


@lru_cache(maxsize=256)
def _wired(ends: tuple[tuple[int, int], ...], panels: int) -> Wiring:
    sides: list[list[int]] = [[] for _ in range(panels)]
    links: dict[tuple[int, int], list[tuple[int, int]]] = {}
    for u, (i, j) in enumerate(ends):
        for side, p in enumerate((i, j)):
            if p != SPACECRAFT:
                sides[p].append(2 * u + side)
        if SPACECRAFT not in (i, j):
            own = (2 * u, 2 * u + 1)
            links.setdefault((min(i, j), max(i, j)), []).append(own if i < j else own[::-1])
    pairs = tuple(sorted(links))
    flat = np.array(ends, dtype=np.int64).reshape(-1)
    fixed = flat == SPACECRAFT
    return Wiring(
        panels=panels,
        panel=np.where(fixed, 0, flat),
        fixed=fixed.astype(np.int64),
        sides=_buckets(sides),
        pairs=pairs,
        low=_buckets([side for side, _ in links[p]] for p in pairs),
        high=_buckets([side for _, side in links[p]] for p in pairs),
        steps=plan(panels, pairs),
    )


def grouped(panel: Ints, panels: int) -> Buckets:
    """Items on each panel, from the panel of each item."""
    return _grouped(tuple(panel.tolist()), panels)


@lru_cache(maxsize=256)
def _grouped(panel: tuple[int, ...], panels: int) -> Buckets:
    groups: list[list[int]] = [[] for _ in range(panels)]
    for item, p in enumerate(panel):
        groups[p].append(item)
    return _buckets(groups)
