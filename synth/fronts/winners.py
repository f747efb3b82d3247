"""Which family holds the front where, and where the winner changes."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from synth.core.arrays import Floats
from synth.fronts.entry import Entry
from synth.fronts.indicators import hypervolume_share
from synth.fronts.staircase import staircase
from synth.problem.objective import Objective


@dataclass(frozen=True)
class Stretch:
    """From x[0] to x[1] (minimised, SI) of one objective a family reaches the least of the other; y at the ends."""

    family: str
    x: tuple[float, float]
    y: tuple[float, float]


@dataclass(frozen=True)
class Winners:
    """The stretches along one front in two objectives, by rising x; a change lies where one ends and the next begins.
    The last stretch ends where more x buys nothing."""

    entry: str
    x: str
    y: str
    stretches: tuple[Stretch, ...]


def winners(entry: Entry, objectives: Sequence[Objective]) -> list[Winners]:
    """For every pair of objectives, in their order."""
    if not entry.front.rows:
        return []
    points = entry.points(objectives)
    families = [r.family for r in entry.front.rows]
    found = []
    for a in range(len(objectives)):
        for b in range(a + 1, len(objectives)):
            stretches = _stretches(points[:, a], points[:, b], families)
            found.append(Winners(entry.label, objectives[a].metric, objectives[b].metric, stretches))
    return found


def _stretches(x: Floats, y: Floats, families: Sequence[str]) -> tuple[Stretch, ...]:
    stairs = staircase(x, y)
    names = [families[int(k)] for k in stairs.rows]
    begins = [k for k in range(len(names)) if k == 0 or names[k] != names[k - 1]]
    found = []
    for place, first in enumerate(begins):
        after = begins[place + 1] if place + 1 < len(begins) else len(names)
        last = float(stairs.x[after]) if after < len(names) else float(stairs.x[-1])
        found.append(Stretch(names[first], (float(stairs.x[first]), last),
                             (float(stairs.y[first]), float(stairs.y[after - 1]))))  # fmt: skip
    return tuple(found)


def family_shares(entry: Entry, objectives: Sequence[Objective], low: Floats, high: Floats) -> dict[str, float]:
    """Share of the box [low, high] that each family's rows dominate alone, by name."""
    points = entry.points(objectives)
    families = np.array([r.family for r in entry.front.rows], dtype=object)
    return {str(f): hypervolume_share(points[families == f], low, high) for f in sorted(set(families))}
