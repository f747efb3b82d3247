"""Least circle round points of the plane, for a whole batch of point sets at once."""

import numpy as np

from synth.core.arrays import Column, Floats, Ints

MOST_EXCHANGES = 100
"""More than any set met; the radius grows at every exchange, so a limit only guards against rounding."""


def least_circle(points: Floats) -> tuple[Floats, Column]:
    """Centre [B, 2] and radius [B] of the least enclosing circles of points [B, N, 2], N >= 1.

    The least circle is fixed by at most three of its points. Start with two far apart;
    while the farthest point lies outside, put it into the basis and take the least circle
    of the (at most four) points, which needs at most three of them (basis exchange of
    the LP-type problem; Welzl 1991 and Gaertner 1999 from memory, checked against brute
    force). Exact to rounding; the radius told is the distance of the farthest point, so
    the circle encloses all points.
    """
    rows = np.arange(len(points))
    first = _farthest(points, points.mean(axis=1))
    second = _farthest(points, points[rows, first])
    basis: Ints = np.stack([first, second, second], axis=1)
    centre, radius = _of_corners(points[rows[:, None], basis])
    live = rows
    for _ in range(MOST_EXCHANGES):
        far = _farthest(points[live], centre[live])
        distance = np.linalg.norm(points[live, far] - centre[live], axis=-1)
        outside = distance > radius[live] * (1.0 + 1e-13)
        live, far = live[outside], far[outside]
        if not len(live):
            break
        pool = np.concatenate([basis[live], far[:, None]], axis=1)
        found, moved, grown = _exchange(points[live[:, None], pool])
        gains = (grown > radius[live]) & np.isfinite(grown)
        live, found, pool = live[gains], found[gains], pool[gains]
        basis[live] = np.take_along_axis(pool, found, axis=1)
        centre[live], radius[live] = moved[gains], grown[gains]
    reach = np.linalg.norm(points - centre[:, None], axis=-1).max(axis=1)
    return centre, reach


def _farthest(points: Floats, centre: Floats) -> Ints:
    offset = points - centre[:, None]
    return np.asarray(np.einsum("bni,bni->bn", offset, offset).argmax(axis=1))


TRIPLES = np.array([[3, 0, 0], [3, 1, 1], [3, 2, 2], [3, 0, 1], [3, 0, 2], [3, 1, 2]])
"""Bases that hold the newcomer (number 3) and one or two of the former three."""


def _exchange(four: Floats) -> tuple[Ints, Floats, Column]:
    """Of bases that hold the last of four points [B, 4, 2]: places [B, 3], centre, radius of the least one."""
    centre, radius = _of_corners(four[:, TRIPLES])
    distance = np.linalg.norm(four[:, None] - centre[:, :, None], axis=-1).max(axis=-1)
    encloses = distance <= radius * (1.0 + 1e-11)
    best = np.where(encloses, radius, np.inf).argmin(axis=1)
    rows = np.arange(len(four))
    return TRIPLES[best], centre[rows, best], radius[rows, best]


def _of_corners(three: Floats) -> tuple[Floats, Floats]:
    """Circle through points [..., 3, 2]; where two coincide, the circle on the other two as diameter."""
    a, u, v = three[..., 0, :], three[..., 1, :] - three[..., 0, :], three[..., 2, :] - three[..., 0, :]
    twice = 2.0 * (u[..., 0] * v[..., 1] - u[..., 1] * v[..., 0])
    uu, vv = (u * u).sum(axis=-1), (v * v).sum(axis=-1)
    pair = np.abs(u - v).max(axis=-1) == 0.0
    flat = np.abs(twice) <= 1e-14 * (uu + vv)
    safe = np.where(flat, 1.0, twice)
    shift = np.stack([v[..., 1] * uu - u[..., 1] * vv, u[..., 0] * vv - v[..., 0] * uu], axis=-1) / safe[..., None]
    shift = np.where(pair[..., None], u / 2.0, shift)
    radius = np.where(flat & ~pair, np.inf, np.linalg.norm(shift, axis=-1))
    return a + shift, radius
