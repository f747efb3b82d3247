"""The mount of a root that light goes through: three legs on its rim instead of a ring in its middle."""

from dataclasses import replace

import numpy as np

from synth.core.arrays import Column, Floats, Ints, cross2
from synth.core.joints import SPACECRAFT, Units
from synth.core.polygon import centroid
from synth.hinges.kind import JointKind

TURNS = np.pi * (0.5 + 2.0 * np.arange(3) / 3.0)
"""Directions of the three legs from the root's centre of area."""


def edge_mounted(units: Units, root: Floats, mount: JointKind, inset: Column, pad: Column) -> Units:
    """The units with the mount's ring split into three legs on the rim of the root [B, V, 2], `inset` [B] m inside it.

    Each leg is stiff along the rim (2/3 of the ring's lateral stiffness) and along z (a third) and gives way radially
    and in turning, so that three add up to the ring's shifts: sum of k_t sin^2 = 3/2 k_t, sum of k_z = 3 k_z. Errors of
    the legs are independent and make the ring's: sigma_t = sqrt(3/2) sigma_x, sigma_z = sqrt(3) sigma_z ring.
    """
    rows = len(root)
    centre = centroid(root)
    ray = np.stack([np.cos(TURNS), np.sin(TURNS)], axis=-1)
    foot = centre[:, None] + _reach(root, centre, ray, inset)[..., None] * ray
    kept = np.flatnonzero(units.kind != 2)
    flat = np.zeros((rows, 3))
    axes = np.zeros((3, 3, 3))
    axes[:, 0, 0], axes[:, 0, 1] = ray[:, 1], -ray[:, 0]
    axes[:, 1, :2], axes[:, 2, 2] = ray, 1.0
    k, s = mount.stiffness, mount.sigma
    stiffness = np.array([2.0 / 3.0 * k[0], 0.0, k[2] / 3.0, 0.0, 0.0, 0.0])
    sigma = np.array([np.sqrt(1.5) * s[0], 0.0, np.sqrt(3.0) * s[2], 0.0, 0.0, 0.0])
    ring = units.at[:, units.kind == 2, 2][:, :1]

    def add(old: Floats, new: Floats) -> Floats:
        return np.concatenate([old[:, kept], new], axis=1)

    def more(old: Ints, new: Ints) -> Ints:
        return np.concatenate([old[kept], new])

    return replace(
        units,
        panels=more(units.panels, np.tile([0, SPACECRAFT], (3, 1))),
        owner=more(units.owner, np.zeros(3, dtype=np.int64)),
        kind=more(units.kind, np.full(3, 2, dtype=np.int64)),
        at=add(units.at, np.concatenate([foot, (flat + ring)[..., None]], axis=-1)),
        axes=add(units.axes, np.broadcast_to(axes, (rows, 3, 3, 3))),
        stiffness=add(units.stiffness, np.broadcast_to(stiffness, (rows, 3, 6))),
        sigma=add(units.sigma, np.broadcast_to(sigma, (rows, 3, 6))),
        feet=add(units.feet, np.repeat(foot[:, :, None], 2, axis=2)),
        pad_radius=add(units.pad_radius, flat + pad[:, None]),
    )


def _reach(root: Floats, centre: Floats, ray: Floats, inset: Column) -> Floats:
    """Distance [B, 3] along rays [3, 2] from the centre to the outline moved inwards."""
    step = np.roll(root, -1, axis=1) - root
    length = np.linalg.norm(step, axis=-1)
    real = np.asarray(length > 1e-9)
    u = step / np.where(real, length, 1.0)[..., None]
    room = cross2(u, centre[:, None] - root) - inset[:, None]
    speed = u[:, None, :, 1] * ray[None, :, None, 0] - u[:, None, :, 0] * ray[None, :, None, 1]
    ahead = np.asarray(real[:, None] & (speed > 1e-9))
    found = np.where(ahead, room[:, None] / np.where(ahead, speed, 1.0), np.inf).min(axis=-1)
    return np.asarray(np.maximum(found, 0.0))
