"""How a kind of joint declares itself: a frozen dataclass of parameters, each with unit and meaning, and one method."""

from abc import ABC, abstractmethod
from dataclasses import dataclass, fields, replace
from typing import Any, ClassVar, Self, get_type_hints

import numpy as np

from synth.core.arrays import Column, Floats
from synth.hinges.kind import JointKind, JointNumbers, Number, Six

_SUFFIX = {
    "1": "", "m": "_m", "rad": "_rad", "N": "_n", "N/m": "_n_m", "Pa": "_pa", "kg": "_kg", "kg/m^3": "_kg_m3",
    "N m": "_n_m", "N m/rad": "_n_m_rad",
}  # fmt: skip


@dataclass(frozen=True)
class Parameter:
    """One number of a kind: SI unit ("1" where it has none) and what it is. It is above zero, or from zero on
    where `zero` says so."""

    unit: str
    doc: str
    zero: bool = False


@dataclass(frozen=True, eq=False)
class JointModel(ABC):
    """Parameters of one kind of joint; numbers() turns them into what the network and the layout read.

    A parameter is a number, or a column [B] where the search sizes it. thin: parameters that build.flexure_thickness
    scales; long: those that build.flexure_length scales. life: what is known of wear and fatigue, one sentence.
    moving_axis: it turns about no fixed axis, so it is listed and not offered.
    """

    name: ClassVar[str]
    role: ClassVar[str]
    thin: ClassVar[tuple[str, ...]] = ()
    long: ClassVar[tuple[str, ...]] = ()
    life: ClassVar[str]
    moving_axis: ClassVar[bool] = False

    @classmethod
    def parameters(cls) -> dict[str, Parameter]:
        """Declared parameters by field name, in order."""
        hints = get_type_hints(cls, include_extras=True)
        return {f.name: hints[f.name].__metadata__[0] for f in fields(cls)}

    @classmethod
    def keys(cls) -> dict[str, str]:
        """Name in the catalogue file (the unit in the name, as leaf_length_m) -> field name."""
        return {name + _SUFFIX[p.unit]: name for name, p in cls.parameters().items()}

    @classmethod
    def title_of_kind(cls) -> str:
        """What the kind is, can and cannot do: the first paragraph of its docstring in one line."""
        return " ".join((cls.__doc__ or "").split("\n\n")[0].split())

    @property
    def sized(self) -> bool:
        """Whether the search may size it."""
        return bool(self.thin or self.long)

    def resized(self, thickness: Column, length: Column) -> Self:
        """The same part with its flexure so many times as thick and as long."""
        scaled = {name: getattr(self, name) * thickness for name in self.thin}
        return replace(self, **scaled, **{name: getattr(self, name) * length for name in self.long})

    @abstractmethod
    def numbers(self) -> JointNumbers:
        """The joint unit of these parameters. ValueError says which parameter cannot be."""

    def joint(self, name: str, title: str, note: str = "", own: bool = False) -> JointKind:
        """The unit as a catalogue entry; parameters must be numbers."""
        made = self.numbers()
        plain: dict[str, Any] = {
            n: float(getattr(made, n)) for n in ("mass", "knuckle", "width", "least_gap", "largest_angle", "pad_radius")
        }
        return JointKind(
            name=name, title=title, role=self.role, stiffness=_six(made.stiffness), sigma=_six(made.sigma), **plain,
            numbers=made, model=self, note=note, own=own,
        )  # fmt: skip


def _six(values: Floats) -> Six:
    a, b, c, d, e, f = (float(v) for v in np.asarray(values))
    return a, b, c, d, e, f


def in_series(*stiffness: Number) -> Number:
    """1 / sum(1 / k): springs one after another carry one force and add their give."""
    return 1.0 / sum(1.0 / k for k in stiffness)
