"""Inside lamina emergent torsional joint: bars in the middle, between the bridges."""

from dataclasses import dataclass
from typing import ClassVar

from synth.hinges.kind import Number
from synth.hinges.lamina import LaminaModel


@dataclass(frozen=True, eq=False)
class LetInside(LaminaModel):
    """Lamina of torsion bars, inside type, rows in series, with a kinematic seat: as the outside type, but joined to
    the panels at its outer ends, so it bears more in its plane; a little softer about the edge for the same bars.

    Each row has four torsion bars and four bridges. Nothing is credited to the flexure
    once the seat is closed. Linear, small strain.
    """

    name: ClassVar[str] = "let_inside"
    bridges: ClassVar[float] = 4.0

    def row_stiffness(self) -> Number:
        """kT kB / (kT + kB), N m/rad: pairs of bridges, bars, bars, bridges one after another.

        Source: Jacobsen, Chen, Howell, Magleby, Mech. Mach. Theory 44 (2009) (seen as quoted), re-derived as springs.
        """
        bar, bridge = self.bar_stiffness(), self.bridge_stiffness()
        return bar * bridge / (bar + bridge)
