"""Lamina cut so that bars twist where it should fold (outside LET joint), rows in series, with a seat."""

import math
from dataclasses import dataclass
from typing import Annotated, ClassVar

from synth.core.turning import TurnLaw
from synth.hinges.kind import JointKind
from synth.hinges.leaf import second_moment
from synth.hinges.model import Parameter
from synth.hinges.seat import SeatedModel
from synth.hinges.torsion import shear_modulus_of_section, torsion_constant


@dataclass(frozen=True)
class LetFlexure(SeatedModel):
    """Lamina emergent torsion: each row has four torsion bars and two bending bridges.

    The flexure turns with hardly any force but drifts and is soft in its plane, so nothing
    is credited to it once the seat is closed: the six stiffnesses and misfits are the seat's.
    Rows in series share the turn, and the greatest turn is where a bar's shear stress,
    times its factor, meets strength / sqrt(3) (von Mises).
    """

    name: ClassVar[str] = "let_flexure"
    role: ClassVar[str] = "hinge"

    sheet_modulus: Annotated[float, Parameter("Pa", "Young's modulus of the sheet")]
    sheet_shear_modulus: Annotated[float, Parameter("Pa", "shear modulus of the sheet")]
    sheet_strength: Annotated[float, Parameter("Pa", "yield strength of the sheet")]
    strength_factor: Annotated[float, Parameter("1", "factor on the bar's stress")]
    sheet_thickness: Annotated[float, Parameter("m", "thickness of the sheet")]
    bar_width: Annotated[float, Parameter("m", "width of a torsion bar")]
    bar_length: Annotated[float, Parameter("m", "length of a torsion bar, along the edge")]
    bridge_width: Annotated[float, Parameter("m", "width of a bending bridge")]
    bridge_length: Annotated[float, Parameter("m", "length of a bending bridge, across the edge")]
    rows: Annotated[float, Parameter("1", "rows in series")]
    turn_room: Annotated[float, Parameter("rad", "greatest turn that the cut leaves room for")]

    def bar_stiffness(self) -> float:
        """kT = G J / L_T of one bar, N m/rad."""
        return self.sheet_shear_modulus * torsion_constant(self.bar_width, self.sheet_thickness) / self.bar_length

    def bridge_stiffness(self) -> float:
        """kB = E I / L_B of one bridge, N m/rad."""
        return self.sheet_modulus * second_moment(self.bridge_width, self.sheet_thickness) / self.bridge_length

    def row_stiffness(self, inside: bool = False) -> float:
        """2 kT kB / (kT + 2 kB) of an outside row, kT kB / (kT + kB) of an inside one, N m/rad.

        Source: Jacobsen, Chen, Howell, Magleby, Mech. Mach. Theory 44 (2009) (seen as quoted), re-derived as springs.
        """
        bar, bridge = self.bar_stiffness(), self.bridge_stiffness()
        if inside:
            return bar * bridge / (bar + bridge)
        return 2.0 * bar * bridge / (bar + 2.0 * bridge)

    def fold_stiffness(self) -> float:
        """Stiffness of all rows in series about the edge, N m/rad."""
        return self.row_stiffness() / self.rows

    def stresses(self, angle: float) -> tuple[float, float]:
        """Shear stress of a bar and bending stress of a bridge (Pa) with the joint turned by angle (rad).

        M = k theta / rows, torque a bar M / 2, tau = T / (c1 w t^2), sigma = T (t / 2) / I of the bridge (derived).
        """
        torque = self.row_stiffness() * angle / self.rows / 2.0
        shear = torque / shear_modulus_of_section(self.bar_width, self.sheet_thickness)
        bending = torque * self.sheet_thickness / 2.0 / second_moment(self.bridge_width, self.sheet_thickness)
        return shear, bending

    def largest_angle(self) -> float:
        """Turn at which bars or bridges meet the strength over its factor, or the room ends (rad)."""
        shear, bending = self.stresses(1.0)
        allowed = self.sheet_strength / self.strength_factor
        return min(allowed / (math.sqrt(3.0) * shear), allowed / bending, self.turn_room)

    def joint(self, name: str, title: str, note: str = "") -> JointKind:
        stiffness, sigma = self.seat()
        return JointKind(
            name=name, title=title, role=self.role, stiffness=stiffness, sigma=sigma, mass=self.mass,
            knuckle=self.knuckle, width=self.width, least_gap=self.least_gap, largest_angle=self.largest_angle(),
            pad_radius=self.pad_radius, note=note,
            turn=TurnLaw(flexure_rate=self.fold_stiffness(), largest_angle=self.largest_angle()),
        )  # fmt: skip
