"""Rolling contact: two rollers held on each other by crossed bands."""

import math
from dataclasses import dataclass
from typing import Annotated, ClassVar

from synth.core.turning import TurnLaw
from synth.hinges.contact import ball_on_flat
from synth.hinges.kind import JointNumbers, six
from synth.hinges.model import JointModel, Parameter


@dataclass(frozen=True, eq=False)
class RollingContact(JointModel):
    """Rolling contact of two equal rollers held together by crossed bands: next to no friction, no sliding, carries
    compression well; its axis moves as it turns, it holds little along the edge, and it needs a drive spring and a
    stop.

    Panels roll on each other: turned by theta, one has moved as about a fixed axis one roller radius R before the
    contact line, which it meets again at a half turn, and strays from that by up to 0.83 R on the way. The path model
    follows fixed axes only, so this kind is listed and not offered.
    Bands of thickness t stay bent to R all the time: sigma = E t / (2 R) + preload / (w t). The bands alone are
    credited, n E w t / L across and in z, L = pi R / 2, spread over the width in the tilts: pressed together the
    rollers are stiffer. Along the edge bands are short wide beams. Linear (derived).
    """

    name: ClassVar[str] = "rolling_contact"
    role: ClassVar[str] = "hinge"
    moving_axis: ClassVar[bool] = True
    thin: ClassVar[tuple[str, ...]] = ("band_thickness",)
    life: ClassVar[str] = "bands flex to one radius at every turn: cycled ones need a fatigue strength"

    roller_radius: Annotated[float, Parameter("m", "radius of both rollers")]
    roller_modulus: Annotated[float, Parameter("Pa", "Young's modulus of the rollers")]
    roller_poisson: Annotated[float, Parameter("1", "Poisson's ratio of the rollers")]
    band_modulus: Annotated[float, Parameter("Pa", "Young's modulus of the bands")]
    band_strength: Annotated[float, Parameter("Pa", "yield strength of the bands")]
    strength_factor: Annotated[float, Parameter("1", "factor on the bands' stress")]
    band_thickness: Annotated[float, Parameter("m", "thickness of a band")]
    band_width: Annotated[float, Parameter("m", "width of a band")]
    bands: Annotated[float, Parameter("1", "bands, half of them crossed either way")]
    band_preload: Annotated[float, Parameter("N", "tension of a band")]
    axis_error: Annotated[float, Parameter("m", "standard deviation of the contact line, each way")]
    tilt_error: Annotated[float, Parameter("rad", "standard deviation of the contact line's two tilts")]
    stop_lever: Annotated[float, Parameter("m", "distance of the stop from the contact line")]
    stop_ball_radius: Annotated[float, Parameter("m", "radius of the stop's ball")]
    stop_force: Annotated[float, Parameter("N", "force of the deployed drive spring at the stop")]
    spring_rate: Annotated[float, Parameter("N m/rad", "rate of the drive spring", zero=True)]
    stop_repeatability: Annotated[float, Parameter("m", "standard deviation of the stop's place and setting")]
    width: Annotated[float, Parameter("m", "length of the unit along the edge")]
    turn_room: Annotated[float, Parameter("rad", "greatest turn that the bands leave room for")]
    pad_radius: Annotated[float, Parameter("m", "radius of the disc where a roller is fastened to its panel")]
    mass: Annotated[float, Parameter("kg", "mass of one unit, both sides")]

    def straying(self) -> float:
        """How far (m) the panel is at mid-turn from where a fixed axis would have it: sqrt(2) (2 - sqrt(2)) R."""
        return math.sqrt(2.0) * (2.0 - math.sqrt(2.0)) * self.roller_radius

    def stress(self) -> float:
        """Stress of a band, Pa."""
        bend = self.band_modulus * self.band_thickness / (2.0 * self.roller_radius)
        return bend + self.band_preload / (self.band_width * self.band_thickness)

    def numbers(self) -> JointNumbers:
        arc = math.pi * self.roller_radius / 2.0
        band = self.band_modulus * self.band_width * self.band_thickness / arc
        sideways = self.band_modulus * self.band_thickness * self.band_width**3 / arc**3
        given = self.roller_modulus, self.roller_poisson
        ball = ball_on_flat(self.stop_ball_radius, self.stop_force, *given)
        pull, tilt = self.bands * band, self.bands * band * self.width**2 / 12.0
        play, turn = self.axis_error, self.stop_repeatability / self.stop_lever
        return JointNumbers(
            stiffness=six(self.bands * sideways, pull, pull, ball.stiffness * self.stop_lever**2, tilt, tilt),
            sigma=six(play, play, play, turn, self.tilt_error, self.tilt_error),
            mass=self.mass,
            knuckle=self.roller_radius,
            width=self.width,
            least_gap=4.0 * self.roller_radius,
            largest_angle=self.turn_room,
            pad_radius=self.pad_radius,
            turn=TurnLaw(
                drive_torque=self.stop_force * self.stop_lever, drive_rate=self.spring_rate,
                largest_angle=self.turn_room,
            ),
            fold_stress=self.stress(),
            strength=self.band_strength,
            strength_factor=self.strength_factor,
            fold_radius=self.roller_radius,
        )  # fmt: skip
