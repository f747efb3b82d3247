"""Which units and point masses sit on which panel: index tables shared by a batch."""

from dataclasses import dataclass

import numpy as np

from synth.core.arrays import Ints
from synth.core.joints import SPACECRAFT, Units
from synth.structure.elimination import Plan, plan


def _padded(groups: list[list[int]], filler: int) -> Ints:
    """Groups of unequal length as one table [len(groups), longest], padded with filler."""
    longest = max((len(g) for g in groups), default=0)
    out = np.full((len(groups), longest), filler, dtype=np.int64)
    for row, group in enumerate(groups):
        out[row, : len(group)] = group
    return out


@dataclass(frozen=True, eq=False)
class Wiring:
    """Unit sides are numbered 2 u + side; the side after the last (2 U) stands for nothing.

    panel [2 U]: the panel a side moves with (0 for the spacecraft's sides, which do not move); fixed [2 U].
    sides [P, S]: sides on each panel. pairs: coupled panels (i < j); links [len(pairs), L]: their units, U for none;
    first [len(pairs), L]: which side of the unit is i.
    """

    panel: Ints
    fixed: Ints
    sides: Ints
    pairs: tuple[tuple[int, int], ...]
    links: Ints
    first: Ints
    steps: Plan

    @staticmethod
    def of(units: Units, panels: int) -> "Wiring":
        """Tables of a batch's units."""
        ends = units.panels
        count = len(ends)
        sides: list[list[int]] = [[] for _ in range(panels)]
        links: dict[tuple[int, int], list[tuple[int, int]]] = {}
        for u, (i, j) in enumerate(ends.tolist()):
            for side, p in enumerate((i, j)):
                if p != SPACECRAFT:
                    sides[p].append(2 * u + side)
            if SPACECRAFT not in (i, j):
                links.setdefault((min(i, j), max(i, j)), []).append((u, 0 if i < j else 1))
        pairs = tuple(sorted(links))
        fixed = (ends == SPACECRAFT).reshape(-1)
        return Wiring(
            panel=np.where(fixed, 0, ends.reshape(-1)),
            fixed=fixed.astype(np.int64),
            sides=_padded(sides, 2 * count),
            pairs=pairs,
            links=_padded([[u for u, _ in links[p]] for p in pairs], count),
            first=_padded([[s for _, s in links[p]] for p in pairs], 0),
            steps=plan(panels, pairs),
        )


def grouped(panel: Ints, panels: int) -> Ints:
    """Table [P, S] of the items on each panel, padded with len(panel), from the panel of each item."""
    groups: list[list[int]] = [[] for _ in range(panels)]
    for item, p in enumerate(panel.tolist()):
        groups[p].append(item)
    return _padded(groups, len(panel))
