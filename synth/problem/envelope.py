"""The room that the stowed aperture has to fit: a box or a cylinder, less a clearance inside every wall."""

import math
from typing import Annotated, Any, Literal, Self

import numpy as np
from pydantic import BeforeValidator, model_validator

from synth.core.arrays import Floats
from synth.core.errors import nearest
from synth.problem.catalogue import envelopes
from synth.problem.faults import refuse
from synth.problem.quantity import Gap, Length, Name
from synth.problem.sections import Section, triple


def _preset(value: Any) -> str:
    known = envelopes()
    if not isinstance(value, str) or value not in known:
        hint = nearest(value, known) if isinstance(value, str) else ""
        raise refuse(f"must be an envelope of the catalogue with a volume: {', '.join(known)}.{hint}")
    return value


class Envelope(Section):
    """One of: size (box, m); diameter and height (round, m); preset (an id of the envelope catalogue)."""

    name: Name
    size: Annotated[tuple[Length, Length, Length], BeforeValidator(triple)] | None = None
    diameter: Length | None = None
    height: Length | None = None
    preset: Annotated[str, BeforeValidator(_preset)] | None = None
    clearance: Gap = 0.0

    @model_validator(mode="after")
    def _one_shape(self) -> Self:
        ways = [self.size is not None, self.diameter is not None or self.height is not None, self.preset is not None]
        if sum(ways) != 1 or (ways[1] and (self.diameter is None or self.height is None)):
            raise refuse("must have exactly one of: size; diameter and height; preset")
        if min(self.allowed) <= 0.0:
            raise refuse("has a clearance that leaves no room inside the walls")
        return self

    @property
    def kind(self) -> Literal["box", "round"]:
        """ "box" or "round"."""
        if self.preset is not None:
            return "round" if envelopes()[self.preset].kind == "round" else "box"
        return "box" if self.size is not None else "round"

    @property
    def outside(self) -> tuple[float, float, float]:
        """x, y, z inside the walls before the clearance, m; a round one is (diameter, diameter, height)."""
        if self.preset is not None:
            size = envelopes()[self.preset].size
            return (size[0], size[1], size[2]) if len(size) == 3 else (size[0], size[0], size[1])
        if self.size is not None:
            return self.size
        assert self.diameter is not None and self.height is not None
        return self.diameter, self.diameter, self.height

    @property
    def allowed(self) -> Floats:
        """[3] x, y, z allowed (m): outside less the clearance at both walls."""
        return np.array([side - 2.0 * self.clearance for side in self.outside])

    @property
    def allowed_volume(self) -> float:
        """Volume of the allowed room, m^3."""
        x, y, z = (float(v) for v in self.allowed)
        return x * y * z if self.kind == "box" else math.pi / 4.0 * x * x * z
