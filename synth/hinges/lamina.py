"""Lamina emergent torsional joints: a sheet cut so that bars twist where it should fold, rows in series, with a
seat."""

import math
from abc import abstractmethod
from dataclasses import dataclass
from typing import Annotated, ClassVar

import numpy as np

from synth.core.arrays import Floats
from synth.core.turning import TurnLaw
from synth.hinges.kind import JointNumbers, Number
from synth.hinges.leaf import second_moment
from synth.hinges.model import Parameter
from synth.hinges.seat import SeatedModel
from synth.hinges.torsion import shear_modulus_of_section, torsion_constant


@dataclass(frozen=True, eq=False)
class LaminaModel(SeatedModel):
    """What the outside and the inside joint have in common. thin: the sheet; long: the bars, along the edge."""

    role: ClassVar[str] = "hinge"
    thin: ClassVar[tuple[str, ...]] = ("sheet_thickness",)
    long: ClassVar[tuple[str, ...]] = ("bar_length",)
    bridges: ClassVar[float]
    life: ClassVar[str] = (
        "no wear; a few deployments below yield are no fatigue case, cycled ones need a fatigue strength"
    )

    sheet_modulus: Annotated[float, Parameter("Pa", "Young's modulus of the sheet")]
    sheet_shear_modulus: Annotated[float, Parameter("Pa", "shear modulus of the sheet")]
    sheet_density: Annotated[float, Parameter("kg/m^3", "density of the sheet")]
    sheet_strength: Annotated[float, Parameter("Pa", "yield strength of the sheet")]
    strength_factor: Annotated[float, Parameter("1", "factor on the stress of bars and bridges")]
    sheet_thickness: Annotated[Number, Parameter("m", "thickness of the sheet")]
    bar_width: Annotated[float, Parameter("m", "width of a torsion bar")]
    bar_length: Annotated[Number, Parameter("m", "length of a torsion bar, along the edge")]
    bridge_width: Annotated[float, Parameter("m", "width of a bending bridge")]
    bridge_length: Annotated[float, Parameter("m", "length of a bending bridge, across the edge")]
    slit: Annotated[float, Parameter("m", "width of the cut between neighbouring rows")]
    rows: Annotated[float, Parameter("1", "rows in series")]
    spring_torque: Annotated[float, Parameter("N m", "torque of the deployed drive spring beside it", zero=True)]
    spring_rate: Annotated[float, Parameter("N m/rad", "rate of that drive spring", zero=True)]
    turn_room: Annotated[float, Parameter("rad", "greatest turn that the cut leaves room for")]

    def bar_stiffness(self) -> Number:
        """kT = G J / L_T of one bar, N m/rad."""
        return self.sheet_shear_modulus * torsion_constant(self.bar_width, self.sheet_thickness) / self.bar_length

    def bridge_stiffness(self) -> Number:
        """kB = E I / L_B of one bridge, N m/rad."""
        return self.sheet_modulus * second_moment(self.bridge_width, self.sheet_thickness) / self.bridge_length

    @abstractmethod
    def row_stiffness(self) -> Number:
        """Stiffness of one row about the edge, N m/rad."""

    def fold_stiffness(self) -> Number:
        """Stiffness of all rows in series about the edge, N m/rad."""
        return self.row_stiffness() / self.rows

    def stresses(self, angle: Number) -> tuple[Number, Number]:
        """Shear stress of a bar and bending stress of a bridge (Pa) with the joint turned by angle (rad).

        M = k theta / rows; two bars and two bridges stand side by side, so each carries T = M / 2:
        tau = T / (c1 w t^2), sigma = T (t / 2) / I (derived).
        """
        torque = self.row_stiffness() * angle / self.rows / 2.0
        shear = torque / shear_modulus_of_section(self.bar_width, self.sheet_thickness)
        return shear, torque * self.sheet_thickness / 2.0 / second_moment(self.bridge_width, self.sheet_thickness)

    def largest_angle(self) -> Floats:
        """Turn at which bars (von Mises, sqrt(3) tau) or bridges meet the strength over its factor (rad)."""
        shear, bending = self.stresses(1.0)
        worst = np.maximum(math.sqrt(3.0) * shear, bending)
        return np.asarray(self.sheet_strength / self.strength_factor / worst)

    def span(self) -> tuple[Number, Number]:
        """Size of the cut (m): along the edge two bars, two bridges and a middle as wide as a bridge; across it every
        row's two bars and the bridges between them, and the slits between rows."""
        along = 2.0 * self.bar_length + 3.0 * self.bridge_width
        across = (
            self.rows * (2.0 * self.bar_width + self.bridges / 2.0 * self.bridge_length) + (self.rows - 1.0) * self.slit
        )
        return along, across

    def numbers(self) -> JointNumbers:
        stiffness, sigma = self.seat()
        along, across = self.span()
        shear, bending = self.stresses(1.0)
        rate = self.fold_stiffness()
        bars = 4.0 * self.bar_length * self.bar_width + self.bridges * self.bridge_length * self.bridge_width
        return JointNumbers(
            stiffness=stiffness,
            sigma=sigma,
            mass=self.mass + self.sheet_density * self.rows * bars * self.sheet_thickness,
            knuckle=self.knuckle,
            width=np.maximum(self.width, along),
            least_gap=np.maximum(self.least_gap, across),
            largest_angle=self.turn_room,
            pad_radius=self.pad_radius,
            turn=TurnLaw(self.spring_torque, self.spring_rate, flexure_rate=rate, largest_angle=self.turn_room),
            turn_stress=np.maximum(math.sqrt(3.0) * shear, bending),
            strength=self.sheet_strength,
            strength_factor=self.strength_factor,
        )
