"""Closing loops: hinge angles that keep every loop of a panel-and-hinge structure shut.

`close` projects a guess onto closure with some hinges held, `branch` finds the closed
state that has given mountains and valleys, `follow` goes along a schedule of driven
hinges with step control. Batches throughout: each candidate converges, halves its steps
and fails on its own, so a batch gives what its rows give one at a time.

At exactly flat the rows of a zero-thickness vertex drop in rank and its branches meet:
start from a folded state; a path may end flat, not pass through.
"""

from dataclasses import dataclass

import numpy as np

from synth.core.arrays import Bools, Column, Floats, Ints
from synth.core.status import Status
from synth.core.topology import Topology
from synth.fold.closure import Closure, closure

TOLERANCE = 1e-9
"""Closure asked of every state: metres and radians."""
DAMPING = 1e-13
"""Least-squares damping relative to the largest squared column sum; freedoms weaker than 3e-7 stand still."""
LONGEST_TURN = 0.4
"""Largest change of an angle in one iteration, rad."""
MOST_ITERATIONS = 40
STEP = 0.15
"""Largest predicted change of an angle in one continuation step, rad."""
LEAST_SHARE = 1e-5
"""Least step, as a share of the interval between two stations, before a path counts as stuck."""
NO_CLOSURE = "the hinge loops do not close at the driving angles"
NO_BRANCH = "no closed state has these mountains and valleys at the driving angles"
STUCK = "the hinge loops jam before the end of the path"


@dataclass(frozen=True, eq=False)
class _Linkage:
    """What is being closed: topology, axis [B, H, 2, 3], spherical."""

    topology: Topology
    axis: Floats
    spherical: bool

    def at(self, angles: Floats) -> Closure:
        return closure(self.topology, self.axis, angles, self.spherical)

    def rows(self, chosen: Ints | Bools) -> "_Linkage":
        return _Linkage(self.topology, self.axis[chosen], self.spherical)


@dataclass(frozen=True, eq=False)
class Closed:
    """angles [B, H] rad; residual [B]: largest opening of a loop, m or rad; status."""

    angles: Floats
    residual: Column
    status: Status


@dataclass(frozen=True, eq=False)
class Followed:
    """angles [B, S, H] rad; residual [B, S]: largest opening, m or rad; steps [B]: continuation steps tried; status."""

    angles: Floats
    residual: Floats
    steps: Ints
    status: Status


def close(
    topology: Topology, axis: Floats, guess: Floats, driven: Bools, values: Floats, spherical: bool = False
) -> Closed:
    """Angles nearest to a guess that close all loops, with the driven hinges held.

    Gauss-Newton on `closure`: (J^T J + e I) d = -J^T r over the free hinges, at most LONGEST_TURN a time, until the
    step is below 1e-12 rad. axis [B, H, 2, 3], guess [B, H], driven [H], values [B, n driven]. With more freedoms
    than driven hinges the step of least length is taken. Valid away from states where branches meet; there the
    residual still vanishes but the angles are only good to its square root. Never raises: see status.
    """
    start = _held(guess, driven, values)
    angles, residual = _newton(_Linkage(topology, axis, spherical), start, (~driven).astype(np.float64))
    return Closed(angles, residual, _judged(residual, NO_CLOSURE))


def branch(
    topology: Topology, axis: Floats, sense: Floats, driven: Bools, values: Floats, spherical: bool = False
) -> Closed:
    """A closed state whose folds have given signs: the branch that a mountain-valley choice names.

    Solves in u with angle = 2 atan(sense exp(u)), so no iterate can change a sign; starts from equal sizes and then
    from a fixed list of unequal ones. sense [H] or [B, H]: +1 valley, -1 mountain, 0 stays flat (held at 0); driven
    hinges take values [B, n driven] as given. Folds of a state lie strictly between 0 and pi.
    """
    signs = np.broadcast_to(np.asarray(sense, dtype=np.float64), axis.shape[:2])
    free, linkage = (~driven).astype(np.float64), _Linkage(topology, axis, spherical)
    size = np.log(np.tan(0.5 * np.clip(np.abs(values), 1e-6, np.pi - 1e-6))).mean(axis=-1)
    best, least = _held(np.zeros(axis.shape[:2]), driven, values), np.full(len(axis), np.inf)
    for spread in _spreads(axis.shape[1]):
        open_ = least > TOLERANCE
        if not open_.any():
            break
        u = size[open_, None] + spread
        angles = _held(2.0 * np.arctan(signs[open_] * np.exp(u)), driven, values[open_])
        angles, residual = _newton(linkage.rows(open_), angles, free, signs[open_])
        better = residual < least[open_]
        rows = np.flatnonzero(open_)[better]
        best[rows], least[rows] = angles[better], residual[better]
    return Closed(best, least, _judged(least, NO_BRANCH))


def follow(
    topology: Topology, axis: Floats, start: Floats, driven: Bools, path: Floats, spherical: bool = False
) -> Followed:
    """Angles along a schedule, by continuation from a folded state.

    path [S, n driven] or [B, S, n driven]: angles of the driven hinges at the stations (rad), the first one at or
    near `start` [B, H], which is projected there. Tangent predictor, Newton corrector; a step is halved where the
    predicted turn exceeds STEP, closure fails, or the correction exceeds a tenth of the step (another branch may be
    near). Only the last station may be flat. Rows that jam keep their last closed angles and say so in status.
    """
    schedule = np.broadcast_to(path, (len(axis), *np.shape(path)[-2:]))
    flat = np.abs(schedule).max(axis=-1) == 0.0
    if flat[:, :-1].any():
        raise ValueError("only the last station of a path may be flat: branches meet there")
    first = close(topology, axis, start, driven, schedule[:, 0], spherical)
    out, steps = np.repeat(first.angles[:, None], schedule.shape[1], axis=1), np.zeros(len(axis), dtype=np.int64)
    alive, linkage = first.status.ok, _Linkage(topology, axis, spherical)
    for station in range(1, schedule.shape[1]):
        here, there = schedule[:, station - 1], schedule[:, station]
        legs = [np.where(flat[:, station, None], here + 0.99 * (there - here), there)] if flat[:, station].any() else []
        now = out[:, station - 1]
        for target in [*legs, there]:
            now, arrived, tried = _travel(linkage, now, driven, target, alive)
            steps, alive = steps + tried, alive & arrived
        out[:, station] = now
    residual = np.stack([linkage.at(out[:, k]).gap for k in range(out.shape[1])], axis=1)
    status = first.status.require(np.where(alive, 0.0, -1.0), STUCK)
    return Followed(out, residual, steps, _judged(residual.max(axis=1), NO_CLOSURE, status))


def _travel(linkage: _Linkage, now: Floats, driven: Bools, target: Floats, alive: Bools) -> tuple[Floats, Bools, Ints]:
    """Moves rows to the target values of the driven hinges; angles, which arrived, steps tried."""
    now, done, share = now.copy(), np.zeros(len(now)), np.ones(len(now))
    tried, free = np.zeros(len(now), dtype=np.int64), (~driven).astype(np.float64)
    origin = now[:, driven]
    # an exactly flat target: the flat state is closed by definition, and Newton is only good to the root there
    snap = alive & (np.abs(target).max(axis=-1) == 0.0) & (np.abs(now).max(axis=-1) < 0.1)
    now[snap], done[snap] = 0.0, 1.0
    moving = alive & (done < 1.0)
    while moving.any():
        k = np.flatnonzero(moving)
        goal = np.minimum(done[k] + share[k], 1.0)
        values = origin[k] + goal[:, None] * (target[k] - origin[k])
        part = linkage.rows(k)
        state = part.at(now[k])
        turn = np.zeros_like(now[k])
        turn[:, driven] = values - now[k][:, driven]
        pushed = state.rows + np.einsum("brh,bh->br", state.jacobian, turn)
        turn = turn + _least_squares(state.jacobian * free, pushed, free)
        size = np.abs(turn).max(axis=-1)
        guess = _held(now[k] + np.clip(turn, -1.0, 1.0), driven, values)
        angles, residual = _newton(part, guess, free)
        wander = np.abs(angles - guess).max(axis=-1)
        good = (residual <= TOLERANCE) & (size <= STEP) & (wander <= 0.1 * size + 1e-7)
        kept = k[good]
        now[kept], done[kept] = angles[good], goal[good]
        share[kept] *= 2.0
        share[k[~good]] *= 0.5
        tried[k] += 1
        moving = alive & (done < 1.0) & (share >= LEAST_SHARE)
    return now, done >= 1.0, tried


def _newton(linkage: _Linkage, angles: Floats, free: Floats, signs: Floats | None = None) -> tuple[Floats, Column]:
    """Damped Gauss-Newton over the free hinges [H] (1 free, 0 held); with signs, in u of angle = 2 atan(sign exp u)."""
    angles = angles.copy()
    active = np.ones(len(angles), dtype=bool)
    for _ in range(MOST_ITERATIONS):
        k = np.flatnonzero(active)
        state = linkage.rows(k).at(angles[k])
        slope = free if signs is None else free * np.sin(angles[k])
        turn = _least_squares(state.jacobian * np.broadcast_to(slope, angles[k].shape)[:, None], state.rows, free)
        limit = LONGEST_TURN if signs is None else 2.0
        longest = np.abs(turn).max(axis=-1)
        turn *= np.minimum(1.0, limit / np.where(longest > 0.0, longest, 1.0))[:, None]
        if signs is None:
            angles[k] += turn
        else:
            half = np.tan(0.5 * np.abs(angles[k])) * np.exp(turn)
            angles[k] = np.where(free > 0.0, 2.0 * np.arctan(signs[k] * np.minimum(half, 1e12)), angles[k])
        active[k] = longest > 1e-12
        if not active.any():
            break
    return angles, linkage.at(angles).gap


def _least_squares(jacobian: Floats, rows: Floats, free: Floats) -> Floats:
    """Turns [B, H] that undo rows [B, R] to first order, zero where not free, short where there is a choice."""
    transposed = np.swapaxes(jacobian, -1, -2)
    normal = transposed @ jacobian
    pushed = -(transposed @ rows[..., None])
    weight = np.trace(normal, axis1=-2, axis2=-1)
    h = np.arange(len(free))
    normal[:, h, h] += DAMPING * np.maximum(weight, 1.0)[:, None] + (1.0 - free)
    return np.asarray(np.linalg.solve(normal, pushed)[..., 0] * free)


def _held(angles: Floats, driven: Bools, values: Floats) -> Floats:
    out = np.array(angles, dtype=np.float64)
    out[:, driven] = values
    return out


def _spreads(hinges: int) -> list[Floats]:
    """Starting offsets of u [H]: none, then eleven in (-1.5, 1.5) and eleven in (-5, 5) from the golden ratio sequence:
    where one fold is nearly half a turn (u = 5: 179 degrees) while another is small."""
    golden = 0.5 * (np.sqrt(5.0) - 1.0)
    count = np.arange(hinges, dtype=np.float64)
    spread = [2.0 * ((golden * (count + 1.0) * (k + 1.0) + 0.37 * k) % 1.0) - 1.0 for k in range(11)]
    return [np.zeros(hinges), *(1.5 * u for u in spread), *(5.0 * u for u in spread)]


def _judged(residual: Column, words: str, status: Status | None = None) -> Status:
    found = Status.fine(len(residual)) if status is None else status
    return found.require(np.where(residual <= TOLERANCE, 0.0, -np.minimum(residual, 1.0)), words)
