"""A batch laid out in full: what the disciplines read and the record tells."""

from dataclasses import dataclass, replace

import numpy as np

from synth.core.arrays import Bools, Column, Floats, Ints
from synth.core.fittings import NO_JOINT, Fittings
from synth.core.geometry import Geometry
from synth.core.joints import JointMasses, Units
from synth.core.panels import Panels
from synth.core.status import Status
from synth.core.topology import Topology
from synth.core.turning import STILL, TurnLaw


@dataclass(frozen=True, eq=False)
class Design:
    """Panels, joints and fittings of B candidates of one topology.

    lumps_panel [Q], lumps_mass [B, Q] kg: drives and restraints, point masses at the centroid of their panel;
    lumps_name [Q]: "drive ..." or "restraint ...".
    turns: torque against angle of every hinge [B, H], all its units together. flexing [B, H]: stress of what
    flexes in a hinge when stowed, times its factor, over its strength; None: nothing flexes.
    stowed [B, P, 3, 4]: stowed poses where the family gives poses; None: the tree at its stowed angles.
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
    stowed: Floats | None = None
    turns: TurnLaw = STILL
    flexing: Floats | None = None

    @property
    def windows(self) -> Floats:
        """Clear part of every face [B, P, V, 2]."""
        return self.geometry.cut if self.panels.window is None else self.panels.window

    @property
    def rows(self) -> int:
        return self.geometry.rows

    def take(self, rows: Ints) -> "Design":
        """These candidates only; the topology is shared."""
        g, p, u, f, m = self.geometry, self.panels, self.units, self.fittings, self.joint_masses
        status = Status(self.status.reason[rows], self.status.residual[rows])
        return replace(
            self,
            geometry=Geometry(
                g.outline[rows],
                g.thickness[rows],
                g.axis[rows],
                g.stowed_angle[rows],
                g.latch_edge[rows],
                Status(g.status.reason[rows], g.status.residual[rows]),
                g.slack[rows],
                cut=g.cut[rows],
            ),
            panels=Panels(
                p.mass[rows],
                p.stiffness[rows],
                p.poisson[rows],
                p.bow[rows],
                p.bulk_strain[rows],
                p.figure[rows],
                p.thickness[rows],
                None if p.window is None else p.window[rows],
                None if p.sheet is None else p.sheet[rows],
            ),
            units=replace(
                u,
                at=u.at[rows],
                axes=u.axes[rows],
                stiffness=u.stiffness[rows],
                sigma=u.sigma[rows],
                feet=u.feet[rows],
                pad_radius=u.pad_radius[rows],
                free_offset=None if u.free_offset is None else u.free_offset[rows],
            ),
            fittings=replace(
                f, outline=f.outline[rows], z_back=f.z_back[rows], z_front=f.z_front[rows], mass=f.mass[rows]
            ),
            joint_masses=JointMasses(m.hinge[rows], m.latch[rows], m.mount[rows]),
            lumps_mass=self.lumps_mass[rows],
            status=status,
            edge_gap=self.edge_gap[rows],
            stowed=None if self.stowed is None else self.stowed[rows],
            flexing=None if self.flexing is None else self.flexing[rows],
            turns=STILL if self.turns is STILL else self.turns.take(rows),
        )

    def one(self, row: int) -> "Design":
        """One candidate as a batch of one, without the latches that its short free edges could not take."""
        alone = self.take(np.array([row]))
        there = alone.joint_masses.latch[0] > 0.0
        return alone if there.all() and len(there) else alone._without(~there)

    def _without(self, gone: Bools) -> "Design":
        """The design without the latches marked in gone [K]; the others are numbered anew."""
        kept = ~gone
        number = np.cumsum(kept) - 1
        t, u, f = self.topology, self.units, self.fittings
        edges = kept if len(kept) else np.zeros(len(t.latchable), dtype=bool)
        of_units = (u.kind != 1) | (kept[u.owner] if len(kept) else False)
        of_fittings = (f.latch == NO_JOINT) | (kept[f.latch] if len(kept) else False)
        owner = np.where(u.kind == 1, number[u.owner] if len(kept) else 0, u.owner)
        latch = np.where(f.latch == NO_JOINT, NO_JOINT, number[f.latch] if len(kept) else 0)
        return replace(
            self,
            topology=replace(t, latchable=t.latchable[edges]),
            geometry=replace(self.geometry, latch_edge=self.geometry.latch_edge[:, edges]),
            units=u.only(of_units, owner),
            fittings=Fittings(
                f.panel[of_fittings],
                f.hinge[of_fittings],
                latch[of_fittings],
                *(a[:, of_fittings] for a in (f.outline, f.z_back, f.z_front, f.mass)),
            ),
            joint_masses=replace(self.joint_masses, latch=self.joint_masses.latch[:, kept]),
        )
