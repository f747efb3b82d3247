"""What a joint of one kind is, a unit: six stiffnesses, misfit, mass, room."""

from dataclasses import dataclass

from synth.core.turning import STILL, TurnLaw


@dataclass(frozen=True)
class JointKind:
    """Numbers of one joint unit, as latched (deployed). SI.

    role: "hinge", "latch" or "mount". stiffness and sigma: (along the edge, across it, z) N/m
    and m, then (about the edge, about across, about z) N m/rad and rad. knuckle: half height of the
    hardware about the hinge axis. width: length along the edge. least_gap: least edge gap the
    hardware fits in. largest_angle: rad. pad_radius: m, where the leaves are fastened. turn: torque about the edge
    against the angle, of one unit; largest_angle stands in it too. cte: 1/K, growth of what lies between its two
    feet (default: leaves of aluminium 6061, catalogue value, seen).
    """

    name: str
    title: str
    role: str
    stiffness: tuple[float, float, float, float, float, float]
    sigma: tuple[float, float, float, float, float, float]
    mass: float
    knuckle: float
    width: float
    least_gap: float
    largest_angle: float
    pad_radius: float
    note: str = ""
    turn: TurnLaw = STILL
    cte: float = 2.36e-5
