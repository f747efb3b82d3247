"""What a joint is, a unit: six stiffnesses, misfit, mass, room, torque against angle, stress of what flexes."""

from collections.abc import Sequence
from dataclasses import dataclass, field, fields, replace
from typing import Any, ClassVar, Protocol, TypeAlias

import numpy as np

from synth.core.arrays import Column, Floats, Ints
from synth.core.turning import STILL, TurnLaw

Number: TypeAlias = Floats | float
Six: TypeAlias = tuple[float, float, float, float, float, float]


@dataclass(frozen=True, eq=False)
class JointNumbers:
    """Numbers of joint units as latched (deployed), SI. Each a number (one unit) or a column [B].

    stiffness and sigma [..., 6]: (along the edge, across it, z) N/m and m, then (about the edge, about across, about z)
    N m/rad and rad. knuckle: half height of the hardware about the hinge axis. width: length along the edge.
    least_gap: least edge gap the hardware fits in. largest_angle: rad, as far as there is room. pad_radius: m, where
    the leaves are fastened. turn: torque about the edge against the angle.

    Stress of what flexes, turned by an angle: fold_stress + turn_stress angle, Pa (fold_stress is there as soon as it
    is folded at all), held against strength over strength_factor; a strength of zero: nothing flexes.
    fold_radius: m, what flexes is bent to at a half turn; 0 where nothing is.
    Of a latch: capture, m, the greatest error of place that it still catches; hold_force, N, across the edge, closed;
    hold_energy, J, what it takes to pull it open.
    free_play [..., 6]: half widths (m, rad) within which nothing holds, as latched; part of sigma already.
    """

    stiffness: Floats
    sigma: Floats
    mass: Number
    knuckle: Number
    width: Number
    least_gap: Number
    largest_angle: Number
    pad_radius: Number
    turn: TurnLaw = STILL
    fold_stress: Number = 0.0
    turn_stress: Number = 0.0
    strength: Number = 0.0
    strength_factor: Number = 1.0
    fold_radius: Number = 0.0
    capture: Number = 0.0
    hold_force: Number = 0.0
    hold_energy: Number = 0.0
    free_play: Floats = field(default_factory=lambda: np.zeros(6))

    def stress_ratio(self, angle: Floats) -> Floats:
        """Stress at an angle (rad, magnitude, [...] or [B, ...]) times its factor over the strength."""

        def wide(value: Number) -> Floats:
            found = np.asarray(value, dtype=np.float64)
            return found.reshape(found.shape + (1,) * (np.ndim(angle) - found.ndim))

        allowed = wide(self.strength) / wide(self.strength_factor)
        stress = wide(self.fold_stress) * (angle > 0.0) + wide(self.turn_stress) * angle
        return np.where(allowed > 0.0, stress / np.where(allowed > 0.0, allowed, 1.0), 0.0)


class Sizable(Protocol):
    """Parameters of a joint that may be asked for their numbers at other sizes of what flexes."""

    life: ClassVar[str]
    moving_axis: ClassVar[bool]

    @property
    def sized(self) -> bool:
        """Whether the sizes mean something for it."""

    def resized(self, thickness: Column, length: Column) -> "Sizable":
        """The same part with its flexure so many times as thick and as long."""

    def numbers(self) -> JointNumbers:
        """The joint unit of these parameters."""


@dataclass(frozen=True)
class JointKind:
    """One unit of the catalogue: JointNumbers of its values, its names, and the formulas that made them.

    role: "hinge", "latch" or "mount". model: the parameters; where they are sized by the search (sized), the numbers
    of each candidate are worked out anew. cte: 1/K, growth of what lies between its two feet (default: leaves of
    aluminium 6061, catalogue value, seen). own: the problem brings this entry itself.
    """

    name: str
    title: str
    role: str
    stiffness: Six
    sigma: Six
    mass: float
    knuckle: float
    width: float
    least_gap: float
    largest_angle: float
    pad_radius: float
    numbers: JointNumbers
    model: Sizable
    note: str = ""
    cte: float = 2.36e-5
    own: bool = False

    measured: bool = False

    @property
    def sized(self) -> bool:
        """Whether build.flexure_thickness and build.flexure_length mean something for it: a part that was measured is
        what it is."""
        return self.model.sized and not self.measured

    def as_measured(
        self,
        push: Sequence[float] | None = None,
        turn: Sequence[float] | None = None,
        shift: Sequence[float] | None = None,
        tilt: Sequence[float] | None = None,
        mass: float | None = None,
    ) -> "JointKind":
        """The unit with figures measured on it in place of the formulas': stiffness (push N/m, turn N m/rad), misfit
        (shift m, tilt rad), three each along the edge, across it, z; mass kg."""
        stiffness = _six([*(push or self.stiffness[:3]), *(turn or self.stiffness[3:])])
        sigma = _six([*(shift or self.sigma[:3]), *(tilt or self.sigma[3:])])
        weight = self.mass if mass is None else float(mass)
        numbers = replace(self.numbers, stiffness=np.array(stiffness), sigma=np.array(sigma), mass=weight)
        return replace(self, stiffness=stiffness, sigma=sigma, mass=weight, numbers=numbers, measured=True)

    @property
    def turn(self) -> TurnLaw:
        """Torque about the edge against the angle, of one unit as in the catalogue."""
        return self.numbers.turn

    @property
    def flexes(self) -> bool:
        """Whether something bends or twists as it turns, and so may yield."""
        return bool(np.max(self.numbers.strength) > 0.0)


def _six(values: Sequence[float] | Floats) -> Six:
    a, b, c, d, e, f = (float(v) for v in values)
    return a, b, c, d, e, f


def six(*values: Number) -> Floats:
    """Six numbers or columns as [..., 6]."""
    return np.stack(np.broadcast_arrays(*[np.asarray(v, dtype=np.float64) for v in values]), axis=-1)


def numbers_of(kinds: tuple[JointKind, ...], index: Ints, thickness: Column, length: Column) -> JointNumbers:
    """Numbers [B] of kinds[index[b]], flexures sized by the ratios thickness [B] and length [B] to the catalogue's."""
    rows = len(index)
    parts = []
    for k, kind in enumerate(kinds):
        mine = np.flatnonzero(index == k)
        if len(mine):
            sized = kind.model.resized(thickness[mine], length[mine]).numbers() if kind.sized else kind.numbers
            parts.append((mine, sized))
    made: JointNumbers = _gathered(JointNumbers, parts, rows)
    return made


def _gathered(kind: type[Any], parts: list[tuple[Ints, Any]], rows: int) -> Any:
    """One dataclass of columns from those of parts of the rows."""
    out: dict[str, Any] = {}
    for f in fields(kind):
        if f.type in ("TurnLaw", TurnLaw):
            out[f.name] = _gathered(TurnLaw, [(mine, getattr(made, f.name)) for mine, made in parts], rows)
            continue
        tail = (6,) if f.name in ("stiffness", "sigma", "free_play") else ()
        column = np.zeros((rows, *tail))
        for mine, made in parts:
            column[mine] = getattr(made, f.name)
        out[f.name] = column
    return kind(**out)
