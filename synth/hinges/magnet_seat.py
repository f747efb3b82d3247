"""Latch: a kinematic seat that magnets pull shut between two edges that meet when deployed."""

from dataclasses import dataclass
from typing import ClassVar

from synth.hinges.kind import JointKind
from synth.hinges.seat import SeatedModel


@dataclass(frozen=True)
class MagnetSeat(SeatedModel):
    """Three balls in vee grooves; the magnets' pull is the preload. Pull drops steeply with the gap, so the force
    given is the one at the closed seat, where the grooves stop the faces short of contact."""

    name: ClassVar[str] = "magnet_seat"
    role: ClassVar[str] = "latch"

    def joint(self, name: str, title: str, note: str = "") -> JointKind:
        stiffness, sigma = self.seat()
        return JointKind(
            name=name, title=title, role=self.role, stiffness=stiffness, sigma=sigma, mass=self.mass,
            knuckle=self.knuckle, width=self.width, least_gap=self.least_gap, largest_angle=0.0,
            pad_radius=self.pad_radius, note=note,
        )  # fmt: skip
