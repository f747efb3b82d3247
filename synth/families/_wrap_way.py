"""The way of one arm of a wrapped hub from stowed to deployed: the fold angles on which the thin sheet has no strain.

All arms move alike, so the angles of one arm are the motion. Its hinges are true; the corner creases between arms
close loops. Without thickness, every quad but the last inner one split along a diagonal, rigid panels keep them
closed all the way, with one freedom (own derivation by counting, see `_wrap_arm.pieces`; the tests follow it). The
last spine opens steadily and is the clock: at every knot the other angles are those that make the sum of squared
partings of the seam lines least, followed from knot to knot from the flat sheet to the drum.

Arms of some thickness take the same angles. Their seams then part by a pitch or so, because levelled stacks step out
by two layers from wall to wall. A way that makes the partings of thick arms least at every knot, tried, comes to the
same 1.335 pitches for thin layers of six sides, and to more where the stack opens.
"""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from synth.core.arrays import Bools, Column, Floats, Ints, compose, cross, transform, turn_about, unit

KNOTS = 200
"""As many as a record has frames, so that the way of a record is linear between its frames."""
MOST_STEPS = 30
HOLD = 1e-3
"""Weight of staying near the knot before (rad) against parting over hub radius: settles what seams leave open."""
MOST_TURN = 0.15
"""rad by which an angle may change in one step: larger steps may come to another way of folding."""
ENOUGH = 1e-7
"""rad: steps smaller than this end the search of a row."""
ROW_FOLD, LATE = 3, 0.35
"""With a row: the hinge of its fold, and how far the last hinge lags behind it near the flat sheet."""
SEED = {
    5: (-1.0, 1.25, -1.55, 0.27, 1.0),
    9: (-1.15, 1.45, -1.82, 0.32, 1.16, -0.07, -1.55, 0.16, 1.0),
}
"""Angles of an arm over its clock's, all but flat, about: which of the ways that meet there is the one to the drum."""


@dataclass(frozen=True, eq=False)
class Arm:
    """Arms of B candidates, one wall: what hangs on what, and the seams to other arms.

    axis [B, M, 2, 3] hinge lines of the M pieces in turn; stowed [M] rad. first, second, ahead, behind [Q]: pieces on
    the two sides of each seam, and how many walls further on their arms are than gore 0's wall; line [B, Q, 2, 3]:
    the seam's line, deployed. radius [B]: hub circumradius. All m, deployed.
    """

    sides: int
    axis: Floats
    stowed: Floats
    first: tuple[int, ...]
    second: tuple[int, ...]
    ahead: tuple[int, ...]
    behind: tuple[int, ...]
    line: Floats
    radius: Column

    def take(self, rows: Ints) -> "Arm":
        """These rows only."""
        if len(rows) == len(self.radius):
            return self
        return replace(self, axis=self.axis[rows], line=self.line[rows], radius=self.radius[rows])

    @cached_property
    def seams(self) -> "tuple[_Seams, _Seams]":
        """The two sides of the seams."""
        count = self.axis.shape[-3]
        one = _Seams.of(self, np.array(self.first), self.ahead, 1.0, count)
        return one, _Seams.of(self, np.array(self.second), self.behind, -1.0, count)


@dataclass(frozen=True, eq=False)
class _Seams:
    """One side of all seams: piece [Q] and sign of what it adds; there [Q, 3, 4]: from gore 0's arm to its own; local
    [B, Q, 2, 3]: the lines brought back to gore 0; felt [1, Q, 1, M, 1]: hinges that move the piece."""

    piece: Ints
    sign: float
    there: Floats
    local: Floats
    felt: Bools

    @staticmethod
    def of(arm: Arm, piece: Ints, walls: tuple[int, ...], sign: float, count: int) -> "_Seams":
        there, back = (np.stack([spin(w * f, arm.sides) for w in walls]) for f in (1, -1))
        felt = (np.arange(count)[None, :] <= piece[:, None])[None, :, None, :, None]
        return _Seams(piece, sign, there, transform(back, arm.line), felt)


def arm_poses(axis: Floats, angles: Floats) -> Floats:
    """Poses [..., M, 3, 4] of the pieces of a chain: axis [..., M, 2, 3] broadcasts against angles [..., M]."""
    turns = turn_about(axis[..., 0, :], axis[..., 1, :], angles)
    out = [turns[..., 0, :, :]]
    for m in range(1, turns.shape[-3]):
        out.append(compose(out[-1], turns[..., m, :, :]))
    return np.stack(out, axis=-3)


def spin(count: int, sides: int) -> Floats:
    """Pose [3, 4] of a turn about z by count walls."""
    a = 2.0 * np.pi * count / sides
    return np.array([[np.cos(a), -np.sin(a), 0.0, 0.0], [np.sin(a), np.cos(a), 0.0, 0.0], [0.0, 0.0, 1.0, 0.0]])


def partings(arm: Arm, angles: Floats) -> Floats:
    """Offset [B, S, Q, 2, 3] (m) between each seam line carried by its first piece and by its second, at both ends.

    angles [B, S, M].
    """
    placed = arm_poses(arm.axis[:, None], angles)
    out = []
    for q in range(len(arm.first)):
        ends = arm.line[:, None, q]
        carried = []
        for piece, walls in ((arm.first[q], arm.ahead[q]), (arm.second[q], arm.behind[q])):
            local = transform(spin(-walls, arm.sides), ends)
            carried.append(transform(spin(walls, arm.sides), transform(placed[:, :, piece], local)))
        out.append(carried[0] - carried[1])
    return np.stack(out, axis=2)


def thin_way(arm: Arm) -> Floats:
    """Angles [KNOTS, M] at evenly spaced s of an arm without thickness, a batch of one: stowed at s = 0, zero at 1."""
    found = np.zeros((KNOTS, len(arm.stowed)))
    found[0] = arm.stowed
    clock = arm.stowed[-1] * np.linspace(1.0, 0.0, KNOTS)
    at = clock[-2] * np.array(SEED[len(arm.stowed)])[None]
    for k in range(KNOTS - 2, 0, -1):
        at[:, -1] = clock[k]
        for _ in range(2):
            at = _closest(arm, at)
        found[k] = at[0]
        # straight on; the first step away from flat in proportion
        at = 2.0 * at - found[k + 1]
    return found


def thin_way_of_two(arm: Arm) -> Floats:
    """Angles [KNOTS, M] of an arm of `_wrap_arm.pieces` with a row, which has two freedoms without thickness.

    Two clocks, therefore: the row's fold (hinge 3) opens steadily, v from 1 to 0, and the last one takes the share
    v (LATE + (1 - LATE) v^2) of its half turn, so that both ends are met and no fold passes its own (found by trying).
    Followed from the drum, where the seams hold the other four angles, to the flat sheet, where they do not.
    """
    found = np.zeros((KNOTS, len(arm.stowed)))
    found[0] = arm.stowed
    share = np.linspace(1.0, 0.0, KNOTS)
    clocks, told = (ROW_FOLD, len(arm.stowed) - 1), np.stack([share, share * (LATE + (1.0 - LATE) * share**2)])
    at = arm.stowed[None].copy()
    for k in range(1, KNOTS - 1):
        for clock, s in zip(clocks, told[:, k], strict=True):
            at[:, clock] = arm.stowed[clock] * s
        for _ in range(2):
            at = _closest(arm, at, clocks)
        found[k] = at[0]
        at = 2.0 * at - found[k - 1]
    return found


def _closest(arm: Arm, start: Floats, clocks: tuple[int, ...] = (-1,)) -> Floats:
    """Angles [B, M] near start with the least parting, the clocks as they are (damped Gauss-Newton, each row by
    itself)."""
    count = start.shape[1]
    free = [m for m in range(count) if m not in {c % count for c in clocks}]
    out, damping = start.copy(), np.full(len(start), 1e-6)
    going = np.arange(len(start))
    error, slope = _errors(arm, out, start, free)
    for _ in range(MOST_STEPS):
        normal = np.einsum("bef,beg->bfg", slope, slope) + damping[going, None, None] * np.eye(len(free))
        step = np.linalg.solve(normal, -np.einsum("bef,be->bf", slope, error)[..., None])[..., 0]
        step *= np.minimum(1.0, MOST_TURN / np.maximum(np.abs(step).max(axis=1), 1e-30))[:, None]
        tried = out[going].copy()
        tried[:, free] += step
        new, new_slope = _errors(arm.take(going), tried, start[going], free)
        better = (new**2).sum(axis=1) <= (error**2).sum(axis=1)
        out[going] = np.where(better[:, None], tried, out[going])
        error = np.where(better[:, None], new, error)
        slope = np.where(better[:, None, None], new_slope, slope)
        damping[going] *= np.where(better, 0.2, 10.0)
        left = np.abs(step).max(axis=1) > ENOUGH
        going, error, slope = going[left], error[left], slope[left]
        if not len(going):
            break
    return out


def _errors(arm: Arm, angles: Floats, start: Floats, free: list[int]) -> tuple[Floats, Floats]:
    """Partings [B, E] over the hub's radius, then what holds the free angles [F] near start, and their slopes."""
    error, slope = closure(arm, angles, free)
    hold = np.broadcast_to(HOLD * np.eye(len(free)), (len(angles), len(free), len(free)))
    return np.concatenate([error, HOLD * (angles - start)[:, free]], axis=1), np.concatenate([slope, hold], axis=1)


def closure(arm: Arm, angles: Floats, free: list[int]) -> tuple[Floats, Floats]:
    """Partings [B, E] over the hub's radius and their slopes [B, E, F] in the free angles.

    A point carried by piece p moves by w_m x (x - o_m) for each hinge m <= p, o_m and w_m its line where it is.
    """
    count = angles.shape[1]
    placed = arm_poses(arm.axis, angles)
    held = np.concatenate([np.broadcast_to(np.eye(3, 4), placed[:, :1].shape), placed[:, :-1]], axis=1)
    lines = transform(held, arm.axis)
    way = unit(lines[..., 1, :] - lines[..., 0, :])
    apart = np.zeros((*arm.line.shape[:2], 2, 3))
    slopes = np.zeros((*apart.shape, count))
    for side in arm.seams:
        local = transform(placed[:, side.piece], side.local)
        apart = apart + side.sign * transform(side.there, local)
        arms = local[:, :, :, None] - lines[:, None, None, :, 0]
        moved = cross(way[:, None, None], arms) * side.felt
        slopes = slopes + side.sign * np.einsum("qij,bqemj->bqeim", side.there[:, :, :3], moved)
    scale = 1.0 / arm.radius
    rows = len(angles)
    error = (apart * scale[:, None, None, None]).reshape(rows, -1)
    return error, (slopes * scale[:, None, None, None, None]).reshape(rows, -1, count)[..., free]
