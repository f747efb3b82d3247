"""Crossed leaf springs: no play, no friction, turned onto a hard stop."""

import math
from dataclasses import dataclass
from typing import Annotated, ClassVar

from synth.core.turning import TurnLaw
from synth.hinges.contact import ball_on_flat
from synth.hinges.kind import JointNumbers, Number, six
from synth.hinges.leaf import crossed_stiffness, crossed_stress, second_moment
from synth.hinges.model import JointModel, Parameter


@dataclass(frozen=True, eq=False)
class CrossSpring(JointModel):
    """Cross-spring flexural pivot with a drive spring and a hard stop: no play, no friction, no lubricant; long thin
    leaves turn by half a turn, but give across the edge, and need room behind and in front of it.

    Two sets of leaves cross at 45 degrees to the panels, side by side in strips over the whole width.
    With A = w t the section of one set, the leaves' stretch E A / L at 45 degrees makes E A / L
    across and along z for both sets together, and, spread over the width W = 2 w, (E A / L) W^2 / 12
    in the two tilts. Along the edge a leaf is a short wide beam, fixed at both ends, with
    bending and shear: 1 / (L^3 / (12 E t w^3 / 12) + 1.2 L / (G A)) each. About the edge: the stop, a
    ball (Hertz) at its lever, beside the pivot's own 8 (1 - 3 a + 3 a^2) E I / L. The room that the leaves
    take grows with their length. Linear statics (derived): at large turns the real stiffness rises, by some tens of
    per cent at a right angle (memory).
    """

    name: ClassVar[str] = "cross_spring"
    role: ClassVar[str] = "hinge"
    thin: ClassVar[tuple[str, ...]] = ("leaf_thickness",)
    long: ClassVar[tuple[str, ...]] = ("leaf_length",)
    life: ClassVar[str] = (
        "no wear; a few deployments below yield are no fatigue case, cycled ones need a fatigue strength"
    )

    leaf_modulus: Annotated[float, Parameter("Pa", "Young's modulus of the leaves")]
    leaf_poisson: Annotated[float, Parameter("1", "Poisson's ratio of the leaves")]
    leaf_strength: Annotated[float, Parameter("Pa", "yield strength of the leaves")]
    strength_factor: Annotated[float, Parameter("1", "factor on the leaf's stress")]
    leaf_length: Annotated[Number, Parameter("m", "free length of a leaf")]
    leaf_thickness: Annotated[Number, Parameter("m", "thickness of a leaf")]
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

    def pivot_stiffness(self) -> Number:
        """K = 8 (1 - 3 a + 3 a^2) E I / L of the free pivot, N m/rad; I of one set."""
        moment = second_moment(self.width / 2.0, self.leaf_thickness)
        return crossed_stiffness(self.crossing) * self.leaf_modulus * moment / self.leaf_length

    def stress(self, angle: Number) -> Number:
        """Greatest leaf stress at this turn (rad), Pa."""
        return crossed_stress(self.leaf_modulus, self.leaf_thickness, self.leaf_length, self.crossing, angle)

    def numbers(self) -> JointNumbers:
        w, t, length = self.width / 2.0, self.leaf_thickness, self.leaf_length
        stretch = self.leaf_modulus * w * t / length
        shear = self.leaf_modulus / (2.0 * (1.0 + self.leaf_poisson))
        sideways = length**3 / (12.0 * self.leaf_modulus * t * w**3 / 12.0) + 1.2 * length / (shear * w * t)
        ball = ball_on_flat(self.stop_ball_radius, self.stop_force, self.stop_modulus, self.stop_poisson)
        about = ball.stiffness * self.stop_lever**2 + self.pivot_stiffness()
        tilt = stretch * self.width**2 / 12.0
        play, turn = self.axis_error, self.stop_repeatability / self.stop_lever
        half = length / 2.0 * math.sin(math.pi / 4.0)
        return JointNumbers(
            stiffness=six(2.0 / sideways, stretch, stretch, about, tilt, tilt),
            sigma=six(play, play, play, turn, self.tilt_error, self.tilt_error),
            mass=self.mass,
            knuckle=half,
            width=self.width,
            least_gap=2.0 * half,
            largest_angle=self.turn_room,
            pad_radius=self.pad_radius,
            turn=TurnLaw(
                drive_torque=self.stop_force * self.stop_lever,
                drive_rate=self.spring_rate,
                flexure_rate=self.pivot_stiffness(),
                largest_angle=self.turn_room,
            ),
            turn_stress=self.stress(1.0),
            strength=self.leaf_strength,
            strength_factor=self.strength_factor,
        )
