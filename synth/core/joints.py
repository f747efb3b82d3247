"""Six-way joint units of a batch: springs with a random misfit between two panels, or panel 0 and the spacecraft."""

from dataclasses import dataclass

from synth.core.arrays import Column, Floats, Ints

SPACECRAFT = -1


@dataclass(frozen=True, eq=False)
class Units:
    """U units in the order hinges, latches, mount.

    panels [U, 2]: first and second side; the mount's second side is SPACECRAFT (-1).
    owner [U]: index of the hinge or latch (0 for the mount); kind [U]: 0 hinge, 1 latch, 2 mount.
    at [B, U, 3] m; axes [B, U, 3, 3]: rows along the edge, across it from i to j, z.
    stiffness [B, U, 6]: 3 N/m, 3 N m/rad, as latched. sigma [B, U, 6]: 3 m, 3 rad, normal, independent.
    feet [B, U, 2, 2]: where the leaves are fastened, in plan, on i and on j (for the mount twice on panel 0).
    pad_radius [B, U] m.
    """

    panels: Ints
    owner: Ints
    kind: Ints
    at: Floats
    axes: Floats
    stiffness: Floats
    sigma: Floats
    feet: Floats
    pad_radius: Floats


@dataclass(frozen=True, eq=False)
class JointMasses:
    """hinge [B, H], latch [B, K], mount [B]: kg, all units of the joint together, fittings not included."""

    hinge: Floats
    latch: Floats
    mount: Column
