"""Latch: a kinematic seat that magnets pull shut between two edges that meet when deployed."""

from dataclasses import dataclass
from typing import Annotated, ClassVar

from synth.hinges.kind import JointNumbers, Number
from synth.hinges.model import Parameter
from synth.hinges.seat import SeatedModel


@dataclass(frozen=True, eq=False)
class MagnetSeat(SeatedModel):
    """Kinematic seat with magnets: repeats best of all and needs no drive; it catches only what comes near, its pull
    drops steeply with the gap, and its magnets leave a residual dipole to budget.

    Three balls in vee grooves; the magnets' pull is the preload, seat_force at the closed seat, where the grooves
    stop the faces short of contact. Open by g the pull is seat_force / (1 + g / pull_gap)^2, a stated shape (practice:
    measure yours), so that pulling it open takes seat_force pull_gap.
    """

    name: ClassVar[str] = "magnet_seat"
    role: ClassVar[str] = "latch"
    life: ClassVar[str] = "contacts wear in over the first closings; magnets lose force when hot"

    pull_gap: Annotated[float, Parameter("m", "opening at which the pull is a quarter of that at the closed seat")]
    capture_range: Annotated[float, Parameter("m", "greatest sideways error that the grooves still catch")]

    def pull(self, gap: Number) -> Number:
        """Pull (N) of the magnets with the seat open by a gap (m)."""
        return self.seat_force / (1.0 + gap / self.pull_gap) ** 2

    def numbers(self) -> JointNumbers:
        stiffness, sigma = self.seat()
        return JointNumbers(
            stiffness=stiffness, sigma=sigma, mass=self.mass, knuckle=self.knuckle, width=self.width,
            least_gap=self.least_gap, largest_angle=0.0, pad_radius=self.pad_radius,
            capture=self.capture_range, hold_force=self.seat_force, hold_energy=self.seat_force * self.pull_gap,
        )  # fmt: skip
