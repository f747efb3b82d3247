"""Outside lamina emergent torsional joint: bars at the outer ends of the bridges."""

from dataclasses import dataclass
from typing import ClassVar

from synth.hinges.kind import Number
from synth.hinges.lamina import LaminaModel


@dataclass(frozen=True, eq=False)
class LetFlexure(LaminaModel):
    """Lamina of torsion bars, outside type, rows in series, with a kinematic seat: flat, one cut sheet, no friction and
    no play; soft in its plane and its axis drifts, so it places nothing, and it needs a wide gap.

    Each row has four torsion bars and two bending bridges. Nothing is credited to the flexure once the seat is closed:
    the six stiffnesses and misfits are the seat's. Rows in series share the turn; the stress is that of a bar (von
    Mises) or a bridge, whichever is greater. Linear, small strain.
    """

    name: ClassVar[str] = "let_flexure"
    bridges: ClassVar[float] = 2.0

    def row_stiffness(self) -> Number:
        """2 kT kB / (kT + 2 kB), N m/rad: two chains bar, bridge, bar side by side.

        Source: Jacobsen, Chen, Howell, Magleby, Mech. Mach. Theory 44 (2009) (seen as quoted), re-derived as springs.
        """
        bar, bridge = self.bar_stiffness(), self.bridge_stiffness()
        return 2.0 * bar * bridge / (bar + 2.0 * bridge)
