"""Small-length flexure: one short thin leaf bends between the panels, with a seat."""

from dataclasses import dataclass
from typing import Annotated, ClassVar

import numpy as np

from synth.core.turning import TurnLaw
from synth.hinges.kind import JointNumbers, Number
from synth.hinges.leaf import pivot_stress, short_pivot
from synth.hinges.model import Parameter
from synth.hinges.seat import SeatedModel


@dataclass(frozen=True, eq=False)
class ShortFlexure(SeatedModel):
    """Small-length flexural pivot with a kinematic seat: one leaf, no friction, no play, the lightest; for a half
    turn it must be very thin, so it holds next to nothing until the seat is closed, and buckles under side load.

    K = E I / l and sigma = E t theta / (2 l), pure bending into an arc of radius l / theta; l about a tenth of the
    panel or less. Nothing is credited to the leaf once the seat is closed: the six stiffnesses and misfits are the
    seat's.
    """

    name: ClassVar[str] = "short_flexure"
    role: ClassVar[str] = "hinge"
    thin: ClassVar[tuple[str, ...]] = ("leaf_thickness",)
    long: ClassVar[tuple[str, ...]] = ("leaf_length",)
    life: ClassVar[str] = (
        "no wear; a few deployments below yield are no fatigue case, cycled ones need a fatigue strength"
    )

    leaf_modulus: Annotated[float, Parameter("Pa", "Young's modulus of the leaf")]
    leaf_density: Annotated[float, Parameter("kg/m^3", "density of the leaf")]
    leaf_strength: Annotated[float, Parameter("Pa", "yield strength of the leaf")]
    strength_factor: Annotated[float, Parameter("1", "factor on the leaf's stress")]
    leaf_thickness: Annotated[Number, Parameter("m", "thickness of the leaf")]
    leaf_length: Annotated[Number, Parameter("m", "free length of the leaf, across the edge")]
    leaf_width: Annotated[float, Parameter("m", "width of the leaf, along the edge")]
    spring_torque: Annotated[float, Parameter("N m", "torque of the deployed drive spring beside it", zero=True)]
    spring_rate: Annotated[float, Parameter("N m/rad", "rate of that drive spring", zero=True)]
    turn_room: Annotated[float, Parameter("rad", "greatest turn that there is room for")]

    def numbers(self) -> JointNumbers:
        stiffness, sigma = self.seat()
        leaf = self.leaf_width * self.leaf_length * self.leaf_thickness
        rate = short_pivot(self.leaf_modulus, self.leaf_width, self.leaf_thickness, self.leaf_length)
        return JointNumbers(
            stiffness=stiffness,
            sigma=sigma,
            mass=self.mass + self.leaf_density * leaf,
            knuckle=self.knuckle,
            width=self.width,
            least_gap=np.maximum(self.least_gap, self.leaf_length),
            largest_angle=self.turn_room,
            pad_radius=self.pad_radius,
            turn=TurnLaw(self.spring_torque, self.spring_rate, flexure_rate=rate, largest_angle=self.turn_room),
            turn_stress=pivot_stress(self.leaf_modulus, self.leaf_thickness, self.leaf_length, 1.0),
            strength=self.leaf_strength,
            strength_factor=self.strength_factor,
            fold_radius=self.leaf_length / np.pi,
        )
