"""Mount: three bipods from the root panel to the spacecraft, six struts in all."""

import math
from dataclasses import dataclass
from typing import Annotated, ClassVar

import numpy as np

from synth.hinges.kind import JointNumbers
from synth.hinges.kinematic import six_ways, three_bipods
from synth.hinges.model import JointModel, Parameter


@dataclass(frozen=True, eq=False)
class BipodMount(JointModel):
    """Struts of stiffness E A / L lean half_angle to either side of the vertical, in pairs on a ring.

    Their flexed ends carry axial force only, so the mount holds the panel without straining
    it. All six stiffnesses about the ring's centre by statics (derived); knuckle is the height
    that the mount needs behind the panel.
    """

    name: ClassVar[str] = "bipod_mount"
    role: ClassVar[str] = "mount"
    life: ClassVar[str] = "flexed strut ends: no wear"

    ring_radius: Annotated[float, Parameter("m", "radius of the ring on which the bipods meet the panel")]
    half_angle: Annotated[float, Parameter("rad", "lean of a strut from the vertical")]
    strut_length: Annotated[float, Parameter("m", "length of a strut")]
    strut_diameter: Annotated[float, Parameter("m", "diameter of a strut")]
    strut_modulus: Annotated[float, Parameter("Pa", "Young's modulus of the struts")]
    strut_density: Annotated[float, Parameter("kg/m^3", "density of the struts")]
    end_share: Annotated[float, Parameter("1", "share of the axial stiffness left by the flexed ends")]
    foot_mass: Annotated[float, Parameter("kg", "mass of the feet and fasteners of one bipod")]
    length_error: Annotated[float, Parameter("m", "standard deviation of a strut's length after setting")]

    def strut_stiffness(self) -> float:
        """E A / L times what the flexed ends leave of it, N/m."""
        area = math.pi * self.strut_diameter**2 / 4.0
        return self.end_share * self.strut_modulus * area / self.strut_length

    def numbers(self) -> JointNumbers:
        height = self.strut_length * math.cos(self.half_angle)
        points, directions = three_bipods(self.ring_radius, height, self.half_angle)
        stiffness, sigma = six_ways(points, directions, self.strut_stiffness(), self.length_error)
        strut = self.strut_density * math.pi * self.strut_diameter**2 / 4.0 * self.strut_length
        return JointNumbers(
            stiffness=np.array(stiffness), sigma=np.array(sigma),
            mass=6.0 * strut + 3.0 * self.foot_mass, knuckle=height, width=2.0 * self.ring_radius, least_gap=0.0,
            largest_angle=0.0, pad_radius=self.ring_radius,
        )  # fmt: skip
