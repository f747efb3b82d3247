"""The least box round everything stowed, in the axes of an envelope.

Orientation family: the stack axis (root z) along any of the three envelope axes, the
other two root axes spun about it by any angle. The two extents across the stack axis
and the height are assigned to the envelope's sides in order of size, which of all six
ways gives the least ratio of side to allowed side (exchange argument, elementary).
"""

from dataclasses import dataclass

import numpy as np

from synth.core.arrays import Floats, Ints
from synth.stow.plan import QUARTER, best_spin, directions, extents, spins


@dataclass(frozen=True, eq=False)
class BoxFit:
    """size [B, E, 3] m along the envelope axes; ratio [B, E]: greatest size over allowed; spin [B, E] rad;
    order [B, E, 3]: which of x', y', z of the spun root frame lies along each envelope axis."""

    size: Floats
    ratio: Floats
    spin: Floats
    order: Ints


@dataclass(frozen=True, eq=False)
class Stowing:
    """rotation [3, 3]: rows are the envelope axes in the root frame; size [3] m; fit: greatest size over allowed."""

    rotation: Floats
    size: Floats
    fit: float


def box_sizes(points: Floats, allowed: Floats) -> BoxFit:
    """Stowed boxes of B candidates in E box envelopes: points [B, N, 3] root frame, allowed [E, 3], m.

    Least volume that fits, else least ratio, over spins 0, hull-edge directions and every
    2 degrees. The size told is that of all points at the spin chosen, so it is always
    attainable; against stowed_box it may only be worse. With every plan corner found the
    volume is the least one where that fits, and the ratio is within
    diameter * sin(1 deg) / (least allowed side) of the best.
    """
    tried = spins(points)
    height = np.broadcast_to(tried.height[:, None], tried.spin.shape)
    short, long = np.minimum(tried.along, tried.across), np.maximum(tried.along, tried.across)
    ranked = np.minimum(short, height), np.maximum(short, np.minimum(long, height)), np.maximum(long, height)
    sides = np.sort(allowed, axis=-1)
    ratio = ranked[0][:, None] / sides[:, :1]
    for k in (1, 2):
        np.maximum(ratio, ranked[k][:, None] / sides[:, k : k + 1], out=ratio)
    volume = np.broadcast_to((tried.along * tried.across * height)[:, None], ratio.shape)
    spin = np.take_along_axis(tried.spin, best_spin(volume, ratio), axis=1)
    size, order = assigned(_three(extents(points[..., :2], spin), tried.height[:, None]), allowed)
    return BoxFit(size, (size / allowed).max(axis=-1), spin, order)


def _three(across: Floats, height: Floats) -> Floats:
    """Extents [..., 3] of two across the stack axis [..., 2] and a height along it."""
    out = np.empty((*across.shape[:-1], 3))
    out[..., :2], out[..., 2] = across, height
    return out


def assigned(parts: Floats, allowed: Floats) -> tuple[Floats, Ints]:
    """Extents [..., E, 3] given to the sides of envelopes [E, 3], longest to longest: size and order [..., E, 3]."""
    place = np.argsort(np.argsort(allowed, axis=-1, kind="stable"), axis=-1)
    ranked = np.argsort(parts, axis=-1, kind="stable")
    order = np.take_along_axis(ranked, np.broadcast_to(place, ranked.shape), axis=-1)
    return np.take_along_axis(parts, order, axis=-1), order


def rotation_of(spin: float, order: Ints) -> Floats:
    """Proper rotation [3, 3] with rows x', y', z taken in `order`, the last row turned round where that is needed."""
    axes = np.eye(3)
    axes[:2, :2] = directions(np.asarray(spin))
    rotation = axes[order]
    return np.asarray(rotation * np.array([[1.0], [1.0], [np.sign(np.linalg.det(rotation))]]))


def stowed_box(points: Floats, allowed: Floats) -> Stowing:
    """Best orientation of points [N, 3] (root frame) in a box of allowed [3]; exact over all spins.

    Between hull-edge directions each extent is d . e(spin) with a fixed corner pair d,
    hence concave and log-concave: least volume and least ratio lie at hull-edge
    directions, where an extent equals an allowed side, or where two ratios are equal
    (derived). All these spins are tried.
    """
    plan = hull(points[:, :2])
    spin = _critical_spins(plan, allowed)
    across = extents(plan[None], spin[None])[0]
    height = np.full((len(spin), 1), np.ptp(points[:, 2]))
    size, order = assigned(np.concatenate([across, height], axis=-1)[:, None], allowed[None])
    size, order = size[:, 0], order[:, 0]
    best = int(best_spin(size.prod(axis=-1), (size / allowed).max(axis=-1)))
    rotation = rotation_of(float(spin[best]), order[best])
    told = np.ptp(points @ rotation.T, axis=0)
    return Stowing(rotation, told, float((told / allowed).max()))


def hull(plan: Floats) -> Floats:
    """Corners [M, 2] of the convex hull of [N, 2], counter-clockwise (Andrew's monotone chain, elementary)."""
    ordered = np.unique(plan, axis=0)
    if len(ordered) < 3:
        return ordered
    half: list[list[tuple[float, float]]] = []
    for line in (ordered, ordered[::-1]):
        kept: list[tuple[float, float]] = []
        for x, y in line.tolist():
            while len(kept) > 1 and _turn(kept[-2], kept[-1], (x, y)) <= 0.0:
                kept.pop()
            kept.append((x, y))
        half.append(kept[:-1])
    return np.array(half[0] + half[1])


def _turn(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> float:
    return (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0])


def _critical_spins(plan: Floats, allowed: Floats) -> Floats:
    """Spins [A] in 0..90 degrees, 0 first, at which the best box of a hull [M, 2] may lie (see stowed_box)."""
    step = np.roll(plan, -1, axis=0) - plan
    edge = np.unique(np.mod(np.arctan2(step[:, 1], step[:, 0]), QUARTER))
    ends = np.concatenate([[0.0], edge, [QUARTER]])
    middle = (ends[:-1] + ends[1:]) / 2.0
    axes = directions(middle)
    along = np.einsum("akj,mj->akm", axes, plan)
    pair = plan[along.argmax(axis=-1)] - plan[along.argmin(axis=-1)]
    # both extents as d . (cos, sin): the across axis is the along axis a quarter turn on
    d = np.stack([pair[:, 0], np.stack([pair[:, 1, 1], -pair[:, 1, 0]], axis=-1)], axis=1)
    length, phase = np.linalg.norm(d, axis=-1), np.arctan2(d[..., 1], d[..., 0])
    # a hair inside the limit, so that rounding does not make a tight fit a miss
    share = allowed * (1.0 - 1e-12) / np.where(length > 0.0, length, 1.0)[..., None]
    turn = np.arccos(np.clip(share, -1.0, 1.0))
    at_limit = phase[..., None, None] + turn[..., None] * np.array([1.0, -1.0])
    difference = d[:, 0, None, None] / allowed[:, None, None] - d[:, 1, None, None] / allowed[None, :, None]
    equal = np.arctan2(difference[..., 1], difference[..., 0]) + QUARTER
    found = np.concatenate([at_limit.reshape(-1), equal.reshape(-1)])
    return np.concatenate([[0.0], edge, np.unique(np.mod(found, QUARTER))])
