"""Notches in panels where stand-offs and passing panels ask for more room than the gap gives.

The terms are those of _fins; here they are kept place by place: a panel, one of its edges,
and a hinge whose distance from the middle of the edge it is. A stand-off in a notch is
deeper than the half gap, so it also needs notches where it only stands.
"""

from dataclasses import dataclass

import numpy as np

from synth.core.arrays import Bools, Column, Floats, Ints
from synth.core.build import Build
from synth.families._fins import (
    BESIDE,
    CONFLICT,
    MARGIN,
    PASSING_CLEARANCE,
    TYPICAL,
    WIDTH,
    fins_of,
    last_columns,
    room_of,
    swept,
    tiles_of,
    travel,
    typical_travel,
)
from synth.families._unfold import State, Unfolding

PER_PLACE, ROUNDS = 3, 60
"""Terms kept of each place of a notch for each of the typical sizes, and rounds in which its depth is found."""


@dataclass(frozen=True, eq=False)
class Places:
    """Where notches in passed panels would make room: K places, each a panel, an edge of it and a hinge.

    panel [K], way [K, 2] outward normal of its edge (deployed, tiling not spun), hinge [K] whose place along
    the edge it is; rest [K] whether a stand-off stands there at rest, past the panel; terms [N, 18]
    sorted by place, first [K] the first of each (those of a place without any ask for nothing).
    """

    panel: Ints
    way: Floats
    hinge: Ints
    rest: Bools
    terms: Floats
    first: Ints

    @property
    def count(self) -> int:
        return len(self.panel)


def depths(places: Places, unit: Column, build: Build, blunt: Column, sides: int) -> tuple[Floats, Floats, Column]:
    """What notches must give where hinges and panels pass: depth and half the extra width [B, K] m, and slack [B].

    A notch as deep as the worst of its terms asks for beyond the gap, and PASSING_CLEARANCE beyond a stand-off. Where
    a tile passes a fin, what it asks for grows with the room that it has, so the depth is found by iteration;
    slack (as `slack`) is negative where that does not end. A swing at an angle to the edge also moves along it:
    the notch is wider by what it moves while heights meet.
    """
    if not places.count:
        return np.zeros((build.rows, 0)), np.zeros((build.rows, 0)), np.ones(build.rows)
    terms, size = places.terms, np.diff(np.append(places.first, len(places.terms)))
    bare = room_of(terms, build)
    stands = np.maximum(build.post + PASSING_CLEARANCE + MARGIN - build.edge_gap / 2.0, 0.0)
    least = stands[:, None] * places.rest
    depth: Floats = least
    for _ in range(ROUNDS):
        room = bare + np.repeat(depth, size, axis=1)
        asked = travel(terms, unit, build, blunt, sides, room)[0] + MARGIN
        more = np.where(asked > MARGIN, asked - bare, 0.0)
        depth = np.maximum(np.maximum.reduceat(more, places.first, axis=1), least)
    room = bare + np.repeat(depth, size, axis=1)
    asked, along = travel(terms, unit, build, blunt, sides, room)
    asked = asked + MARGIN
    left = np.where(asked > MARGIN, (room - asked + 1e-6) / (np.abs(room) + asked), 1.0)
    return depth, np.maximum.reduceat(along, places.first, axis=1), np.asarray(left.min(axis=1))


def places(folded: Unfolding, stage: Ints) -> Places:
    """Where notches would make room on an opening, stage by stage."""
    slot, terms = swept(folded, stage)
    state = folded.stowed()
    resting = [_resting(folded, state)]
    for step in range(int(stage.max(initial=-1)) + 1):
        for hinge in np.flatnonzero(stage == step):
            state = folded.turned(state, int(hinge))
        resting.append(_resting(folded, state))
    rest = np.concatenate(resting)
    rest[:, 16] = slot[rest[:, 16].astype(np.int64)]
    return _places(np.concatenate([terms, rest]), folded)


def _resting(folded: Unfolding, state: State) -> Floats:
    """Rows that mark beside which panels stand-offs stand in a state; on the way they ask for nothing (edge -1)."""
    every = np.ones(len(folded.parent), dtype=bool)
    fin, tile = (make(folded, state, every, 0.0, 1.0) for make in (fins_of, tiles_of))
    same = np.abs(tile.centre[None] - fin.centre[:, None]).max(axis=-1) < 1e-6
    size = np.array(CONFLICT)
    low, high = fin.low @ size, fin.high @ size
    meets = same & (low[:, None] < (tile.high @ size)[None]) & ((tile.low @ size)[None] < high[:, None])
    pair = np.array([folded.parent[1:], range(1, len(folded.parent))])
    f, t = np.nonzero(meets)
    panel, hinge = tile.hinge[t], fin.hinge[f]
    other = (pair[0, hinge] != panel) & (pair[1, hinge] != panel) & (np.abs(folded.reach[hinge]) > 1.5)
    f, t = f[other], t[other]
    rows = np.zeros((len(f), WIDTH - 2))
    rows[:, 0], rows[:, 1], rows[:, 2], rows[:, 3] = BESIDE, -1.0, -1.0, 1.0
    return np.concatenate([rows, last_columns(state, tile.hinge[t], fin.way[f], fin.hinge[f], False)], axis=-1)


def _places(terms: Floats, folded: Unfolding) -> Places:
    """Terms that ask for something, by panel, edge and place along it; of each the worst at the typical sizes."""
    terms = np.unique(np.round(terms, 6), axis=0)
    asked = np.concatenate([typical_travel(terms[:, :WIDTH], size, folded) for size in TYPICAL])
    stands = (terms[:, 0] == BESIDE) & (terms[:, 2] < 0.0)
    use = (asked > 0.0).any(axis=0) | stands
    terms, asked, stands = terms[use], asked[:, use], stands[use]
    key, place = np.unique(terms[:, [18, 19, 20, 16]], axis=0, return_inverse=True)
    place = place.reshape(-1)
    keep = np.zeros(len(terms), dtype=bool)
    for k in range(len(key)):
        mine = np.flatnonzero(place == k)
        for row in asked[:, mine]:
            keep[mine[np.argsort(-row, kind="stable")[:PER_PLACE]]] = True
    order = np.flatnonzero(keep)[np.argsort(place[keep], kind="stable")]
    first = np.searchsorted(place[order], np.arange(len(key)))
    hinge = terms[order[first], 21].astype(np.int64) if len(key) else np.zeros(0, dtype=np.int64)
    rest = np.array([bool(stands[place == k].any()) for k in range(len(key))], dtype=bool)
    return Places(key[:, 0].astype(np.int64), key[:, 1:3].copy(), hinge, rest, terms[order, :WIDTH], first)
