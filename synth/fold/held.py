"""Whether a deployed structure is held by more than membranes."""

import numpy as np

from synth.core.arrays import Bools, Floats, Ints
from synth.core.topology import Topology

LOOSE = "membranes alone hold a panel: deployed, it is a mechanism"


def all_held(topology: Topology, slack: Floats, latched: Ints) -> Bools:
    """[B]: whether true hinges and latches join every panel to the root, slack [B, H] m, latched [K, 2] panels.

    A true hinge or latch, latched, holds all six freedoms; a membrane, longer than its gap, holds none, so that a panel
    without a way of true joints to the root is a mechanism of at least one freedom (exact for this network model).
    """
    joints = np.concatenate([topology.hinges, latched.reshape(-1, 2)])
    true = np.concatenate([slack == 0.0, np.ones((len(slack), len(joints) - slack.shape[1]), dtype=bool)], axis=1)
    reached = np.zeros((len(slack), topology.panels), dtype=bool)
    reached[:, 0] = True
    before = -1
    while reached.sum() > before:
        before = int(reached.sum())
        for k, (i, j) in enumerate(joints):
            both = true[:, k] & (reached[:, i] | reached[:, j])
            reached[both, i] = reached[both, j] = True
    return np.asarray(reached.all(axis=1))
