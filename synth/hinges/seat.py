"""The kinematic seat that places an edge once deployed: three balls in vee grooves, pressed together."""

from dataclasses import dataclass
from functools import lru_cache
from typing import Annotated

import numpy as np

from synth.core.arrays import Floats
from synth.hinges.contact import BallContact, ball_on_flat
from synth.hinges.kinematic import six_ways, three_vees
from synth.hinges.model import JointModel, Parameter


@dataclass(frozen=True, eq=False)
class SeatedModel(JointModel):
    """What every joint with a seat has in common. The seat carries all six ways while the preload holds."""

    seat_span: Annotated[float, Parameter("m", "distance of the two lower balls along the edge")]
    seat_height: Annotated[float, Parameter("m", "height of the upper ball over the lower two")]
    seat_ball_radius: Annotated[float, Parameter("m", "radius of the balls")]
    seat_force: Annotated[float, Parameter("N", "preload that closes the seat, across the edge")]
    seat_repeatability: Annotated[
        float, Parameter("m", "standard deviation of a contact's place from one closing to the next and of its setting")
    ]
    seat_modulus: Annotated[float, Parameter("Pa", "Young's modulus of balls and grooves")]
    seat_poisson: Annotated[float, Parameter("1", "Poisson's ratio of balls and grooves")]
    width: Annotated[float, Parameter("m", "length of the unit along the edge")]
    knuckle: Annotated[float, Parameter("m", "half height of the hardware about the axis")]
    least_gap: Annotated[float, Parameter("m", "least edge gap that the hardware fits in")]
    pad_radius: Annotated[float, Parameter("m", "radius of the disc where a leaf is fastened to its panel")]
    mass: Annotated[float, Parameter("kg", "mass of one unit, both sides")]

    def contact(self) -> BallContact:
        """One of the six contacts: the preload F shared by three balls on two flanks at 45 degrees, F / (6 cos 45)."""
        force = self.seat_force / (6.0 * np.cos(np.pi / 4.0))
        return ball_on_flat(self.seat_ball_radius, float(force), self.seat_modulus, self.seat_poisson)

    def seat(self) -> tuple[Floats, Floats]:
        """Stiffness (3 N/m, 3 N m/rad) and misfit (3 m, 3 rad) of the closed seat about the unit's centre."""
        return _seated(self.seat_span, self.seat_height, self.contact().stiffness, self.seat_repeatability)


@lru_cache(maxsize=64)
def _seated(span: float, height: float, stiffness: float, error: float) -> tuple[Floats, Floats]:
    """Kept, since the search asks for the same few seats in every batch; not to be written to."""
    points, normals = three_vees(span, height)
    made, sigma = (np.array(v) for v in six_ways(points, normals, stiffness, error))
    made.flags.writeable = sigma.flags.writeable = False
    return made, sigma
