"""How a kind of joint declares itself: a frozen dataclass of parameters, each with unit and meaning, and one method."""

from abc import ABC, abstractmethod
from dataclasses import dataclass, fields
from typing import ClassVar, get_type_hints

from synth.hinges.kind import JointKind

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


@dataclass(frozen=True)
class JointModel(ABC):
    """Parameters of one kind of joint; joint() turns them into what the network and the layout read."""

    name: ClassVar[str]
    role: ClassVar[str]

    @classmethod
    def parameters(cls) -> dict[str, Parameter]:
        """Declared parameters by field name, in order."""
        hints = get_type_hints(cls, include_extras=True)
        return {f.name: hints[f.name].__metadata__[0] for f in fields(cls)}

    @classmethod
    def keys(cls) -> dict[str, str]:
        """Name in the catalogue file (the unit in the name, as leaf_length_m) -> field name."""
        return {name + _SUFFIX[p.unit]: name for name, p in cls.parameters().items()}

    @abstractmethod
    def joint(self, name: str, title: str, note: str = "") -> JointKind:
        """The joint unit of these parameters. ValueError says which parameter cannot be."""


def in_series(*stiffness: float) -> float:
    """1 / sum(1 / k): springs one after another carry one force and add their give."""
    return 1.0 / sum(1.0 / k for k in stiffness)
