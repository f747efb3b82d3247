"""Forward kinematics of trees of hinges, a whole batch at a time."""

import numpy as np

from synth.core.arrays import Floats, compose, identity_poses, transform, turn_about
from synth.core.topology import Topology


def poses(topology: Topology, axis: Floats, angles: Floats) -> Floats:
    """Poses [B, S, P, 3, 4] of every panel: maps its deployed coordinates to the frame; metres.

    X_j = X_i T(axis_h, theta_h) for hinge h from panel i = parent[j] to j, with T the
    right-handed turn about the deployed hinge line (product of exponentials, written for
    a tree). axis [B, H, 2, 3] m, deployed; angles [B, S, H] rad, 0 deployed. The root
    never moves. Hinges beyond the tree (loop closers) are not read. Exact to rounding
    for any angle.
    """
    rows, count = angles.shape[:2]
    out = identity_poses(rows, count, topology.panels)
    tree = topology.panels - 1
    turns = turn_about(axis[:, None, :tree, 0], axis[:, None, :tree, 1], angles[:, :, :tree])
    for panel in range(1, topology.panels):
        out[:, :, panel] = compose(out[:, :, int(topology.parent[panel])], turns[:, :, panel - 1])
    return out


def hinge_parting(topology: Topology, axis: Floats, placed: Floats) -> Floats:
    """Greatest distance [B, S, H] (m) between a hinge line carried by its panel i and the same line carried by j.

    placed [B, S, P, 3, 4] as from `poses`, or read from a record. Zero to rounding for tree hinges.
    """
    first, second = topology.hinges.T
    ends = np.broadcast_to(axis[:, None], (*placed.shape[:2], *axis.shape[1:]))
    apart = transform(placed[:, :, first], ends) - transform(placed[:, :, second], ends)
    return np.asarray(np.linalg.norm(apart, axis=-1).max(axis=-1))
