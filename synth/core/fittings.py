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
        low = np.concatenate([self.outline, np.repeat(self.z_back[..., None, None], 4, axis=-2)], axis=-1)
        high = np.concatenate([self.outline, np.repeat(self.z_front[..., None, None], 4, axis=-2)], axis=-1)
        return np.concatenate([low, high], axis=-2)
