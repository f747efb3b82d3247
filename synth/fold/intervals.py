"""Pairs of solids over intervals of the path: proven apart, met, or to be halved."""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from synth.core.arrays import Bools, Floats, Ints
from synth.fold.course import Course, Station
from synth.fold.sectors import Ranges, parting
from synth.fold.separation import Gaps, Passing, ball_gaps, edge_gaps, face_gaps, sphere_gaps, witness_gaps
from synth.fold.solids import Shape, Solids


@dataclass(frozen=True, eq=False)
class Items:
    """n pairs of solids (first, second [n]) over low..high [n] of s inside one stage [n].

    mine, yours [n]: rows of a table of ranges about the one line that the two turn about; -1 where there are more.
    """

    first: Ints
    second: Ints
    stage: Ints
    low: Floats
    high: Floats
    mine: Ints
    yours: Ints

    def __len__(self) -> int:
        return len(self.first)

    def take(self, which: Ints | Bools) -> "Items":
        return Items(*(getattr(self, n)[which] for n in self.__dataclass_fields__))

    def cut(self, pieces: int) -> "Items":
        """Every interval in equal pieces."""
        k = np.arange(pieces)[:, None]
        width = (self.high - self.low) / pieces
        low = (self.low + k * width).reshape(-1)
        high = np.concatenate([(self.low + k[1:] * width).reshape(-1), self.high])
        rest = {n: np.tile(getattr(self, n), pieces) for n in ("first", "second", "stage", "mine", "yours")}
        return Items(low=low, high=high, **rest)

    @staticmethod
    def joined(many: list["Items"]) -> "Items":
        whole = [*many, NONE]
        return Items(*(np.concatenate([getattr(m, n) for m in whole]) for n in NONE.__dataclass_fields__))


NO_PLACE: Ints = np.zeros(0, dtype=np.int64)
NONE = Items(NO_PLACE, NO_PLACE, NO_PLACE, np.zeros(0), np.zeros(0), NO_PLACE, NO_PLACE)


@dataclass(frozen=True, eq=False)
class Verdict:
    """Lower bounds of the distance (m) of n pairs: interval [n] over the whole interval, station [n] in its middle,
    there minus the depth where they overlap; inf where not looked at. travel [n]: how far any corner moves at most
    from its place in the middle."""

    interval: Floats
    station: Floats
    travel: Floats

    @property
    def proven(self) -> Bools:
        """Apart over the whole interval."""
        return np.asarray(self.interval > 0.0)

    def take(self, which: Ints | Bools) -> "Verdict":
        return Verdict(self.interval[which], self.station[which], self.travel[which])


Test = Callable[[Shape, Ints, Shape, Ints, Passing], Gaps]
ORDER: tuple[tuple[Test, bool], ...] = (
    (sphere_gaps, False),
    (ball_gaps, False),
    (face_gaps, False),
    (face_gaps, True),
    (edge_gaps, False),
    (edge_gaps, True),
    (witness_gaps, False),
)
"""Tests from cheap to dear, and whether the two solids change places. Together they try every separating axis and
give the exact distance in the middle."""
QUICK = ORDER[:4]
"""What settles most pairs of boxes; `station` is then a lower bound."""


def examine(
    course: Course,
    solids: Solids,
    table: Ranges,
    items: Items,
    goal: float,
    order: tuple[tuple[Test, bool], ...] = ORDER,
) -> Verdict:
    """Cheapest test first: swept sectors, spheres, faces against spheres, faces of either, edges against edges.

    A pair goes on to the next test until it is known to stay farther apart than goal (m).
    Where it never is, every test is made and `station` is the exact distance in the middle.
    """
    count = len(items)
    interval, station, travel = np.full(count, -np.inf), np.full(count, -np.inf), np.full(count, np.inf)
    one_line = np.flatnonzero(items.mine >= 0)
    if len(one_line):
        interval[one_line] = _sectors(course, solids, table, items.take(one_line))
    rest = np.flatnonzero(interval <= goal)
    station[interval > goal] = np.inf
    middle = (items.low + items.high) / 2.0
    s, place = np.unique(middle[rest], return_inverse=True)
    stage = np.zeros(len(s), dtype=np.int64)
    stage[place] = items.stage[rest]
    at = course.at(s, stage)
    seen: dict[bool, tuple[Ints, Passing]] = {}
    for test, back in order:
        open_ = interval[rest] <= goal
        rest, place = rest[open_], place[open_]
        if not len(rest):
            break
        # how the seconds pass the firsts, worked out once for each way of looking
        if back not in seen:
            seen[back] = rest, _passing(back, course, solids, at, place, items.take(rest))
        known, motion = seen[back]
        if len(known) > len(rest):
            motion = motion.take(np.searchsorted(known, rest))
            seen[back] = rest, motion
        gaps = _run(test, back, solids, motion, items.take(rest))
        interval[rest] = np.maximum(interval[rest], gaps.interval)
        station[rest] = np.maximum(station[rest], gaps.station)
        travel[rest] = np.minimum(travel[rest], gaps.travel)
    return Verdict(interval, station, travel)


def _sectors(course: Course, solids: Solids, table: Ranges, items: Items) -> Floats:
    """Lower bound of the distance from the ranges about the common line; first lies on the parent's side."""
    start = course.bounds[items.stage]
    hinge = course.entry[items.stage, solids.panel[items.first], solids.panel[items.second]]
    rate = course.rates[items.stage, hinge]
    low, high = rate * (items.low - start), rate * (items.high - start)
    return parting(table.take(items.mine), table.take(items.yours), low, high)


def _passing(back: bool, course: Course, solids: Solids, at: Station, number: Ints, items: Items) -> Passing:
    """How the second solids of items pass the first ones at stations number [n]; back: the other way round."""
    one, two = (items.second, items.first) if back else (items.first, items.second)
    half = (items.high - items.low) / 2.0
    return course.motion(at, number, solids.panel[one], solids.panel[two], items.stage, half)


def _run(test: Test, back: bool, solids: Solids, motion: Passing, items: Items) -> Gaps:
    """One test on items, table by table of shapes; back: the second solids stand for the first."""
    one, two = (items.second, items.first) if back else (items.first, items.second)
    kind = solids.shape[one] * len(solids.shapes) + solids.shape[two]
    out = np.empty((3, len(items)))
    for k in np.unique(kind):
        mine = np.flatnonzero(kind == k)
        first, second = solids.shapes[k // len(solids.shapes)], solids.shapes[k % len(solids.shapes)]
        found = test(first, solids.place[one[mine]], second, solids.place[two[mine]], motion.take(mine))
        out[:, mine] = found.station, found.interval, found.travel
    return Gaps(out[0], out[1], out[2])
