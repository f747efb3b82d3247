"""Lowest natural frequencies of a network by block subspace iteration."""

from collections.abc import Callable
from functools import lru_cache

import numpy as np

from synth.core.arrays import Floats
from synth.structure.elimination import inverse_factor

Solve = Callable[[Floats], Floats]
"""K^-1 of panel loads [B, P, N', R]."""


@lru_cache(maxsize=64)
def scattered(panels: int, freedoms: int, count: int) -> Floats:
    """Fixed, pattern-free start vectors [P, N', count] in (-1, 1): the golden-ratio sequence, no random state."""
    step = np.arange(1, panels * freedoms * count + 1) * 0.6180339887498949
    found = np.asarray(2.0 * (step % 1.0) - 1.0).reshape(panels, freedoms, count)
    found.flags.writeable = False
    return found


def lowest(solve: Solve, inertia: Floats, start: Floats, rounds: int, wanted: int) -> tuple[Floats, Floats]:
    """Lowest frequencies [B, wanted] in Hz, rising, and their shapes [B, P, N', wanted].

    inertia [B, P, N', N'], start [B, P, N', R] with R > wanted; one round or more. Each round is X <- K^-1 M X, the
    last with a Ritz step in span X (K X is known without K, as it equals the load), so the frequencies are upper
    bounds of those of the network and converge with the ratio of eigenvalues wanted : R + 1 a round.
    """
    moved, stiff, heavy = _span(solve, inertia, start, rounds)
    white = _white(stiff)
    values, turn = np.linalg.eigh(np.swapaxes(white, -1, -2) @ heavy @ white)
    turn = (white @ turn)[..., ::-1]
    return _hertz(values[:, ::-1][:, :wanted]), moved @ turn[:, None, :, :wanted]


def first(solve: Solve, inertia: Floats, start: Floats, rounds: int) -> Floats:
    """The lowest frequency [B] alone, as lowest gives it."""
    _, stiff, heavy = _span(solve, inertia, start, rounds)
    white = _white(stiff)
    return _hertz(np.linalg.eigvalsh(np.swapaxes(white, -1, -2) @ heavy @ white)[:, -1])


def _hertz(slow: np.ndarray) -> Floats:
    """Frequencies of 1 / omega^2."""
    return np.asarray(1.0 / (2.0 * np.pi * np.sqrt(np.maximum(slow, 1e-300))))


def _span(solve: Solve, inertia: Floats, start: Floats, rounds: int) -> tuple[Floats, Floats, Floats]:
    """Motions [B, P, N', R] after some rounds, and their products [B, R, R] by stiffness and by mass."""
    load = inertia @ start
    for left in range(rounds, 0, -1):
        moved = solve(load)
        heavy = inertia @ moved
        stiff = _gram(moved, load)
        stiff = 0.5 * (stiff + np.swapaxes(stiff, -1, -2))
        if left > 1:
            # on the way only the span matters
            load = heavy @ _independent(stiff)[:, None]
    return moved, stiff, _gram(moved, heavy)


def _independent(stiff: Floats) -> Floats:
    """Combinations [B, R, R] with stiff nearly the identity; dependent directions turn into noise, which does no harm
    to a start."""
    size = _size(stiff)
    square = stiff / (size[:, :, None] * size[:, None, :])
    own = np.arange(square.shape[-1])
    square[:, own, own] += 1e-12
    return np.swapaxes(inverse_factor(square), -1, -2) / size[:, :, None]


def _size(stiff: Floats) -> Floats:
    """Lengths [B, R] of the vectors; 1 where there is nothing."""
    square = np.einsum("brr->br", stiff)
    return np.sqrt(np.where(square > 1e-300, square, 1.0))


def _gram(a: Floats, b: Floats) -> Floats:
    """Inner products [B, R, R] of panel motions [B, P, N', R]."""
    rows, columns = len(a), a.shape[-1]
    return np.asarray(np.swapaxes(a.reshape(rows, -1, columns), -1, -2) @ b.reshape(rows, -1, columns))


def _white(stiff: Floats) -> Floats:
    """Combinations [B, R, R] in which stiff is the identity; zeros for dependent directions."""
    size = _size(stiff)
    level, basis = np.linalg.eigh(stiff / (size[:, :, None] * size[:, None, :]))
    weight = np.where(level > 1e-11, 1.0 / np.sqrt(np.maximum(level, 1e-11)), 0.0)
    return np.asarray(basis * weight[:, None, :] / size[:, :, None])
