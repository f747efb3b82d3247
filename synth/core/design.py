"""A batch laid out in full: what the disciplines read and the record tells."""

from dataclasses import dataclass

import numpy as np

from synth.core.arrays import Floats
from synth.core.fittings import Fittings
from synth.core.geometry import Geometry
from synth.core.joints import JointMasses, Units
from synth.core.panels import Panels
from synth.core.status import Status
from synth.core.topology import Topology


@dataclass(frozen=True, eq=False)
class Design:
    """Panels, joints and fittings of B candidates of one topology.

    lumps_at [B, Q, 2], lumps_panel [Q], lumps_mass [B, Q]: drives and restraints as point masses on panels.
    """

    topology: Topology
    geometry: Geometry
    panels: Panels
    units: Units
    fittings: Fittings
    joint_masses: JointMasses
    lumps_panel: np.ndarray
    lumps_mass: Floats
    status: Status

    @property
    def rows(self) -> int:
        return self.geometry.rows
