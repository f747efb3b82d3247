"""What a proof has to look at: every pair that may not meet, in every stage that moves it."""

from dataclasses import dataclass

import numpy as np

from synth.core.arrays import Bools, Floats, Ints, transform
from synth.fold.course import Course
from synth.fold.intervals import Items
from synth.fold.sectors import Ranges, column, parting, ranges
from synth.fold.solids import Solids

MOST_LINES, MOST_STAGES = 4, 64
"""Sifting by lines pays unless many lines move in each of many short stages: there pairs hardly turn."""


@dataclass(frozen=True, eq=False)
class Seeds:
    """one_line: pairs of solids that turn about one line and that cylinder coordinates leave open, with their
    table of ranges; many_lines: pairs of bodies that move about several."""

    one_line: Items
    table: Ranges
    many_lines: Items


def seeds_of(course: Course, solids: Solids, bodies: Solids, goal: float) -> Seeds:
    """Seeds of one candidate, each over a whole stage: pairs not known to stay farther apart than goal (m)."""
    both = solids.tested | solids.tested.T
    found: list[Items] = []
    many: list[Items] = []
    tables: list[Ranges] = []
    offset = 0
    for parts in course.parts:
        k = parts.stage
        hops = course.hops[k]
        part = parts.part[solids.panel]
        by_line = course.hinged and (len(parts.moving) <= MOST_LINES or course.stages <= MOST_STAGES)
        if len(parts.moving) > (1 if by_line else 0):
            many.append(_several(course, bodies, hops, k, 2 if by_line else 1))
        for hinge in parts.moving if by_line else ():
            child = int(parts.part[hinge + 1])
            parent = int(parts.part[course.topology.parent[hinge + 1]])
            mine, yours = np.flatnonzero(part == parent), np.flatnonzero(part == child)
            if not both[np.ix_(mine, yours)].any():
                continue
            pose = parts.start[course.topology.parent[hinge + 1]]
            table = ranges(solids, np.concatenate([mine, yours]), parts.start, transform(pose, course.axis[hinge]))
            here, there = np.arange(len(mine)), len(mine) + np.arange(len(yours))
            turn = float(course.rates[k, hinge] * (course.bounds[k + 1] - course.bounds[k]))
            close = parting(column(table.take(here)), table.take(there), 0.0, turn) <= goal
            i, j = np.nonzero(close & both[np.ix_(mine, yours)])
            found.append(_items(course, mine[i], yours[j], k, here[i] + offset, there[j] + offset))
            tables.append(table)
            offset += len(mine) + len(yours)
    return Seeds(Items.joined(found), _stacked(tables), Items.joined(many))


def _several(course: Course, bodies: Solids, hops: Ints, k: int, least: int) -> Items:
    """Pairs of bodies with at least so many moving lines between them."""
    p, q = np.nonzero(bodies.tested & (hops[bodies.panel[:, None], bodies.panel[None, :]] >= least))
    none = np.full(len(p), -1)
    return _items(course, p, q, k, none, none)


def _items(course: Course, first: Ints, second: Ints, k: int, mine: Ints, yours: Ints) -> Items:
    one = np.ones(len(first))
    low, high = course.bounds[k] * one, course.bounds[k + 1] * one
    return Items(first, second, np.full(len(first), k), low, high, mine, yours)


def _stacked(tables: list[Ranges]) -> Ranges:
    if not tables:
        return Ranges(np.zeros((2, 0)), np.zeros((2, 0)), np.zeros(0), np.zeros(0))
    return Ranges(
        np.concatenate([t.along for t in tables], axis=1),
        np.concatenate([t.radius for t in tables], axis=1),
        np.concatenate([t.angle for t in tables]),
        np.concatenate([t.width for t in tables]),
    )


def near_pairs(course: Course, solids: Solids, wanted: Bools, s: float, reach: float) -> tuple[Ints, Ints]:
    """Pairs [n] among `wanted` [N, N] whose axis-aligned boxes at s are closer than `reach` (m)."""
    low, high = np.zeros((solids.count, 3)), np.zeros((solids.count, 3))
    placed = course.placed(np.array([s]))[0]
    for k, shape in enumerate(solids.shapes):
        mine = np.flatnonzero(solids.shape == k)
        pose = placed[solids.panel[mine]]
        corners = np.einsum("nij,jwn->niw", pose[:, :, :3], shape.corners()[:, :, solids.place[mine]])
        corners += pose[:, :, 3:]
        low[mine], high[mine] = corners.min(axis=-1), corners.max(axis=-1)
    gap: Floats = np.full((solids.count, solids.count), -np.inf)
    for axis in range(3):
        gap = np.maximum(gap, low[None, :, axis] - high[:, None, axis])
        gap = np.maximum(gap, low[:, None, axis] - high[None, :, axis])
    first, second = np.nonzero(wanted & (gap < reach))
    return first, second


def panel_pairs(course: Course, solids: Solids) -> Bools:
    """Pairs of panels [N, N] that the stowed panel gap is asked of: joined by no hinge, or folded by a half turn."""
    out = np.triu(solids.is_panel[:, None] & solids.is_panel[None, :], 1)
    out &= solids.body[:, None] != solids.body[None, :]
    turn = course.placed(np.zeros(1))[0, :, :, :3]
    for i, j in course.topology.hinges:
        # a half turn has trace -1
        if float((turn[i] * turn[j]).sum()) > -1.0 + 1e-9:
            one, two = solids.body == i, solids.body == j
            out &= ~((one[:, None] & two[None, :]) | (two[:, None] & one[None, :]))
    return np.asarray(out)
