"""In which order a stack of half turns opens, so that nothing is crossed and little passes close by.

Thin sheets first. All tiles of a folded tree lie in cells of one tiling, each at a
level; one hinge opens by swinging its whole branch about one line. The branch meets
nothing in between: contact is possible only where it leaves and where it lands, with
what lies in the same cell (which must be on the far side) and, for thick panels, with
what stands in the cells beside. A point that lands at depth d below the axis, a
distance n from it, passes a neighbour at depth z (0 <= z < d) farther out by

    sqrt(n^2 + d^2 - z^2) - n

(elementary: it stays on a circle about the axis) and, in passing a neighbour that stands
to a height z above the axis, |z| > |d|, nearer by n - sqrt(n^2 + d^2 - z^2). The gap
between the outlines must be at least that times the cosine between that edge's normal and the swing. A pack that
has to go down a hole between deployed neighbours therefore asks for a wide gap; a panel
that lands flush, for next to none. The order found asks for the least gap.
"""

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np

from synth.core.arrays import Bools, Column, Floats, Ints
from synth.core.layers import Stack
from synth.families._tiling import Tiling

PITCH, THICKNESS = 0.022, 0.020
"""Typical pitch and thickness in tile units: they only rank the orders."""
_NONE = np.zeros((0, 5))


@dataclass(frozen=True, eq=False)
class State:
    """Poses of the tiles: x -> turn x + shift in plan, z -> level (pitches, mid-plane) + facing z; folded [H]."""

    turn: Floats
    shift: Floats
    facing: Ints
    level: Floats
    folded: Bools


@dataclass(frozen=True, eq=False)
class Swing:
    """One hinge opening: moved tiles [M], centres at both ends [M, 2], levels at both ends [M], whether it goes by
    the front (up), passing terms [N, 5], and the gap they ask for at typical sizes (inf: impossible)."""

    hinge: int
    moved: Ints
    before: Floats
    after: Floats
    low: Floats
    high: Floats
    up: bool
    terms: Floats
    gap: float


@dataclass(frozen=True, eq=False)
class Opening:
    """stage [H]; terms [N, 5]: ends of the shared edge as distances n from the axis (tile units), cosine
    (positive where the neighbour stands farther out), levels of the passing and of the standing panel
    above the axis (pitches); gap: what they ask for at typical sizes (inf: sheets would cross)."""

    stage: Ints
    terms: Floats
    gap: float


def passing_gap(terms: Floats, unit: Column, pitch: Column, thickness: Column, blunt: Column) -> Floats:
    """Gap [B, N] that each passing term [N, 5] asks for, m.

    unit [B]: the tile unit in m; blunt [B]: share of the edge missing at either end.
    """
    t, p = thickness[:, None], pitch[:, None]
    cut = blunt[:, None] * (terms[None, :, 1] - terms[None, :, 0])
    lower = np.maximum(terms[None, :, 0] + cut, 0.0) * unit[:, None]
    upper = np.maximum((terms[None, :, 1] - cut) * unit[:, None], lower)
    cosine = terms[None, :, 2]
    passing, standing = terms[None, :, 3] * p, terms[None, :, 4] * p
    deepest = t / 2.0 - passing
    nearest = np.maximum(np.abs(standing) - t / 2.0, 0.0)
    # outwards: the standing panel's top must lie above the lowest point that passes
    meets = (deepest > 0.0) & (-(standing + t / 2.0) < deepest - 1e-12) & (nearest < deepest)
    out = np.where(meets, np.sqrt(lower**2 + np.maximum(deepest**2 - nearest**2, 0.0)) - lower, 0.0)
    # inwards: a standing panel whose top is above the axis is passed nearer to the axis than the landing place
    top = standing + t / 2.0
    least = np.maximum(np.abs(passing) - t / 2.0, 0.0)
    drop = np.where((top > 0.0) & (top > least), top**2 - least**2, 0.0)
    n = np.clip(np.sqrt(drop), lower, upper)
    inward = np.where(drop > 0.0, n - np.sqrt(np.maximum(n**2 - drop, 0.0)), 0.0)
    return np.asarray(np.where(cosine > 0.0, out, inward) * np.abs(cosine))


class Unfolding:
    """The folded tree of one stack. tile [P]: the tile of each panel; parents before children.

    hardware: what opening a hinge asks for beyond the panels, as a gap at typical sizes (see _fins).
    """

    def __init__(
        self,
        tiles: Tiling,
        tile: Sequence[int],
        parent: Sequence[int],
        stack: Stack,
        hardware: "Callable[[Unfolding, State, int], float] | None" = None,
    ) -> None:
        self.hardware = hardware
        self._asked: dict[tuple[bytes, int], float] = {}
        self._swings: dict[tuple[bytes, int], Swing] = {}
        self.tiles = tiles
        self.tile = np.asarray(tile, dtype=np.int64)
        self.parent = [int(p) for p in parent]
        self.stack = stack
        count = len(self.parent)
        self.centre = tiles.centre[self.tile]
        self.reach = (stack.sense * stack.steps).astype(np.float64)
        branch = np.eye(count, dtype=bool)
        for panel in range(count - 1, 0, -1):
            branch[self.parent[panel]] |= branch[panel]
        self.branch = branch
        up = self.centre[1:] - self.centre[self.parent[1:]]
        self.normal = up / np.linalg.norm(up, axis=-1, keepdims=True)
        self.middle = (self.centre[1:] + self.centre[self.parent[1:]]) / 2.0
        self.half_edge = tiles.circumradius * np.sin(np.pi / tiles.sides)
        self.corners = tiles.circumradius * tiles.corner_directions[self.tile]

    def stowed(self) -> State:
        """Every hinge at half a turn."""
        count = len(self.parent)
        state = State(
            np.broadcast_to(np.eye(2), (count, 2, 2)).copy(),
            np.zeros((count, 2)),
            np.ones(count, dtype=np.int64),
            np.zeros(count),
            np.ones(count - 1, dtype=bool),
        )
        for panel in range(count - 1, 0, -1):
            state = self.turned(state, panel - 1)
        return replace(state, folded=np.ones(count - 1, dtype=bool))

    def line(self, state: State, hinge: int) -> tuple[Floats, Floats, float, bool]:
        """Mid-point, normal (from i to deployed j), axis level and whether the panel swings by the front."""
        p = self.parent[hinge + 1]
        middle = state.turn[p] @ self.middle[hinge] + state.shift[p]
        normal = state.turn[p] @ self.normal[hinge]
        # many reflections one after another would let rounding grow
        normal = normal / np.linalg.norm(normal)
        axis = float(state.level[p] + state.facing[p] * self.reach[hinge] / 2.0)
        return middle, normal, axis, bool(state.facing[p] * self.stack.sense[hinge] > 0)

    def turned(self, state: State, hinge: int) -> State:
        """The state with one hinge turned by half a turn (either way)."""
        middle, normal, axis, _ = self.line(state, hinge)
        moved = self.branch[hinge + 1]
        mirror = np.eye(2) - 2.0 * np.outer(normal, normal)
        turn, shift = state.turn.copy(), state.shift.copy()
        turn[moved] = mirror @ state.turn[moved]
        shift[moved] = state.shift[moved] @ mirror + 2.0 * normal * (normal @ middle)
        folded = state.folded.copy()
        folded[hinge] = ~folded[hinge]
        return State(
            turn,
            shift,
            np.where(moved, -state.facing, state.facing),
            np.where(moved, 2.0 * axis - state.level, state.level),
            folded,
        )

    def centres(self, state: State) -> Floats:
        """Tile centres [P, 2] in plan."""
        return np.asarray(np.einsum("pij,pj->pi", state.turn, self.centre) + state.shift)

    def swing(self, state: State, hinge: int) -> Swing:
        """What opening one hinge meets on its way."""
        key = state.folded.tobytes(), hinge
        if key not in self._swings:
            self._swings[key] = self._swing(state, hinge)
        return self._swings[key]

    def _swing(self, state: State, hinge: int) -> Swing:
        middle, normal, axis, up = self.line(state, hinge)
        moved = np.flatnonzero(self.branch[hinge + 1])
        still = np.flatnonzero(~self.branch[hinge + 1])
        sign = 1.0 if up else -1.0
        centre = self.centres(state)
        before = centre[moved]
        after = before - 2.0 * ((before - middle) @ normal)[:, None] * normal
        z_before = (state.level[moved] - axis) * sign
        z_still = (state.level[still] - axis) * sign
        other = centre[still]
        landing = self._passing(after, -z_before, other, z_still, middle, normal)
        leaving = None if landing is None else self._passing(before, z_before, other, z_still, middle, -normal)
        if landing is None or leaving is None:
            terms, gap = _NONE, np.inf
        else:
            terms = np.concatenate([landing, leaving])
            gap = _typical_gap(terms)
        z_after = 2.0 * axis - state.level[moved]
        low, high = np.minimum(state.level[moved], z_after), np.maximum(state.level[moved], z_after)
        return Swing(hinge, moved, before, after, low, high, up, terms, gap)

    def _passing(
        self, moving: Floats, z: Floats, still: Floats, z_still: Floats, middle: Floats, normal: Floats
    ) -> Floats | None:
        """Passing terms [N, 5] near a landing from above on the side of `normal`; None where sheets would cross."""
        apart = still[None, :, :] - moving[:, None, :]
        distance = np.sqrt((apart**2).sum(axis=-1))
        n = (moving - middle) @ normal
        same = distance < 1e-6
        clear = np.where(n[:, None] > 0.05, z_still < z[:, None], (n[:, None] < -0.05) & (z_still > z[:, None]))
        if bool((same & ~clear).any()):
            return None
        a, b = np.nonzero((distance > 1e-6) & (distance < 2.0 * self.tiles.inradius + 1e-6))
        cosine = (apart[a, b] / distance[a, b, None]) @ normal
        half = self.half_edge * np.sqrt(np.maximum(1.0 - cosine**2, 0.0))
        edge = n[a] + (apart[a, b] @ normal) / 2.0
        found = []
        for side in (1.0, -1.0):
            # beyond the axis the same things come from below
            near = side * edge - half
            far = near + 2.0 * half
            use = (np.abs(cosine) > 1e-6) & (far > 1e-6)
            columns = [near, far, side * cosine, side * z[a], side * z_still[b]]
            found.append(np.stack(columns, axis=-1)[use])
        return np.concatenate(found)

    def opening(self) -> Opening:
        """The stages found: the least gap first, then as many hinges at once as are safe whatever the sizes."""
        count = len(self.parent) - 1
        best = self._along([int(h) for h in np.lexsort((np.arange(count), self.stack.stage))])
        for big_first in (False, True):
            found = self._one_by_one(big_first)
            if found is not None and _worst(found) < _worst(best) - 1e-9:
                best = found
        stages = [[s] for s in best]
        gap = _worst(best)
        if count <= 40 and np.isfinite(gap):
            together = self._together(gap + 1e-9)
            stages = together if together is not None and len(together) < len(stages) else stages
        stage = np.zeros(count, dtype=np.int64)
        for k, group in enumerate(stages):
            stage[[s.hinge for s in group]] = k
        return Opening(stage, _worst_terms([s.terms for group in stages for s in group]), gap)

    def _full(self, state: State, swing: Swing, limit: float = np.inf) -> Swing:
        """The swing, its gap raised to what the hinges ask for; not looked at where the panels alone ask for more."""
        if self.hardware is None or not swing.gap <= limit or not np.isfinite(swing.gap):
            return swing
        # which hinges are folded decides the state, and the orders that are tried share many
        key = state.folded.tobytes(), swing.hinge
        if key not in self._asked:
            self._asked[key] = self.hardware(self, state, swing.hinge)
        return replace(swing, gap=max(swing.gap, self._asked[key]))

    def _along(self, order: Sequence[int]) -> list[Swing]:
        """The swings of a given order, one hinge after another."""
        state, swings = self.stowed(), []
        for hinge in order:
            swings.append(self._full(state, self.swing(state, hinge)))
            state = self.turned(state, hinge)
        return swings

    def _one_by_one(self, big_first: bool) -> list[Swing] | None:
        """Greedy: always the swing that raises the gap asked for least; of equals the smallest (or biggest) branch."""
        state, order, paid = self.stowed(), [], 0.0
        while state.folded.any():
            swings = [self.swing(state, int(h)) for h in np.flatnonzero(state.folded)]
            swings = [s for s in swings if np.isfinite(s.gap)]
            if not swings:
                return None
            size = -1 if big_first else 1
            swings.sort(key=lambda s: (max(round(s.gap, 7), paid), size * len(s.moved), s.hinge))
            best = self._cheapest(state, swings, paid)
            paid = max(paid, round(best.gap, 7))
            order.append(best)
            state = self.turned(state, best.hinge)
        return order

    def _cheapest(self, state: State, swings: list[Swing], paid: float) -> Swing:
        """The first of sorted swings that asks for no more than is paid already, or the least of all."""
        best: Swing | None = None
        for swing in swings:
            if best is not None and best.gap <= max(swing.gap, paid) + 1e-7:
                break
            full = self._full(state, swing)
            if best is None or full.gap < best.gap - 1e-7:
                best = full
        assert best is not None
        return best

    def _passes(self, state: State, hinge: int, limit: float) -> bool:
        """Whether a hinge opens within a gap limit."""
        return self._full(state, self.swing(state, hinge), limit).gap <= limit

    def _together(self, limit: float) -> list[list[Swing]] | None:
        """Groups of swings within a gap limit that may share a stage; None where the greedy choice ends blocked."""
        state, groups = self.stowed(), []
        while state.folded.any():
            swings = [self.swing(state, int(h)) for h in np.flatnonzero(state.folded)]
            swings = [s for s in (self._full(state, s, limit) for s in swings) if s.gap <= limit]
            swings.sort(key=lambda s: (round(s.gap, 7), len(s.moved), s.hinge))
            group: list[Swing] = []
            after = state
            for swing in swings:
                if all(self._apart(swing, other) for other in group) and self._passes(after, swing.hinge, limit):
                    trial = self.turned(state, swing.hinge)
                    if all(self._passes(trial, other.hinge, limit) for other in group):
                        group.append(swing)
                        after = self.turned(after, swing.hinge)
            if not group:
                return None
            groups.append(group)
            state = after
        return groups

    def _apart(self, a: Swing, b: Swing) -> bool:
        """Whether two swings keep clear of each other however they are timed.

        Either their plans (hull of start and end of every tile) are disjoint, or one goes wholly
        by the front and never below what the other, wholly by the back, ever reaches.
        """
        if np.intersect1d(a.moved, b.moved).size or self.parent[a.hinge + 1] in b.moved:
            return False
        if self.parent[b.hinge + 1] in a.moved:
            return False
        if a.up != b.up and self._halves(a if a.up else b, b if a.up else a):
            return True
        return self._plans_disjoint(a, b)

    def _halves(self, front: Swing, back: Swing) -> bool:
        """Whether `front` stays above and `back` below, and they do not land side by side."""
        if front.low.min() < back.high.max():
            return False
        if any(bool((self._side(s) < 0.05).any()) for s in (front, back)):
            return False
        apart = np.linalg.norm(front.after[:, None] - back.after[None, :], axis=-1)
        return bool((apart > 2.0 * self.tiles.inradius + 1e-6).all())

    def _side(self, swing: Swing) -> Floats:
        """Half the way each tile goes along the hinge's own swing: positive where it goes round the same side."""
        way = swing.after - swing.before
        own = way[int(np.flatnonzero(swing.moved == swing.hinge + 1)[0])]
        return np.asarray(0.5 * way @ (own / np.linalg.norm(own)))

    def _plans_disjoint(self, a: Swing, b: Swing) -> bool:
        """Separating directions between the plans of all pairs of moved tiles, a tenth of a tile kept free."""
        angle = np.pi / 12.0 * np.arange(24)
        direction = np.stack([np.cos(angle), np.sin(angle)], axis=-1)

        def reach(s: Swing) -> Floats:
            return np.asarray(np.maximum(s.before @ direction.T, s.after @ direction.T) + self.tiles.circumradius)

        ahead = reach(a)[:, None, :] + reach(b)[None, :, (np.arange(24) + 12) % 24]
        return bool((ahead.min(axis=-1) < -0.1).all())


def _typical_gap(terms: Floats) -> float:
    one = np.ones(1)
    return float(passing_gap(terms, one, PITCH * one, THICKNESS * one, 0.0 * one).max(initial=0.0))


def _worst(swings: Sequence[Swing]) -> float:
    return max((s.gap for s in swings), default=0.0)


def _worst_terms(parts: Iterable[Floats], keep: int = 48) -> Floats:
    """The distinct terms that ask for the widest gaps."""
    terms = np.concatenate([_NONE, *parts])
    terms = np.unique(np.round(terms, 9), axis=0)
    one = np.ones(1)
    asked = passing_gap(terms, one, PITCH * one, THICKNESS * one, 0.0 * one)[0]
    order = np.argsort(-asked, kind="stable")[:keep]
    return np.ascontiguousarray(terms[order[asked[order] > 0.0]])
