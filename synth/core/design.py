"""A batch laid out in full: what the disciplines read and the record tells."""

from dataclasses import dataclass

from synth.core.arrays import Column, Floats, Ints
from synth.core.fittings import Fittings
from synth.core.geometry import Geometry
from synth.core.joints import JointMasses, Units
from synth.core.panels import Panels
from synth.core.status import Status
from synth.core.topology import Topology


@dataclass(frozen=True, eq=False)
class Design:
    """Panels, joints and fittings of B candidates of one topology.

    lumps_panel [Q], lumps_mass [B, Q] kg: drives and restraints, point masses at the centroid of their panel;
    lumps_name [Q]: "drive ..." or "restraint ...".
    """

    topology: Topology
    geometry: Geometry
    panels: Panels
    units: Units
    fittings: Fittings
    joint_masses: JointMasses
    lumps_panel: Ints
    lumps_mass: Floats
    lumps_name: tuple[str, ...]
    status: Status
    edge_gap: Column

    @property
    def rows(self) -> int:
        return self.geometry.rows
