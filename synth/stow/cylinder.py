"""The least upright cylinder round everything stowed.

Orientation family: the cylinder's axis along the stack axis (root z), or along any
direction in the root plane. Sizes are [d, d, h]: least enclosing circle and extent.
"""

import numpy as np
from scipy.spatial import ConvexHull, QhullError

from synth.core.arrays import Floats
from synth.stow.box import Stowing, hull
from synth.stow.circle import least_circle
from synth.stow.plan import QUARTER, best_spin, directions, extents, spins

FINE = np.arange(360) * (2.0 * QUARTER / 360.0)
"""Directions of the lying axis that the exact search starts from: every half degree."""


def cylinder_sizes(points: Floats, allowed: Floats) -> tuple[Floats, Floats]:
    """Size [B, E, 3] = [d, d, h] and ratio [B, E] of B point sets [B, N, 3] in E round envelopes [E, 3] = [d, d, h].

    Least volume that fits, else least ratio. Upright: exact. Lying: the spin is chosen
    by the circle round the rectangle of the section (never less than the true circle)
    over hull edges and every 2 degrees, then the true circle of all points is taken, so
    the size told is always attainable; against stowed_cylinder it may only be worse
    (measured: up to 11 % on random clouds; none for stacks, whose section is a rectangle).
    """
    tried = spins(points)
    upright = np.stack([2.0 * least_circle(points[..., :2])[1], tried.height], axis=-1)
    length = np.concatenate([tried.along, tried.across], axis=1)
    width = np.concatenate([tried.across, tried.along], axis=1)
    spin = np.concatenate([tried.spin, tried.spin + QUARTER], axis=1)
    section = np.hypot(width, tried.height[:, None])
    out, ratios = [], []
    for diameter, _, height in allowed:
        best = best_spin(section**2 * length, np.maximum(section / diameter, length / height))
        lying = _lying(points, np.take_along_axis(spin, best[:, None], axis=1))[:, 0]
        both = np.stack([upright, lying], axis=1)
        ratio = np.maximum(both[..., 0] / diameter, both[..., 1] / height)
        chosen = best_spin(both[..., 0] ** 2 * both[..., 1], ratio)[:, None]
        pick = np.take_along_axis(both, chosen[..., None], axis=1)[:, 0]
        out.append(np.stack([pick[:, 0], pick[:, 0], pick[:, 1]], axis=-1))
        ratios.append(np.take_along_axis(ratio, chosen, axis=1)[:, 0])
    return np.stack(out, axis=1), np.stack(ratios, axis=1)


def stowed_cylinder(points: Floats, allowed: Floats) -> Stowing:
    """Best orientation of points [N, 3] (root frame) in a cylinder [d, d, h]; size and fit as of stowed_box.

    Upright: exact. Lying: least over half-degree steps and hull-edge directions, then
    three rounds of ten times finer steps about the best; the optimum between two local
    ones closer than half a degree may be missed by diameter * sin(0.25 deg).
    """
    solid = _outermost(points)
    plan = hull(solid[:, :2])
    step = np.roll(plan, -1, axis=0) - plan
    edge = np.mod(np.arctan2(step[:, 1], step[:, 0]), QUARTER)
    spin = np.concatenate([FINE, edge, edge + QUARTER])
    wide = float(FINE[1])
    for _ in range(4):
        size = _lying(solid[None], spin[None])[0]
        ratio = np.maximum(size[:, 0] / allowed[0], size[:, 1] / allowed[2])
        best = float(spin[int(best_spin(size[:, 0] ** 2 * size[:, 1], ratio))])
        spin = np.concatenate([[best], best + wide * np.linspace(-1.0, 1.0, 21)])
        wide /= 10.0
    found = [_told(points, np.eye(3), allowed)]
    along, across = directions(np.asarray(best))
    lying = np.zeros((3, 3))
    lying[0, :2], lying[1], lying[2, :2] = across, [0.0, 0.0, 1.0], along
    lying[0] *= np.sign(np.linalg.det(lying))
    found.append(_told(points, lying, allowed))
    volume, ratio = np.array([s.size.prod() for s in found]), np.array([s.fit for s in found])
    return found[int(best_spin(volume, ratio))]


def _outermost(points: Floats) -> Floats:
    """Corners of the convex hull of points [N, 3]; all of them where they have no volume."""
    try:
        return points[np.sort(ConvexHull(points).vertices)]
    except QhullError:
        return np.unique(points, axis=0)


def _told(points: Floats, rotation: Floats, allowed: Floats) -> Stowing:
    turned = points @ rotation.T
    diameter = 2.0 * float(least_circle(turned[None, :, :2])[1][0])
    size = np.array([diameter, diameter, float(np.ptp(turned[:, 2]))])
    return Stowing(rotation, size, float((size / allowed).max()))


def _lying(points: Floats, spin: Floats) -> Floats:
    """Diameter and length [B, A, 2] of cylinders whose axis lies along x' at spins [B, A] round points [B, N, 3]."""
    rows, count = spin.shape
    axes = directions(spin)
    across = np.einsum("baj,bnj->ban", axes[:, :, 1], points[..., :2])
    flat = np.stack([across, np.broadcast_to(points[:, None, :, 2], across.shape)], axis=-1)
    radius = least_circle(flat.reshape(rows * count, -1, 2))[1].reshape(rows, count)
    return np.stack([2.0 * radius, extents(points[..., :2], spin)[..., 0]], axis=-1)
