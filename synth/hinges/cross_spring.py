"""Crossed leaf springs: no play, no friction, turned onto a hard stop."""

import math
from dataclasses import dataclass
from typing import Annotated, ClassVar

from synth.core.turning import TurnLaw
from synth.hinges.contact import ball_on_flat
from synth.hinges.kind import JointKind
from synth.hinges.leaf import crossed_stiffness, crossed_stress, second_moment
from synth.hinges.model import JointModel, Parameter


@dataclass(frozen=True)
class CrossSpring(JointModel):
    """Two sets of leaves that cross at 45 degrees to the panels, side by side in strips over the whole width.

    With A = w t the section of one set, the leaves' stretch E A / L at 45 degrees makes E A / L
    across and along z for both sets together, and, spread over the width W = 2 w, (E A / L) W^2 / 12
    in the two tilts. Along the edge a leaf is a short wide beam, fixed at both ends, with
    bending and shear: 1 / (L^3 / (12 E t w^3 / 12) + 1.2 L / (G A)) each. About the edge: the stop, a
    ball (Hertz) at its lever, beside the pivot's own 8 (1 - 3 a + 3 a^2) E I / L. The greatest
    turn is where the leaf's stress meets strength / factor, and no more than `turn_room`
    that the leaves' feet leave. Linear statics (derived).
    """

    name: ClassVar[str] = "cross_spring"
    role: ClassVar[str] = "hinge"

    leaf_modulus: Annotated[float, Parameter("Pa", "Young's modulus of the leaves")]
    leaf_poisson: Annotated[float, Parameter("1", "Poisson's ratio of the leaves")]
    leaf_strength: Annotated[float, Parameter("Pa", "yield strength of the leaves")]
    strength_factor: Annotated[float, Parameter("1", "factor on the leaf's stress")]
    leaf_length: Annotated[float, Parameter("m", "free length of a leaf")]
    leaf_thickness: Annotated[float, Parameter("m", "thickness of a leaf")]
    crossing: Annotated[float, Parameter("1", "where the leaves cross, as a fraction of their length", zero=True)]
    turn_room: Annotated[float, Parameter("rad", "greatest turn that the feet leave room for")]
    axis_error: Annotated[float, Parameter("m", "standard deviation of the axis, each way")]
    tilt_error: Annotated[float, Parameter("rad", "standard deviation of the axis' two tilts")]
    stop_lever: Annotated[float, Parameter("m", "distance of the stop from the axis")]
    stop_ball_radius: Annotated[float, Parameter("m", "radius of the stop's ball")]
    stop_force: Annotated[float, Parameter("N", "force of the deployed drive spring at the stop")]
    spring_rate: Annotated[float, Parameter("N m/rad", "rate of the drive spring beside the leaves", zero=True)]
    stop_repeatability: Annotated[float, Parameter("m", "standard deviation of the stop's place and setting")]
    stop_modulus: Annotated[float, Parameter("Pa", "Young's modulus of ball and anvil")]
    stop_poisson: Annotated[float, Parameter("1", "Poisson's ratio of ball and anvil")]
    width: Annotated[float, Parameter("m", "length of the unit along the edge")]
    pad_radius: Annotated[float, Parameter("m", "radius of the disc where a leaf is fastened to its panel")]
    mass: Annotated[float, Parameter("kg", "mass of one unit, both sides")]

    def pivot_stiffness(self) -> float:
        """K = 8 (1 - 3 a + 3 a^2) E I / L of the free pivot, N m/rad; I of one set."""
        moment = second_moment(self.width / 2.0, self.leaf_thickness)
        return crossed_stiffness(self.crossing) * self.leaf_modulus * moment / self.leaf_length

    def stress(self, angle: float) -> float:
        """Greatest leaf stress at this turn (rad), Pa."""
        return crossed_stress(self.leaf_modulus, self.leaf_thickness, self.leaf_length, self.crossing, angle)

    def largest_angle(self) -> float:
        """Turn at which the stress times its factor meets the strength, or the room ends (rad)."""
        return min(self.leaf_strength / self.strength_factor / self.stress(1.0), self.turn_room)

    def joint(self, name: str, title: str, note: str = "") -> JointKind:
        w, t, length = self.width / 2.0, self.leaf_thickness, self.leaf_length
        stretch = self.leaf_modulus * w * t / length
        shear = self.leaf_modulus / (2.0 * (1.0 + self.leaf_poisson))
        sideways = length**3 / (12.0 * self.leaf_modulus * t * w**3 / 12.0) + 1.2 * length / (shear * w * t)
        ball = ball_on_flat(self.stop_ball_radius, self.stop_force, self.stop_modulus, self.stop_poisson)
        about = ball.stiffness * self.stop_lever**2 + self.pivot_stiffness()
        tilt = stretch * self.width**2 / 12.0
        play, turn = self.axis_error, self.stop_repeatability / self.stop_lever
        half = length / 2.0 * math.sin(math.pi / 4.0)
        return JointKind(
            name=name,
            title=title,
            role=self.role,
            stiffness=(2.0 / sideways, stretch, stretch, about, tilt, tilt),
            sigma=(play, play, play, turn, self.tilt_error, self.tilt_error),
            mass=self.mass,
            knuckle=half,
            width=self.width,
            least_gap=2.0 * half,
            largest_angle=self.largest_angle(),
            pad_radius=self.pad_radius,
            note=note,
            turn=TurnLaw(
                drive_torque=self.stop_force * self.stop_lever,
                drive_rate=self.spring_rate,
                flexure_rate=self.pivot_stiffness(),
                largest_angle=self.largest_angle(),
            ),
        )
