"""The non-dominated set of one envelope, and a reserve of what lies just behind it."""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field

import numpy as np

from synth.core.arrays import Bools, Floats, Ints
from synth.fronts.indicators import contributions, dominators, hypervolume, least, nondominated
from synth.search.candidate import Candidate
from synth.search.ground import Ground

NEAR = 2
"""A candidate that at most so many members dominate is worth keeping in reserve: they may fail verification."""


def thin(points: Floats, keep: int, always: Iterable[int] = ()) -> Ints:
    """Rows kept (rising) when n points are cut to `keep`: the least of each objective and the rows of `always` stay.

    Up to three objectives: the point that adds the least hypervolume to the unit box goes first; of equals the one of
    greatest sum, then the last; far from the goal several go at a time. More objectives, where contributions cost
    too much: of the two points nearest to each other the one of greater sum goes.
    """
    rows = np.arange(len(points))
    if len(rows) <= keep:
        return rows
    safe = np.zeros(len(points), dtype=bool)
    safe[[*least(points).tolist(), *always]] = True
    if points.shape[1] > 3:
        return _spread_out(points, keep, safe)
    total, one = points.sum(axis=1), np.ones(points.shape[1])
    while len(rows) > keep and not safe[rows].all():
        gain = np.where(safe[rows], np.inf, contributions(points[rows], one))
        several = min(max((len(rows) - keep) // 12, 1), int((~safe[rows]).sum()))
        order = np.lexsort((-rows, -total[rows], gain))
        rows = np.delete(rows, order[:several])
    return rows


def _spread_out(points: Floats, keep: int, safe: Bools) -> Ints:
    """Truncation by nearest neighbours (after Zitzler, Laumanns, Thiele 2001, who look at further ones on a tie)."""
    far = np.sqrt(_squared_distances(points))
    np.fill_diagonal(far, np.inf)
    place, nearest = far.argmin(axis=1), far.min(axis=1)
    total, number = points.sum(axis=1), np.arange(len(points))
    alive = np.ones(len(points), dtype=bool)
    for _ in range(len(points) - keep):
        free = np.flatnonzero(alive & ~safe)
        if not len(free):
            break
        close = free[nearest[free] == nearest[free].min()]
        gone = int(close[np.lexsort((-number[close], -total[close]))[0]])
        alive[gone] = False
        far[gone, :] = far[:, gone] = np.inf
        orphans = np.flatnonzero(alive & (place == gone))
        place[orphans], nearest[orphans] = far[orphans].argmin(axis=1), far[orphans].min(axis=1)
    return np.flatnonzero(alive)


def _squared_distances(points: Floats) -> Floats:
    found = np.zeros((len(points), len(points)))
    for column in points.T:  # over objectives: a few
        found += (column[:, None] - column[None]) ** 2
    return found


@dataclass(eq=False)
class Archive:
    """Members of one envelope by their predicted objectives, scaled so that 0 is the ideal and 1 the reference point.

    members, points [n, M]: mutually non-dominated, in order of points, then id. reserve: dominated by few members, or
    crowded out. cap: members are cut back to it once they exceed it by a quarter.
    """

    envelope: int
    cap: int
    scale: Callable[[int, Floats], Floats]
    members: list[Candidate] = field(default_factory=list)
    points: Floats = field(default_factory=lambda: np.zeros((0, 0)))
    reserve: list[Candidate] = field(default_factory=list)
    _volume: tuple[bytes, float] = (b"", 0.0)
    _ground: tuple[bytes, Ground] | None = None

    def of(self, candidates: Sequence[Candidate]) -> Floats:
        """[n, M] scaled objectives of candidates in this envelope."""
        if not candidates:
            return np.zeros((0, self.points.shape[1]))
        return self.scale(self.envelope, np.stack([c.predicted[self.envelope] for c in candidates]))

    def wanted(self, points: Floats, feasible: Bools) -> Bools:
        """[n]: rows (scaled) worth offering: feasible, and dominated by few members."""
        found = np.asarray(feasible).copy()
        if len(self.members) and found.any():
            rows = np.flatnonzero(found)
            found[rows] = dominators(points[rows], self.points) <= NEAR
        return found

    def offer(self, candidates: Sequence[Candidate]) -> int:
        """Takes candidates in; returns how many of them are members afterwards. Known ids are not taken twice."""
        known = {c.id for c in self.members}
        fresh = [c for c in candidates if c.id not in known and c.promising(self.envelope)]
        if not fresh:
            return 0
        self._hold(self.members + fresh, np.concatenate([self.points, self.of(fresh)]))
        ids = {c.id for c in self.members}
        return sum(c.id in ids for c in fresh)

    def refresh(self) -> None:
        """Sorts all anew: after predictions changed or verdicts fell."""
        known: dict[str, Candidate] = {c.id: c for c in self.reserve}
        known.update({c.id: c for c in self.members})
        self.reserve = []
        held = [c for c in known.values() if c.promising(self.envelope)]
        self._hold(held, self.of(held))

    def _hold(self, candidates: list[Candidate], points: Floats) -> None:
        ids = np.array([c.id for c in candidates], dtype=str)
        order = np.lexsort((ids, *points.T[::-1])) if len(candidates) else np.zeros(0, dtype=np.int64)
        points, candidates = points[order], [candidates[k] for k in order]
        stays = nondominated(points)
        if int(stays.sum()) > self.cap + self.cap // 4:
            front = np.flatnonzero(stays)
            stays = np.zeros(len(points), dtype=bool)
            stays[front[thin(points[front], self.cap)]] = True
        self.members = [c for c, s in zip(candidates, stays, strict=True) if s]
        self.points = points[stays]
        self._set_aside([c for c, s in zip(candidates, stays, strict=True) if not s])

    def _set_aside(self, candidates: list[Candidate]) -> None:
        self.reserve += candidates
        if len(self.reserve) <= 4 * self.cap:
            return
        unique = {c.id: c for c in self.reserve}
        held = [unique[k] for k in sorted(unique)]
        points = self.of(held)
        order = np.lexsort((*points.T[::-1], dominators(points, self.points)))
        self.reserve = [held[int(k)] for k in order[: 2 * self.cap]]

    def cut(self, cap: int) -> None:
        """Cuts the members to at most cap, but keeps all that are verified; what goes lies in reserve."""
        if len(self.members) <= cap:
            return
        rows = set(thin(self.points, cap, [k for k, c in enumerate(self.members) if c.verified]).tolist())
        gone = [c for k, c in enumerate(self.members) if k not in rows]
        self.members = [c for k, c in enumerate(self.members) if k in rows]
        self.points = self.points[sorted(rows)]
        self._set_aside(gone)

    def hypervolume(self) -> float:
        """Share of the envelope's box that the members dominate (kept until the members change)."""
        content = self.points.tobytes()
        if self._volume[0] != content:
            self._volume = (content, share(self.points))
        return self._volume[1]

    def ground(self) -> Ground:
        """What the members leave to be won (kept until they change)."""
        content = self.points.tobytes()
        if self._ground is None or self._ground[0] != content:
            self._ground = (content, Ground(self.points, self.points.shape[1]))
        return self._ground[1]

    def gains(self) -> Floats:
        """[n]: what each member is worth to the front: the hypervolume it adds; with more than three objectives, where
        that costs too much, the distance to its nearest neighbour."""
        if self.points.shape[1] > 3 and len(self.members) > 1:
            far = _squared_distances(self.points)
            np.fill_diagonal(far, np.inf)
            return np.asarray(np.sqrt(far.min(axis=1)))
        return contributions(np.maximum(self.points, 0.0), np.ones(self.points.shape[1]))


def share(points: Floats) -> float:
    """Share of the unit box that scaled points dominate; points better than the ideal count as on its face."""
    return min(hypervolume(np.maximum(points, 0.0), np.ones(points.shape[1])), 1.0) if len(points) else 0.0
