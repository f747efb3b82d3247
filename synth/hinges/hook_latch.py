"""Latch: two spring-driven hooks that catch pins and pull two edges onto pads."""

import math
from dataclasses import dataclass
from typing import Annotated, ClassVar

from synth.hinges.contact import ball_on_flat
from synth.hinges.kind import JointNumbers, six
from synth.hinges.leaf import second_moment
from synth.hinges.model import JointModel, Parameter, in_series


@dataclass(frozen=True, eq=False)
class HookLatch(JointModel):
    """Hook latch: catches from far, locks by its shape and holds without a magnet; it repeats no better than hooks and
    pins do, and pulls what it joins into strain rather than placing it.

    Two hooks a span apart, each E A / L in series with a crowned pin (Hertz): 2 k across, k span^2 / 2 about z. Hooks
    bend as cantilevers along the edge and along z, 3 E I / L^3 each, and so in tilt; about the edge two pads hold a
    height apart, k height^2 / 2. Linear statics (derived).
    """

    name: ClassVar[str] = "hook_latch"
    role: ClassVar[str] = "latch"
    life: ClassVar[str] = "hooks and pins wear: ground and flight closings need a life test"

    hook_modulus: Annotated[float, Parameter("Pa", "Young's modulus of hooks and pins")]
    hook_poisson: Annotated[float, Parameter("1", "Poisson's ratio of hooks and pins")]
    hook_length: Annotated[float, Parameter("m", "length of a hook from its pivot to the pin")]
    hook_width: Annotated[float, Parameter("m", "width of a hook, along the edge")]
    hook_height: Annotated[float, Parameter("m", "height of a hook, along z")]
    pin_radius: Annotated[float, Parameter("m", "radius of the pin's crown")]
    hook_span: Annotated[float, Parameter("m", "distance of the two hooks along the edge")]
    pad_height: Annotated[float, Parameter("m", "distance of the two pads along z")]
    hold_force: Annotated[float, Parameter("N", "pull of both hooks, closed")]
    closing_travel: Annotated[float, Parameter("m", "distance over which the hooks pull")]
    capture_range: Annotated[float, Parameter("m", "greatest error of the pin's place that a hook still catches")]
    repeatability: Annotated[float, Parameter("m", "standard deviation of the edge, each way, from closing to closing")]
    width: Annotated[float, Parameter("m", "length of the unit along the edge")]
    knuckle: Annotated[float, Parameter("m", "half height of the hardware about the axis")]
    least_gap: Annotated[float, Parameter("m", "least edge gap that the hardware fits in")]
    pad_radius: Annotated[float, Parameter("m", "radius of the disc where a half is fastened to its panel")]
    mass: Annotated[float, Parameter("kg", "mass of one unit, both sides")]

    def numbers(self) -> JointNumbers:
        length, span, high = self.hook_length, self.hook_span, self.pad_height
        ball = ball_on_flat(self.pin_radius, self.hold_force / 2.0, self.hook_modulus, self.hook_poisson)
        pull = in_series(self.hook_modulus * self.hook_width * self.hook_height / length, ball.stiffness)
        along = 3.0 * self.hook_modulus * second_moment(self.hook_height, self.hook_width) / length**3
        upright = 3.0 * self.hook_modulus * second_moment(self.hook_width, self.hook_height) / length**3
        s, turn, tilt = self.repeatability, math.sqrt(2.0) / high, math.sqrt(2.0) / span
        return JointNumbers(
            stiffness=six(
                2.0 * along, 2.0 * pull, 2.0 * upright, pull * high**2 / 2.0, upright * span**2 / 2.0,
                pull * span**2 / 2.0,
            ),
            sigma=six(s, s, s, s * turn, s * tilt, s * tilt),
            mass=self.mass,
            knuckle=self.knuckle,
            width=self.width,
            least_gap=self.least_gap,
            largest_angle=0.0,
            pad_radius=self.pad_radius,
            capture=self.capture_range,
            hold_force=self.hold_force,
            hold_energy=self.hold_force * self.closing_travel,
        )  # fmt: skip
