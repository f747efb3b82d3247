"""Shapes of the deployed modes: where panels go, which joints and panels hold the strain."""

from dataclasses import dataclass

import numpy as np

from synth.core.arrays import Floats
from synth.core.design import Design
from synth.structure.assembly import Network
from synth.structure.forms import Plates


@dataclass(frozen=True, eq=False)
class ModeShapes:
    """M modes of a batch of one.

    corners [M, P, V, 3]: displacement of the mid-planes' outline corners, the greatest of a mode 1. moving [M, P]:
    share of the kinetic energy by panel (with what it carries). in_plane [M]: share of it in the plane. bending [M]:
    share of the strain energy in the panels; joints [M, U, 6]: in each component of each unit. Shares add up to 1.
    """

    corners: Floats
    moving: Floats
    in_plane: Floats
    bending: Floats
    joints: Floats


def mode_shapes(design: Design, plates: Plates, network: Network, shapes: Floats) -> ModeShapes:
    """From motions shapes [1, P, N', M] of the network; plates may have more shapes than the network, the first ones
    alike. Strain energy: v^T K v / 2 split into plates and springs k (B v)^2 / 2; kinetic: v^T M v / 2 by panel."""
    motion = shapes[0]
    strain = (network.spring[0][..., None] * network.strain(shapes)[0] ** 2).transpose(2, 0, 1)
    plate = np.einsum("pnm,pnk,pkm->m", motion, network.plate[0], motion)
    whole = np.maximum(plate + strain.sum(axis=(1, 2)), 1e-300)
    carried = network.inertia[0] @ motion
    moving = np.einsum("pnm,pnm->mp", motion, carried)
    flat = motion.copy()
    flat[:, :-3] = 0.0
    sideways = np.einsum("pnm,pnm->m", flat, network.inertia[0] @ flat)
    total = np.maximum(moving.sum(axis=1), 1e-300)
    return ModeShapes(
        corners=_corners(design, plates, motion),
        moving=moving / total[:, None],
        in_plane=sideways / total,
        bending=plate / whole,
        joints=strain / whole[:, None, None],
    )


def _corners(design: Design, plates: Plates, motion: Floats) -> Floats:
    """Displacements [M, P, V, 3] of outline corners, each mode scaled to a greatest length of 1."""
    outline = design.geometry.cut[0]
    panels, corners, _ = outline.shape
    where = np.repeat(np.arange(panels), corners)
    value, _ = plates.at_feet(where, outline.reshape(1, -1, 2), np.zeros((1, panels * corners)))
    up = value.reshape(panels, corners, -1)[..., : motion.shape[1] - 3] @ motion[:, :-3]
    away = outline - plates.forms.centre[0][:, None]
    u, v, turn = (motion[:, None, k] for k in (-3, -2, -1))
    right, ahead = u - away[..., 1:] * turn, v + away[..., :1] * turn
    out = np.stack([right, ahead, up], axis=-1).transpose(2, 0, 1, 3)
    return np.asarray(out / np.maximum(np.linalg.norm(out, axis=-1).max(axis=(1, 2)), 1e-300)[:, None, None, None])
