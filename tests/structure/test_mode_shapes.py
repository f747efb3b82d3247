"""Shapes of modes against a bar on a root spring and a rigid chain."""

import numpy as np

from synth.structure.loads import Loads
from synth.structure.settled import settled
from tests.near import near
from tests.structure.make import strip


def test_a_stiff_strip_on_a_soft_mount_swings_as_a_body() -> None:
    """All strain in the soft component, none in the panel; corners in proportion to their distance from the edge."""
    made = strip(1, 0.3, 0.2, thickness=0.02, stiffness=(1e9, 1e9, 1e9, 20.0, 1e6, 1e6))
    modes = settled(made, Loads()).modes
    assert modes is not None
    assert near(modes.moving[0], [1.0], rel=1e-9) and modes.in_plane[0] < 0.02 and modes.bending[0] < 1e-3
    soft = modes.joints[0].reshape(-1, 6)
    assert near(soft[:, 3].sum(), 1.0, rel=2e-3, why="the panel's own bending takes the rest")
    out = np.linalg.norm(modes.corners[0], axis=-1)
    assert near(out.max(), 1.0, rel=1e-12)


def test_shares_add_up() -> None:
    made = strip(3, 0.3, 0.2, thickness=0.004, stiffness=(1e7, 1e7, 1e7, 300.0, 1e3, 1e3))
    modes = settled(made, Loads()).modes
    assert modes is not None
    for m in range(3):
        assert near(modes.moving[m].sum(), 1.0, rel=1e-9)
        assert near(modes.joints[m].sum() + modes.bending[m], 1.0, rel=1e-9)
    # the tip panel moves most in the first mode of a chain
    assert modes.moving[0].argmax() == 2 and (np.diff(modes.moving[0]) > 0.0).all()
