"""Pin in two preloaded bearings, driven by a torsion spring onto a hard stop."""

import math
from dataclasses import dataclass
from typing import Annotated, ClassVar

from synth.core.turning import TurnLaw
from synth.hinges.contact import ball_on_flat
from synth.hinges.kind import JointNumbers, six
from synth.hinges.leaf import second_moment
from synth.hinges.model import JointModel, Parameter, in_series
from synth.hinges.torsion import torsion_constant


@dataclass(frozen=True, eq=False)
class PinSpring(JointModel):
    """Pin hinge with a torsion spring and a hard stop: turns as far as asked with full torque, small, well known; it
    has play unless preloaded, and friction and a lubricant that change with temperature and time.

    One unit: two bearings a span apart on the axis, leaves to either side, a ball stop at a lever from the axis.

    Two radial springs k at -/+ b/2 make 2 k across and along z and k b^2 / 2 in tilt. About
    the axis the spring presses a ball (Hertz) at the lever h: k_ball h^2. The leaves of
    thickness t and length l lie in series: 3 E I / l^3 along z, E I / l about the edge and
    G J / l in twist, each once a side. A play of -/+ c, all values alike, has standard
    deviation c / sqrt(3), and tilts the pin by -/+ c / b. Linear statics (derived).
    """

    name: ClassVar[str] = "pin_spring"
    role: ClassVar[str] = "hinge"
    life: ClassVar[str] = "bearings and lubricant wear: ground and flight cycles need a life test"

    bearing_span: Annotated[float, Parameter("m", "distance between the two bearings along the axis")]
    bearing_radial_stiffness: Annotated[float, Parameter("N/m", "radial stiffness of one preloaded bearing")]
    bearing_axial_stiffness: Annotated[float, Parameter("N/m", "axial stiffness of the pair")]
    clearance: Annotated[float, Parameter("m", "half width of the play that is left in a bearing", zero=True)]
    stop_lever: Annotated[float, Parameter("m", "distance of the stop from the axis")]
    stop_ball_radius: Annotated[float, Parameter("m", "radius of the stop's ball")]
    stop_force: Annotated[float, Parameter("N", "force of the deployed torsion spring at the stop")]
    spring_rate: Annotated[float, Parameter("N m/rad", "rate of the torsion spring", zero=True)]
    friction_torque: Annotated[float, Parameter("N m", "friction torque of both bearings", zero=True)]
    stop_repeatability: Annotated[float, Parameter("m", "standard deviation of the stop's place and setting")]
    stop_modulus: Annotated[float, Parameter("Pa", "Young's modulus of ball and anvil")]
    stop_poisson: Annotated[float, Parameter("1", "Poisson's ratio of ball and anvil")]
    leaf_modulus: Annotated[float, Parameter("Pa", "Young's modulus of the leaves")]
    leaf_poisson: Annotated[float, Parameter("1", "Poisson's ratio of the leaves")]
    leaf_density: Annotated[float, Parameter("kg/m^3", "density of leaves and barrel")]
    leaf_thickness: Annotated[float, Parameter("m", "thickness of a leaf")]
    leaf_length: Annotated[float, Parameter("m", "length of a leaf from the axis to its fasteners")]
    width: Annotated[float, Parameter("m", "length of the unit along the edge")]
    knuckle: Annotated[float, Parameter("m", "radius of the barrel")]
    largest_angle: Annotated[float, Parameter("rad", "greatest turn from deployed")]
    pad_radius: Annotated[float, Parameter("m", "radius of the disc where a leaf is fastened to its panel")]

    def play_tilt(self) -> float:
        """Greatest tilt of the pin, c / b (rad): 5 um over 50 mm is 100 urad (derived)."""
        return self.clearance / self.bearing_span

    def numbers(self) -> JointNumbers:
        k, b, length = self.bearing_radial_stiffness, self.bearing_span, self.leaf_length
        bend = self.leaf_modulus * second_moment(self.width, self.leaf_thickness)
        shear = self.leaf_modulus / (2.0 * (1.0 + self.leaf_poisson))
        twist = shear * torsion_constant(self.width, self.leaf_thickness) / length / 2.0
        ball = ball_on_flat(self.stop_ball_radius, self.stop_force, self.stop_modulus, self.stop_poisson)
        stop = ball.stiffness * self.stop_lever**2
        play, tilt = self.clearance / math.sqrt(3.0), self.play_tilt() / math.sqrt(3.0)
        barrel = math.pi * self.knuckle**2 + 2.0 * length * self.leaf_thickness
        return JointNumbers(
            stiffness=six(
                self.bearing_axial_stiffness, 2.0 * k, in_series(2.0 * k, 1.5 * bend / length**3),
                in_series(stop, 0.5 * bend / length), in_series(k * b**2 / 2.0, twist), k * b**2 / 2.0,
            ),
            sigma=six(play, play, play, self.stop_repeatability / self.stop_lever, tilt, tilt),
            mass=self.leaf_density * barrel * self.width,
            knuckle=self.knuckle,
            width=self.width,
            least_gap=2.0 * self.knuckle,
            largest_angle=self.largest_angle,
            pad_radius=self.pad_radius,
            turn=TurnLaw(
                drive_torque=self.stop_force * self.stop_lever, drive_rate=self.spring_rate,
                friction=self.friction_torque, largest_angle=self.largest_angle,
            ),
            free_play=six(self.clearance, self.clearance, self.clearance, 0.0, self.play_tilt(), self.play_tilt()),
        )  # fmt: skip
