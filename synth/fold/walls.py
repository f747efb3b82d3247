"""When the motion leaves the room of an envelope, and through which of its walls."""

from dataclasses import dataclass

import numpy as np

from synth.core.arrays import Floats
from synth.fold.solids import Solids

PASSED = 1e-6
"""m: a wall counts as passed when a corner is farther out than this."""
FACES = ("-x", "-y", "-z", "+x", "+y", "+z")


@dataclass(frozen=True, eq=False)
class Walls:
    """Room of an envelope inside its clearance about the stowed solids.

    rotation [3, 3]: rows are the envelope's axes in the root frame; centre [3] of the room along them, half [3] its
    half sides (m). round: a cylinder about the third axis, of radius half[0].
    """

    rotation: Floats
    centre: Floats
    half: Floats
    round: bool


def walls_passed(s: Floats, placed: Floats, solids: Solids, walls: Walls) -> dict[str, float]:
    """For each wall ("-x" to "+z" in the envelope's axes, "side" of a round one) the first frame s [N] at which a
    corner of a solid is beyond it, poses placed [N, P, 3, 4]; a wall that no frame finds passed is left out."""
    points, owner = solids.outer_points()
    pose = placed[:, owner]
    there = np.einsum("snij,nj->sni", pose[..., :3], points) + pose[..., 3]
    inside = there @ walls.rotation.T - walls.centre
    beyond = np.concatenate([-inside.min(axis=1), inside.max(axis=1)], axis=1) - np.tile(walls.half, 2)
    names = list(FACES)
    if walls.round:
        side = np.hypot(inside[..., 0], inside[..., 1]).max(axis=1) - walls.half[0]
        names, beyond = ["side", "-z", "+z"], np.stack([side, beyond[:, 2], beyond[:, 5]], axis=1)
    found = beyond > PASSED
    return {name: float(s[found[:, k].argmax()]) for k, name in enumerate(names) if found[:, k].any()}
