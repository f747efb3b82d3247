"""Torque of hinges about their edge against the angle that they are turned by."""

from dataclasses import dataclass, fields

import numpy as np

from synth.core.arrays import Bools, Floats, Ints


@dataclass(frozen=True, eq=False)
class TurnLaw:
    """Three torques about the edge, as functions of the angle a from deployed. SI, N m and rad.

    Fields are numbers (one unit), columns [B], or [B, H] (a hinge with all its units together). Angles have the shape
    of the fields and any further axes behind it, [B, H, S] say; they are magnitudes, 0 deployed, whichever way the
    edge folds. Positive torque drives towards deployed.

        spring(a)    = drive_torque + drive_rate a + fold(a): what is built to drive, torsion springs and tape folds
        fold(a)      = peak_moment a / peak_angle up to peak_angle, fold_moment beyond: a tape snaps at its peak
        restoring(a) = flexure_rate (a - rest_angle): leaves, bars, films that bend; negative below their rest angle
        friction(a)  = friction, Coulomb, against whatever motion there is

    peak_moment: greatest moment that the unit holds when folded from straight, its hold against being folded again too.
    largest_angle: how far it turns. Nominal values at room temperature: factors for hot, cold and life are the drive
    model's. The fold law is two straight pieces: the true curve falls smoothly from its peak to the steady fold, and
    the energy under that fall is not in it.
    """

    drive_torque: Floats | float = 0.0
    drive_rate: Floats | float = 0.0
    fold_moment: Floats | float = 0.0
    peak_moment: Floats | float = 0.0
    peak_angle: Floats | float = 1.0
    flexure_rate: Floats | float = 0.0
    rest_angle: Floats | float = 0.0
    friction: Floats | float = 0.0
    largest_angle: Floats | float = 0.0

    def spring(self, angle: Floats) -> Floats:
        """Torque towards deployed of what is built to drive, N m, shape of angle."""
        return self._field("drive_torque", angle) + self._field("drive_rate", angle) * angle + self._fold(angle)

    def restoring(self, angle: Floats) -> Floats:
        """Torque towards deployed of the bent parts, N m; below zero where they hold back."""
        return self._field("flexure_rate", angle) * (angle - self._field("rest_angle", angle))

    def resisting(self, angle: Floats) -> Floats:
        """Friction torque against the motion, N m, without sign."""
        return np.broadcast_to(self._field("friction", angle), np.shape(angle)).astype(np.float64)

    def energy(self, angle: Floats) -> Floats:
        """What is stored at an angle and given back on the way to deployed, J: the integral of spring + restoring."""
        peak, steady = self._field("peak_moment", angle), self._field("fold_moment", angle)
        knee = self._field("peak_angle", angle)
        within = np.minimum(angle, knee)
        fold = peak * within**2 / (2.0 * knee) + steady * (angle - within)
        drive = self._field("drive_torque", angle) * angle + self._field("drive_rate", angle) * angle**2 / 2.0
        bent = self._field("flexure_rate", angle) * (angle**2 / 2.0 - self._field("rest_angle", angle) * angle)
        return np.asarray(drive + fold + bent)

    def times(self, number: Floats | float) -> "TurnLaw":
        """The law of so many units side by side (number broadcasts against the fields)."""
        scaled = ("drive_torque", "drive_rate", "fold_moment", "peak_moment", "flexure_rate", "friction")
        return TurnLaw(
            **{f.name: np.asarray(getattr(self, f.name)) * (number if f.name in scaled else 1.0) for f in fields(self)}
        )

    def take(self, rows: Ints) -> "TurnLaw":
        """These candidates only."""
        return TurnLaw(**{f.name: np.asarray(getattr(self, f.name))[rows] for f in fields(self)})

    def columns(self, shape: tuple[int, ...]) -> "TurnLaw":
        """Fields [B] spread over the H hinges of a shape [B, H]."""
        return TurnLaw(
            **{f.name: np.broadcast_to(np.asarray(getattr(self, f.name))[:, None], shape) for f in fields(self)}
        )

    def where(self, those: Bools, other: "TurnLaw") -> "TurnLaw":
        """The other law where `those`, this one elsewhere."""
        pairs = ((f.name, getattr(other, f.name), getattr(self, f.name)) for f in fields(self))
        return TurnLaw(**{name: np.where(those, theirs, mine) for name, theirs, mine in pairs})

    def _fold(self, angle: Floats) -> Floats:
        knee = self._field("peak_angle", angle)
        rise = self._field("peak_moment", angle) * angle / knee
        return np.where(angle <= knee, rise, self._field("fold_moment", angle))

    def _field(self, name: str, angle: Floats) -> Floats:
        value = np.asarray(getattr(self, name), dtype=np.float64)
        return value.reshape(value.shape + (1,) * (np.ndim(angle) - value.ndim))


STILL = TurnLaw()
"""Of what does not turn: a latch, a mount."""
