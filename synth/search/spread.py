"""Rows spread over a cell, and steps around rows."""

import numpy as np

from synth.core.arrays import Floats


def spread(rows: int, columns: int, rng: np.random.Generator) -> Floats:
    """Latin hypercube [rows, columns]: one row in each of `rows` equal strips of every column."""
    strips = np.argsort(rng.random((rows, columns)), axis=0)
    return np.asarray((strips + rng.random((rows, columns))) / max(rows, 1))


def step(elites: Floats, rows: int, rng: np.random.Generator) -> Floats:
    """Elites moved by normal steps of 0.002 to 0.6 (log-uniform), half of them in one column and half in some; walls
    hold.

    The large ones reach the next option of a choice, and of a grid the next value.
    """
    if elites.shape[1] == 0:
        return np.zeros((rows, 0))
    base = elites[rng.integers(len(elites), size=rows)]
    columns = base.shape[1]
    moved = (rng.random(base.shape) < max(0.3, 1.0 / columns)) & (rng.random((rows, 1)) < 0.5)
    moved[np.arange(rows), rng.integers(columns, size=rows)] = True
    size = 10.0 ** rng.uniform(-2.7, -0.2, (rows, 1))
    return np.asarray(np.clip(base + moved * size * rng.standard_normal(base.shape), 0.0, 1.0))
