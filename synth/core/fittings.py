"""Hardware that takes room: upright prisms fixed to a panel."""

from dataclasses import dataclass

import numpy as np

from synth.core.arrays import Floats, Ints

NO_JOINT = -1


@dataclass(frozen=True, eq=False)
class Fittings:
    """F fittings. panel [F]; hinge [F], latch [F]: the joint a fitting belongs to, NO_JOINT (-1) where none.

    outline [B, F, 4, 2] counter-clockwise, z_back, z_front [B, F] m, mass [B, F] kg: deployed frame.
    """

    panel: Ints
    hinge: Ints
    latch: Ints
    outline: Floats
    z_back: Floats
    z_front: Floats
    mass: Floats

    @property
    def corners(self) -> Floats:
        """[B, F, 8, 3] corners, back first."""
        rows, count = self.mass.shape
        out = np.empty((rows, count, 2, 4, 3))
        out[..., :2] = self.outline[:, :, None]
        out[:, :, 0, :, 2], out[:, :, 1, :, 2] = self.z_back[..., None], self.z_front[..., None]
        return out.reshape(rows, count, 8, 3)
