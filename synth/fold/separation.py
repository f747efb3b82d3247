"""Separating directions of two moving upright prisms: how far apart they stay over an interval of the path.

For a direction n fixed to the first solid, a corner y_j of the second with velocity v_j
at the middle of the interval and |y''| <= a_j stays within |n.v_j| D + a_j D^2 / 2 of
n.y_j while s is within D of the middle (Taylor). Hence

    gap(n) = min_j (n.y_j - |n.v_j| D - a_j D^2 / 2) - max_i n.x_i

is a lower bound of the distance over the whole interval, for every n; D = 0 gives the
separating-axis bound at the station. Convex polyhedra are apart iff some face normal or
cross product of edges separates them (separating axis theorem, Gottschalk et al. 1996,
from memory; the library python-fcl is the oracle in the tests).

All arrays count the pairs by the last axis, so that every operation runs over long rows.
"""

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from synth.core.arrays import Bools, Floats, Ints
from synth.fold.solids import Shape

ROUNDING = 1e-9
"""m taken off every bound over an interval: covers rounding and lines taken as parallel."""
AT_ONCE = 1024
"""Pairs worked at once: keeps the tables in cache and bounds the memory."""


@dataclass(frozen=True, eq=False)
class Passing:
    """How second solids stand to and move against first ones at the middle of an interval, in the first one's frame.

    turn [3, 3, m], shift [3, m]: pose of the second; spin, drift [3, m]: W and velocity at the
    origin per unit of s; half [m]: D; point, way [3, m]: the entry line; parallel [m];
    base, slope [m]: |y''| <= base + slope * distance from the entry line.
    """

    turn: Floats
    shift: Floats
    spin: Floats
    drift: Floats
    half: Floats
    point: Floats
    way: Floats
    parallel: Bools
    base: Floats
    slope: Floats

    def take(self, which: Ints | slice) -> "Passing":
        return Passing(
            self.turn[..., which],
            self.shift[:, which],
            self.spin[:, which],
            self.drift[:, which],
            self.half[which],
            self.point[:, which],
            self.way[:, which],
            self.parallel[which],
            self.base[which],
            self.slope[which],
        )

    def bounds(self, place: Floats) -> tuple[Floats, Floats]:
        """Velocity [3, ..., m] of points [3, ..., m] of the second solids, and a D^2 / 2 [..., m]."""
        w, (x, y, z) = self.spin, place
        velocity = np.stack([w[1] * z - w[2] * y, w[2] * x - w[0] * z, w[0] * y - w[1] * x])
        velocity += self.drift[(slice(None), *(None,) * (place.ndim - 2))]
        arm = [place[k] - self.point[k] for k in range(3)]
        along = sum(arm[k] * self.way[k] for k in range(3))
        square = arm[0] ** 2 + arm[1] ** 2 + arm[2] ** 2 - np.where(self.parallel, along, 0.0) ** 2
        bend = (self.base + self.slope * np.sqrt(np.maximum(square, 0.0))) * (0.5 * self.half**2)
        return velocity, bend


def place_corners(shape: Shape, index: Ints, motion: Passing) -> Floats:
    """Corners [3, 2 V, m] of the second solids in the frame of the first."""
    x, y, r = shape.x[:, index], shape.y[:, index], motion.turn
    flat = [r[k, 0] * x + r[k, 1] * y + motion.shift[k] for k in range(3)]
    low, high = shape.low[index], shape.high[index]
    return np.stack([np.concatenate([flat[k] + r[k, 2] * low, flat[k] + r[k, 2] * high]) for k in range(3)])


@dataclass(frozen=True, eq=False)
class Gaps:
    """station, interval [m]: greatest gap found at the station and over the interval (negative: none separates).
    travel [m]: no corner of the second moves farther than this from its place at the station."""

    station: Floats
    interval: Floats
    travel: Floats


def face_gaps(first: Shape, i: Ints, second: Shape, j: Ints, motion: Passing) -> Gaps:
    """Gaps along the face normals of the first solids."""
    return _in_parts(_faces, first, i, second, j, motion)


def edge_gaps(first: Shape, i: Ints, second: Shape, j: Ints, motion: Passing) -> Gaps:
    """Gaps along the cross products of the edges of both, fixed to the first solids."""
    return _in_parts(_edges, first, i, second, j, motion)


def sphere_gaps(first: Shape, i: Ints, second: Shape, j: Ints, motion: Passing) -> Gaps:
    """Gaps of the spheres round the solids."""
    centre, velocity, stray = _ball(second, j, motion)
    travel = np.sqrt((velocity**2).sum(axis=0)) * motion.half + stray
    station = np.sqrt(((centre - first.centre[:, i]) ** 2).sum(axis=0)) - second.radius[j] - first.radius[i]
    return Gaps(station, station - travel - ROUNDING, travel)


def ball_gaps(first: Shape, i: Ints, second: Shape, j: Ints, motion: Passing) -> Gaps:
    """Gaps of the spheres round the second solids along the face normals of the first."""
    (x, y, z), velocity, stray = _ball(second, j, motion)
    vx, vy, vz = velocity * motion.half
    out = np.maximum(z - first.high[i], first.low[i] - z)
    kept = out - np.abs(vz)
    for nx, ny, least, most in zip(first.nx, first.ny, first.least, first.most, strict=True):
        nx, ny = nx[i], ny[i]
        along = nx * x + ny * y
        gap = np.maximum(along - most[i], least[i] - along)
        np.maximum(out, gap, out=out)
        np.maximum(kept, gap - np.abs(nx * vx + ny * vy), out=kept)
    travel = np.sqrt(vx**2 + vy**2 + vz**2) + stray
    return Gaps(out - second.radius[j], kept - second.radius[j] - stray - ROUNDING, travel)


def _ball(second: Shape, j: Ints, motion: Passing) -> tuple[Floats, Floats, Floats]:
    """Centre and velocity [3, m] of the spheres round the second solids, and how far any of their points strays [m]
    from going on with its centre's velocity."""
    c, radius = second.centre[:, j], second.radius[j]
    centre = np.einsum("ikm,km->im", motion.turn, c) + motion.shift
    velocity, bend = motion.bounds(centre)
    rim = np.sqrt((motion.spin**2).sum(axis=0)) * radius
    return centre, velocity, rim * motion.half + bend + motion.slope * radius * 0.5 * motion.half**2


Work = Callable[[Shape, Ints, Shape, Ints, Passing, Floats], None]


def _in_parts(work: Work, first: Shape, i: Ints, second: Shape, j: Ints, motion: Passing) -> Gaps:
    out = np.empty((3, len(i)))
    for start in range(0, len(i), AT_ONCE):
        part = slice(start, start + AT_ONCE)
        work(first, i[part], second, j[part], motion.take(part), out[:, part])
    return Gaps(out[0], out[1], out[2])


def _faces(first: Shape, i: Ints, second: Shape, j: Ints, motion: Passing, out: Floats) -> None:
    place = place_corners(second, j, motion)
    velocity, bend = motion.bounds(place)
    speed = np.sqrt(velocity[0] ** 2 + velocity[1] ** 2 + velocity[2] ** 2)
    out[2] = (speed * motion.half + bend).max(axis=0)
    reach = np.abs(velocity[2]) * motion.half + bend
    low, high = first.low[i], first.high[i]
    out[0] = np.maximum(place[2].min(axis=0) - high, low - place[2].max(axis=0))
    out[1] = np.maximum((place[2] - reach).min(axis=0) - high, low - (place[2] + reach).max(axis=0))
    for nx, ny, least, most in zip(first.nx, first.ny, first.least, first.most, strict=True):
        nx, ny, least, most = nx[i], ny[i], least[i], most[i]
        along = nx * place[0] + ny * place[1]
        reach = np.abs(nx * velocity[0] + ny * velocity[1]) * motion.half + bend
        np.maximum(out[0], np.maximum(along.min(axis=0) - most, least - along.max(axis=0)), out=out[0])
        moved = np.maximum((along - reach).min(axis=0) - most, least - (along + reach).max(axis=0))
        np.maximum(out[1], moved, out=out[1])
    out[1] -= ROUNDING


def _edges(first: Shape, i: Ints, second: Shape, j: Ints, motion: Passing, out: Floats) -> None:
    place = place_corners(second, j, motion)
    velocity, bend = motion.bounds(place)
    speed = np.sqrt(velocity[0] ** 2 + velocity[1] ** 2 + velocity[2] ** 2)
    out[2] = (speed * motion.half + bend).max(axis=0)
    x, y = first.x[:, i], first.y[:, i]
    low, high = first.low[i], first.high[i]
    out[:2] = -np.inf
    one, zero = np.ones(len(i)), np.zeros(len(i))
    # edges lie across the side normals, and along z
    mine = [(-first.ny[k][i], first.nx[k][i], zero) for k in range(len(first.nx))] + [(zero, zero, one)]
    r = motion.turn
    theirs = [r[:, 1] * second.nx[k][j] - r[:, 0] * second.ny[k][j] for k in range(len(second.nx))] + [r[:, 2]]
    for ex, ey, ez in mine:
        for f in theirs:
            nx, ny, nz = ey * f[2] - ez * f[1], ez * f[0] - ex * f[2], ex * f[1] - ey * f[0]
            size = np.sqrt(nx * nx + ny * ny + nz * nz)
            apart = size > 1e-9
            scale = 1.0 / np.where(apart, size, 1.0)
            nx, ny, nz = nx * scale, ny * scale, nz * scale
            own = nx * x + ny * y
            lift_least, lift_most = np.minimum(nz * low, nz * high), np.maximum(nz * low, nz * high)
            least, most = own.min(axis=0) + lift_least, own.max(axis=0) + lift_most
            along = nx * place[0] + ny * place[1] + nz * place[2]
            reach = np.abs(nx * velocity[0] + ny * velocity[1] + nz * velocity[2]) * motion.half + bend
            still = np.maximum(along.min(axis=0) - most, least - along.max(axis=0))
            moved = np.maximum((along - reach).min(axis=0) - most, least - (along + reach).max(axis=0))
            np.maximum(out[0], np.where(apart, still, -np.inf), out=out[0])
            np.maximum(out[1], np.where(apart, moved, -np.inf), out=out[1])
    out[1] -= ROUNDING


def witness_gaps(first: Shape, i: Ints, second: Shape, j: Ints, motion: Passing) -> Gaps:
    """Gaps along the line between the nearest points of the edges of both, fixed to the first solids.

    Together with face normals this makes the station gap the exact distance of solids that
    are apart: two convex polyhedra are nearest at a corner and a face or at two edges
    (elementary). -inf where the edges touch.
    """
    return _in_parts(_witness, first, i, second, j, motion)


def _witness(first: Shape, i: Ints, second: Shape, j: Ints, motion: Passing, out: Floats) -> None:
    mine, place = first.corners_of(i), place_corners(second, j, motion)
    velocity, bend = motion.bounds(place)
    speed = np.sqrt(velocity[0] ** 2 + velocity[1] ** 2 + velocity[2] ** 2)
    out[2] = (speed * motion.half + bend).max(axis=0)
    a, b = _edge_ends(mine.shape[1] // 2)
    c, d = _edge_ends(place.shape[1] // 2)
    least, way = np.full(len(i), np.inf), np.zeros((3, len(i)))
    columns = np.arange(len(i))
    for start, end in zip(a, b, strict=True):
        offset = nearest_offset(mine[:, start, None], mine[:, end, None], place[:, c], place[:, d])
        square = (offset**2).sum(axis=0)
        k = square.argmin(axis=0)
        better = square[k, columns] < least
        least = np.where(better, square[k, columns], least)
        way = np.where(better, offset[:, k, columns], way)
    size = np.sqrt(least)
    apart = size > 1e-12
    way = way / np.where(apart, size, 1.0)
    most = np.einsum("km,kwm->wm", way, mine).max(axis=0)
    along = np.einsum("km,kwm->wm", way, place)
    reach = np.abs(np.einsum("km,kwm->wm", way, velocity)) * motion.half + bend
    out[0] = np.where(apart, along.min(axis=0) - most, -np.inf)
    out[1] = np.where(apart, (along - reach).min(axis=0) - most - ROUNDING, -np.inf)


def _edge_ends(count: int) -> tuple[Ints, Ints]:
    """Corner numbers at the two ends of the 3 V edges of a prism of V-cornered plan."""
    ring = np.arange(count)
    after = np.roll(ring, -1)
    return np.concatenate([ring, ring + count, ring]), np.concatenate([after, after + count, ring + count])


def nearest_offset(p0: Floats, p1: Floats, q0: Floats, q1: Floats) -> Floats:
    """Vector [3, ...] from the nearest point of segment p0-p1 to that of q0-q1, [3, ...] each.

    Closest points of two lines, clamped to the ends one after the other (elementary).
    """
    u, v, w = p1 - p0, q1 - q0, p0 - q0

    def inner(x: Floats, y: Floats) -> Floats:
        return np.asarray(x[0] * y[0] + x[1] * y[1] + x[2] * y[2])

    a, b, c, d, e = inner(u, u), inner(u, v), inner(v, v), inner(u, w), inner(v, w)
    det = a * c - b * b
    askew = det > 1e-14 * a * c
    s = np.clip(np.where(askew, (b * e - c * d) / np.where(askew, det, 1.0), 0.0), 0.0, 1.0)
    t = np.clip((b * s + e) / np.where(c > 0.0, c, 1.0), 0.0, 1.0)
    s = np.clip((b * t - d) / np.where(a > 0.0, a, 1.0), 0.0, 1.0)
    return np.asarray(t * v - s * u - w)
