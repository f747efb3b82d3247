"""Tape springs that fold and drive, and a kinematic seat that places the edge."""

from dataclasses import dataclass
from typing import Annotated, ClassVar

import numpy as np

from synth.core.turning import TurnLaw
from synth.hinges import tape
from synth.hinges.kind import JointNumbers, Number
from synth.hinges.model import Parameter
from synth.hinges.seat import SeatedModel


@dataclass(frozen=True, eq=False)
class TapeSpring(SeatedModel):
    """Tape springs with a kinematic seat: curved strips that fold to their own transverse radius, drive with a nearly
    constant moment and snap straight, no friction, no play; the snap is fast, and a tape alone repeats poorly.

    Tapes folded in the opposite sense and in the equal one may stand face to face. A tape's own straight position
    repeats poorly, so nothing is credited to it once the seat is closed: the six stiffnesses and misfits are the
    seat's.
    """

    name: ClassVar[str] = "tape_spring"
    role: ClassVar[str] = "hinge"
    thin: ClassVar[tuple[str, ...]] = ("tape_thickness",)
    long: ClassVar[tuple[str, ...]] = ("tape_radius", "tape_length")
    life: ClassVar[str] = (
        "no wear; kept folded for long it creeps and loses torque; thin strip fatigues if cycled often"
    )

    tape_modulus: Annotated[float, Parameter("Pa", "Young's modulus of the tape")]
    tape_poisson: Annotated[float, Parameter("1", "Poisson's ratio of the tape")]
    tape_strength: Annotated[float, Parameter("Pa", "yield strength of the tape")]
    tape_density: Annotated[float, Parameter("kg/m^3", "density of the tape")]
    strength_factor: Annotated[float, Parameter("1", "factor on the stress of the folded tape")]
    tape_thickness: Annotated[Number, Parameter("m", "thickness of the tape")]
    tape_radius: Annotated[Number, Parameter("m", "transverse radius, which is the fold radius too")]
    subtended_angle: Annotated[float, Parameter("rad", "angle that the cross-section subtends")]
    tape_length: Annotated[Number, Parameter("m", "free length of a tape between its clamps")]
    tapes_opposite: Annotated[float, Parameter("1", "tapes of one unit that fold in the opposite sense", zero=True)]
    tapes_equal: Annotated[float, Parameter("1", "tapes of one unit that fold in the equal sense", zero=True)]
    turn_room: Annotated[float, Parameter("rad", "greatest turn from deployed")]

    def bending_stiffness(self) -> Number:
        """D = E t^3 / (12 (1 - nu^2)), N m."""
        return tape.plate_stiffness(self.tape_modulus, self.tape_poisson, self.tape_thickness)

    def steady_moment(self, opposite_sense: bool = True) -> Number:
        """Moment of one tape's fold while it turns, N m (magnitude): tape.steady_moment."""
        return tape.steady_moment(self.bending_stiffness(), self.tape_poisson, self.subtended_angle, opposite_sense)

    def peak_moment(self, opposite_sense: bool = True) -> tuple[Number, Number]:
        """Moment (N m) at which one straight tape snaps, and the angle (rad) that its length is bent by then."""
        given = (self.tape_modulus, self.tape_poisson, self.tape_thickness, self.tape_radius, self.subtended_angle)
        moment, curvature = tape.peak(*given, opposite_sense)
        return moment, curvature * self.tape_length

    def turn_law(self) -> TurnLaw:
        """All tapes of the unit: they rise together to their peaks, and fold from there."""
        over, under = self.tapes_opposite, self.tapes_equal
        (high, bent), (low, sooner) = self.peak_moment(True), self.peak_moment(False)
        return TurnLaw(
            fold_moment=over * self.steady_moment(True) + under * self.steady_moment(False),
            peak_moment=over * high + under * low,
            peak_angle=bent if over else sooner,
            largest_angle=self.turn_room,
        )

    def fold_strain(self) -> Number:
        """Outer-fibre strain t / (2 R) in the fold."""
        return self.tape_thickness / (2.0 * self.tape_radius)

    def fold_stress(self, opposite_sense: bool = True) -> Number:
        """sigma = E / (1 - nu^2) (t / 2) (1 / R) (1 +- nu), Pa (plate bending, derived)."""
        given = (self.tape_modulus, self.tape_poisson, self.tape_thickness, self.tape_radius)
        return tape.fold_stress(*given, opposite_sense)

    def numbers(self) -> JointNumbers:
        stiffness, sigma = self.seat()
        strip = self.tape_radius * self.subtended_angle * self.tape_length * self.tape_thickness
        return JointNumbers(
            stiffness=stiffness,
            sigma=sigma,
            mass=self.mass + self.tape_density * strip * (self.tapes_opposite + self.tapes_equal),
            knuckle=self.knuckle,
            width=self.width,
            # folded by half a turn, a tape is two fold radii deep, and the gap is what it has
            least_gap=np.maximum(self.least_gap, 2.0 * self.tape_radius),
            largest_angle=self.turn_room,
            pad_radius=self.pad_radius,
            turn=self.turn_law(),
            fold_stress=self.fold_stress(bool(self.tapes_opposite)),
            strength=self.tape_strength,
            strength_factor=self.strength_factor,
            fold_radius=self.tape_radius,
        )
