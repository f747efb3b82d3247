"""A box round each panel with its fittings: the first sieve for pairs that move about several lines."""

import numpy as np

from synth.core.arrays import Bools, Ints
from synth.fold.solids import Solids, shape_of


def bodies_of(solids: Solids) -> Solids:
    """One upright box a body (panel with fittings, or keep-out box), along the longest side of its panel."""
    plans, z, panel, name = [], [], [], []
    count = int(solids.body.max()) + 1
    for body in range(count):
        mine = np.flatnonzero(solids.body == body)
        head = solids.shapes[int(solids.shape[mine[0]])]
        at = int(solids.place[mine[0]])
        step = np.stack([np.diff(head.x[:, at], append=head.x[0, at]), np.diff(head.y[:, at], append=head.y[0, at])])
        u = step[:, int((step**2).sum(axis=0).argmax())]
        u = u / np.linalg.norm(u)
        axes = np.stack([u, [-u[1], u[0]]])
        points = [np.stack([solids.shapes[s].x[:, p], solids.shapes[s].y[:, p]]) for s, p in _where(solids, mine)]
        along = axes @ np.concatenate(points, axis=1)
        (a0, b0), (a1, b1) = along.min(axis=1), along.max(axis=1)
        plans.append(np.array([[a0, b0], [a1, b0], [a1, b1], [a0, b1]]) @ axes)
        low = min(float(solids.shapes[s].low[p]) for s, p in _where(solids, mine))
        z.append((low, max(float(solids.shapes[s].high[p]) for s, p in _where(solids, mine))))
        panel.append(int(solids.panel[mine[0]]))
        name.append(solids.name[mine[0]])
    return Solids(
        shapes=(shape_of(plans, np.array(z)),),
        shape=np.zeros(count, dtype=np.int64),
        place=np.arange(count),
        panel=np.array(panel, dtype=np.int64),
        body=np.arange(count),
        tested=_between_bodies(solids, count),
        name=tuple(name),
        is_panel=np.ones(count, dtype=bool),
    )


def _where(solids: Solids, which: Ints) -> list[tuple[int, int]]:
    return list(zip(solids.shape[which].tolist(), solids.place[which].tolist(), strict=True))


def _between_bodies(solids: Solids, count: int) -> Bools:
    """Body pairs [n, n] (upper triangle) with at least one pair of solids to test."""
    out = np.zeros((count, count), dtype=bool)
    first, second = np.nonzero(solids.tested)
    p, q = solids.body[first], solids.body[second]
    out[np.minimum(p, q), np.maximum(p, q)] = True
    return out
