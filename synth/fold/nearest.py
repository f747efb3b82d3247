"""The least distance met while a proof runs: lower bounds are gathered, the few that matter worked out exactly."""

import numpy as np

from synth.core.arrays import Bools, Floats, Ints
from synth.fold.course import Course
from synth.fold.distance import corners_at, prism_distance
from synth.fold.solids import Solids


class Nearest:
    """Gathers pairs of solids at stations with a lower bound of their distance."""

    def __init__(self, course: Course, solids: Solids) -> None:
        self._course, self._solids = course, solids
        self._first: Ints = np.zeros(0, dtype=np.int64)
        self._second: Ints = np.zeros(0, dtype=np.int64)
        self._s, self._lower = np.zeros(0), np.zeros(0)
        self.least, self.pair, self.at = np.inf, (0, 0), 0.0

    def add(self, first: Ints, second: Ints, s: Floats, lower: Floats) -> None:
        """Pairs [n] apart at s [n] by at least lower [n] (m); those beyond the least exact distance are let go."""
        # a lower bound that is the least distance itself but for rounding adds nothing
        kept = lower < self.least * (1.0 - 1e-6)
        self._first = np.concatenate([self._first, first[kept]])
        self._second = np.concatenate([self._second, second[kept]])
        self._s = np.concatenate([self._s, s[kept]])
        self._lower = np.concatenate([self._lower, lower[kept]])

    def settle(self) -> float:
        """Least exact distance (m) of everything added so far: exact ones are found in order of the lower bounds."""
        order = np.argsort(self._lower, kind="stable")
        s, place = np.unique(self._s[order], return_inverse=True)
        placed = self._course.placed(s)
        for k, at in zip(order, place, strict=True):
            if self._lower[k] >= self.least * (1.0 - 1e-6):
                break
            pair = int(self._first[k]), int(self._second[k])
            found = distance_of(self._solids, pair, placed[at])
            if found < self.least:
                self.least, self.pair, self.at = found, pair, float(self._s[k])
        self._first, self._second = self._first[:0], self._second[:0]
        self._s, self._lower = self._s[:0], self._lower[:0]
        return self.least


def distance_of(solids: Solids, pair: tuple[int, int], placed: Floats) -> float:
    """Exact distance (m) of two solids that are apart, panels standing at placed [P, 3, 4]."""
    one, two = (
        corners_at(solids.shapes[int(solids.shape[i])], int(solids.place[i]), placed[solids.panel[i]]) for i in pair
    )
    return prism_distance(one, two)


def panel_pairs(course: Course, solids: Solids) -> Bools:
    """Pairs of panels [N, N] that the stowed panel gap is asked of: joined by no hinge, or folded by a half turn."""
    out = solids.is_panel[:, None] & solids.is_panel[None, :]
    out = np.triu(out, 1)
    for h, (i, j) in enumerate(course.topology.hinges):
        turn = abs(float(course.stowed[h])) if h < len(course.stowed) else np.pi
        if abs(turn - np.pi) > 1e-6:
            out[min(i, j), max(i, j)] = False
    return out
