"""Tape springs that fold and drive, and a kinematic seat that places the edge."""

from dataclasses import dataclass
from typing import Annotated, ClassVar

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
    turn_room: Annotated[float, Parameter("rad", "greatest turn from deployed")]

    def bending_stiffness(self) -> float:
        """D = E t^3 / (12 (1 - nu^2)), N m."""
        return self.tape_modulus * self.tape_thickness**3 / (12.0 * (1.0 - self.tape_poisson**2))

    def steady_moment(self, opposite_sense: bool = True) -> float:
        """Moment of the fold while it turns, N m: (1 +- nu) D alpha, + for opposite sense, - (magnitude) for equal.

        Source: Wuest, Rimrott, Calladine (derived by least energy at fold radius = transverse radius).
        Measured fold radii exceed the transverse radius by up to 15 % (seen).
        """
        sign = 1.0 if opposite_sense else -1.0
        return (1.0 + sign * self.tape_poisson) * self.bending_stiffness() * self.subtended_angle

    def fold_strain(self) -> float:
        """Outer-fibre strain t / (2 R) in the fold."""
        return self.tape_thickness / (2.0 * self.tape_radius)

    def fold_stress(self, opposite_sense: bool = True) -> float:
        """sigma = E / (1 - nu^2) (t / 2) (1 / R) (1 +- nu), Pa (plate bending, derived)."""
        sign = 1.0 if opposite_sense else -1.0
        plate = self.tape_modulus / (1.0 - self.tape_poisson**2)
        return plate * self.fold_strain() * (1.0 + sign * self.tape_poisson)

    def joint(self, name: str, title: str, note: str = "") -> JointKind:
        if self.fold_stress() > self.tape_strength:
            raise ValueError(f"the folded tape yields: {self.fold_stress():.3g} Pa over {self.tape_strength:.3g} Pa")
        stiffness, sigma = self.seat()
        return JointKind(
            name=name, title=title, role=self.role, stiffness=stiffness, sigma=sigma, mass=self.mass,
            knuckle=self.knuckle, width=self.width, least_gap=self.least_gap, largest_angle=self.turn_room,
            pad_radius=self.pad_radius, note=note,
        )  # fmt: skip
