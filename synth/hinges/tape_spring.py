"""Tape springs that fold and drive, and a kinematic seat that places the edge."""

from dataclasses import dataclass
from typing import Annotated, ClassVar

from synth.core.turning import TurnLaw
from synth.hinges import tape
from synth.hinges.kind import JointKind
from synth.hinges.model import Parameter
from synth.hinges.seat import SeatedModel


@dataclass(frozen=True)
class TapeSpring(SeatedModel):
    """Curved strips across the gap fold to their own transverse radius and snap straight; then the seat carries.

    A tape's own straight position repeats poorly, so nothing is credited to it once the
    seat is closed: the six stiffnesses and misfits are the seat's.
    """

    name: ClassVar[str] = "tape_spring"
    role: ClassVar[str] = "hinge"

    tape_modulus: Annotated[float, Parameter("Pa", "Young's modulus of the tape")]
    tape_poisson: Annotated[float, Parameter("1", "Poisson's ratio of the tape")]
    tape_strength: Annotated[float, Parameter("Pa", "yield strength of the tape")]
    tape_thickness: Annotated[float, Parameter("m", "thickness of the tape")]
    tape_radius: Annotated[float, Parameter("m", "transverse radius, which is the fold radius too")]
    subtended_angle: Annotated[float, Parameter("rad", "angle that the cross-section subtends")]
    tape_length: Annotated[float, Parameter("m", "free length of a tape between its clamps")]
    tapes_opposite: Annotated[float, Parameter("1", "tapes of one unit that fold in the opposite sense", zero=True)]
    tapes_equal: Annotated[float, Parameter("1", "tapes of one unit that fold in the equal sense", zero=True)]
    turn_room: Annotated[float, Parameter("rad", "greatest turn from deployed")]

    def bending_stiffness(self) -> float:
        """D = E t^3 / (12 (1 - nu^2)), N m."""
        return float(tape.plate_stiffness(self.tape_modulus, self.tape_poisson, self.tape_thickness))

    def steady_moment(self, opposite_sense: bool = True) -> float:
        """Moment of one tape's fold while it turns, N m (magnitude): tape.steady_moment."""
        stiffness = self.bending_stiffness()
        return float(tape.steady_moment(stiffness, self.tape_poisson, self.subtended_angle, opposite_sense))

    def peak_moment(self, opposite_sense: bool = True) -> tuple[float, float]:
        """Moment (N m) at which one straight tape snaps, and the angle (rad) that its length is bent by then."""
        given = (self.tape_modulus, self.tape_poisson, self.tape_thickness, self.tape_radius, self.subtended_angle)
        moment, curvature = tape.peak(*given, opposite_sense)
        return float(moment), float(curvature) * self.tape_length

    def turn_law(self) -> TurnLaw:
        """All tapes of the unit: they rise together to the peak of the opposite sense, and fold from there."""
        over, under = self.tapes_opposite, self.tapes_equal
        (high, bent), (low, sooner) = self.peak_moment(True), self.peak_moment(False)
        return TurnLaw(
            fold_moment=over * self.steady_moment(True) + under * self.steady_moment(False),
            peak_moment=over * high + under * low,
            peak_angle=bent if over else sooner,
            largest_angle=self.turn_room,
        )

    def fold_strain(self) -> float:
        """Outer-fibre strain t / (2 R) in the fold."""
        return self.tape_thickness / (2.0 * self.tape_radius)

    def fold_stress(self, opposite_sense: bool = True) -> float:
        """sigma = E / (1 - nu^2) (t / 2) (1 / R) (1 +- nu), Pa (plate bending, derived)."""
        given = (self.tape_modulus, self.tape_poisson, self.tape_thickness, self.tape_radius)
        return float(tape.fold_stress(*given, opposite_sense))

    def joint(self, name: str, title: str, note: str = "") -> JointKind:
        if self.fold_stress() > self.tape_strength:
            raise ValueError(f"the folded tape yields: {self.fold_stress():.3g} Pa over {self.tape_strength:.3g} Pa")
        stiffness, sigma = self.seat()
        return JointKind(
            name=name, title=title, role=self.role, stiffness=stiffness, sigma=sigma, mass=self.mass,
            knuckle=self.knuckle, width=self.width, least_gap=self.least_gap, largest_angle=self.turn_room,
            pad_radius=self.pad_radius, note=note, turn=self.turn_law(),
        )  # fmt: skip
