"""A way of least partings: all knots of an arm's motion from stowed to deployed sought at once.

Where an arm has several freedoms, or one with no hinge that goes on all the way, no clock tells the others where to be.
Here the whole way is the unknown: angles x [K, M] at K knots, both ends given, that make

    sum |partings|^2 / R^2 + hold K / 100 sum |x_k+1 - x_k|^2

least, for a hold that falls until only closure is left of it; what closure leaves free keeps the way short and its
knots evenly spread. Folds x = x_stowed / (1 + exp(-u)) and diagonals x = MOST_BEND tanh(u) cannot leave their senses or
pass their half turns. Steps are Gauss-Newton's in u, damped; knots touch their neighbours only, so the matrix is
banded. Own derivation. Which way is found hangs on the start, which is given (`START`).
"""

from dataclasses import dataclass

import numpy as np
from scipy.linalg import LinAlgError, solveh_banded

from synth.core.arrays import Floats
from synth.families._wrap_way import KNOTS, Arm, closure

COARSE = 31
HOLDS = ((COARSE, (3e-3, 3e-4, 3e-5)), (KNOTS, (1e-5, 1e-7, 1e-9, 1e-11)))
"""Knots and falling weights of shortness, in turn."""
MOST_STEPS, ENOUGH = 30, 1e-6
"""Steps for one hold; a relative gain of less ends it."""
MOST_BEND = np.radians(75.0)
MOST_STEP, MOST_U = 1.5, 16.0
LEAST_SHARE = 1e-4
"""Starts keep folds this far, of their stowed angle, from both ends."""

START: dict[tuple[int, int], tuple[tuple[float, ...], ...]] = {
    (3, 1): (
        (-1.57, 3.14, -3.14, 3.10, -3.09, 3.14, 0.00, -3.14, 0.39, 2.78, -2.71, 2.09, -2.60, 3.14),
        (-1.57, 3.12, -3.12, 2.95, -2.57, 2.83, -0.25, -2.91, 0.58, 2.47, -2.36, 1.70, -2.11, 2.61),
        (-1.56, 2.95, -2.98, 2.74, -1.96, 2.36, -0.45, -2.60, 0.40, 2.40, -1.97, 1.68, -1.91, 1.97),
        (-1.51, 2.62, -2.71, 2.52, -1.50, 1.86, -0.47, -2.31, 0.20, 2.35, -1.55, 1.37, -1.60, 1.45),
        (-1.38, 2.17, -2.34, 2.21, -1.16, 1.40, -0.43, -1.98, 0.11, 2.12, -1.20, 1.06, -1.27, 1.03),
        (-1.17, 1.68, -1.91, 1.80, -0.90, 1.03, -0.35, -1.61, 0.05, 1.75, -0.93, 0.81, -0.99, 0.73),
        (-0.90, 1.21, -1.44, 1.33, -0.67, 0.74, -0.25, -1.22, 0.03, 1.31, -0.70, 0.61, -0.75, 0.52),
        (-0.59, 0.77, -0.94, 0.87, -0.45, 0.48, -0.16, -0.81, 0.01, 0.86, -0.47, 0.41, -0.50, 0.34),
        (-0.28, 0.36, -0.45, 0.41, -0.21, 0.23, -0.08, -0.38, 0.01, 0.41, -0.23, 0.20, -0.24, 0.16),
    ),
    (3, 2): (
        (-1.57, 3.14, -3.14, 0.08, 3.06, -0.42, -2.82, 2.99, -2.14, 2.12),
        (-1.55, 2.82, -2.87, 0.52, 2.37, -0.58, -2.06, 2.42, -1.63, 1.47),
        (-1.31, 1.99, -2.18, 0.50, 1.56, -0.24, -1.60, 1.84, -1.15, 1.00),
        (-0.87, 1.17, -1.40, 0.28, 0.92, -0.08, -1.10, 1.23, -0.76, 0.65),
        (-0.42, 0.53, -0.66, 0.12, 0.43, -0.03, -0.55, 0.61, -0.38, 0.32),
    ),
}
"""By (rings, rows): angles of an arm at evenly spaced knots between stowed and deployed, about; for any sides.

Got for six sides by the same search from folds that open one after the other, the outermost first, a little of chance
added, as the best of some starts; which choice of split quads has such a way was found likewise (`_wrap_rows.SPLIT`).
"""


@dataclass(frozen=True, eq=False)
class _Told:
    """A way as free variables u: angles x and their slopes dx / du [K, M], partings e [K, E], their slopes in u
    [K, E, M], steps between knots d [K + 1, M], what is made least."""

    u: Floats
    x: Floats
    slope: Floats
    error: Floats
    pull: Floats
    step: Floats
    cost: float


def least_way(arm: Arm, start: Floats) -> Floats:
    """Angles [KNOTS, M] of an arm without thickness, a batch of one: stowed at s = 0, zero at 1; start [S, M] inner
    knots of about that."""
    way = np.concatenate([arm.stowed[None], start, np.zeros((1, len(arm.stowed)))])
    for knots, holds in HOLDS:
        way = spread(way, knots)
        for hold in holds:
            way = _settled(arm, way, hold * knots / 100.0)
    return way


def spread(way: Floats, knots: int) -> Floats:
    """A way [K, M], linear between its knots, told at other knots [knots, M]."""
    at = np.linspace(0.0, len(way) - 1.0, knots)
    return np.stack([np.interp(at, np.arange(len(way)), x) for x in way.T], axis=1)


def _settled(arm: Arm, way: Floats, hold: float) -> Floats:
    """The way [K, M] near a given one that is least for a hold (Levenberg and Marquardt's damping)."""
    ends, damping = (way[0], way[-1]), 1e-3
    now = _told(arm, _free(arm, way[1:-1]), ends, hold)
    for _ in range(MOST_STEPS):
        matrix, slope = _banded(now, hold)
        while damping < 1e8:
            damped = matrix.copy()
            damped[-1] += damping * np.maximum(matrix[-1], 1e-8)
            try:
                step = solveh_banded(damped, -slope.ravel()).reshape(now.u.shape)
            except LinAlgError:
                damping *= 10.0
                continue
            step *= min(1.0, MOST_STEP / np.abs(step).max())
            new = _told(arm, np.clip(now.u + step, -MOST_U, MOST_U), ends, hold)
            if new.cost < now.cost:
                break
            damping *= 5.0
        else:
            break
        gain, now = 1.0 - new.cost / now.cost, new
        damping = max(0.3 * damping, 1e-9)
        if gain < ENOUGH:
            break
    return np.concatenate([ends[0][None], now.x, ends[1][None]])


def _free(arm: Arm, x: Floats) -> Floats:
    """Free variables u [K, M] of angles."""
    folds = arm.stowed != 0.0
    share = np.clip(x / np.where(folds, arm.stowed, 1.0), LEAST_SHARE, 1.0 - LEAST_SHARE)
    bend = np.clip(x / MOST_BEND, -1.0 + LEAST_SHARE, 1.0 - LEAST_SHARE)
    return np.where(folds, np.log(share / (1.0 - share)), np.arctanh(bend))


def _told(arm: Arm, u: Floats, ends: tuple[Floats, Floats], hold: float) -> _Told:
    folds, share, bend = arm.stowed != 0.0, 1.0 / (1.0 + np.exp(-u)), np.tanh(u)
    x = np.where(folds, arm.stowed * share, MOST_BEND * bend)
    slope = np.where(folds, arm.stowed * share * (1.0 - share), MOST_BEND * (1.0 - bend**2))
    error, pull = closure(arm, x, list(range(u.shape[1])))
    step = np.diff(np.concatenate([ends[0][None], x, ends[1][None]]), axis=0)
    return _Told(u, x, slope, error, pull * slope[:, None], step, float((error**2).sum() + hold * (step**2).sum()))


def _banded(now: _Told, hold: float) -> tuple[Floats, Floats]:
    """Upper band [M + 1, K M] of the matrix of Gauss and Newton, and the gradient [K, M], both halved."""
    knots, count = now.u.shape
    blocks = np.einsum("kef,keg->kfg", now.pull, now.pull)
    blocks[:, range(count), range(count)] += 2.0 * hold * now.slope**2
    band = np.zeros((count + 1, knots, count))
    for f in range(count):
        for g in range(f, count):
            band[count - g + f, :, g] = blocks[:, f, g]
    band[0, 1:] = -hold * now.slope[:-1] * now.slope[1:]
    slope = np.einsum("kef,ke->kf", now.pull, now.error) + hold * now.slope * (now.step[:-1] - now.step[1:])
    return band.reshape(count + 1, -1), slope
