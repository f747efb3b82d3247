"""How a way of folding declares itself: a dataclass whose annotations say everything.

A family instance is a batch of B candidates. Whole-number fields (Count) and layout
choices (Layout) are plain values shared by the batch and fix the topology; real fields
(Real) are columns [B]. Variables, bounds, units, docs and the search encoding all
derive from the annotations.
"""

from abc import ABC, abstractmethod
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, fields
from typing import Any, ClassVar, Self, get_type_hints

import numpy as np

from synth.core.arrays import Column, Floats
from synth.core.build import Build
from synth.core.geometry import Geometry
from synth.core.topology import Topology

Cell = Mapping[str, int | str]
"""The fixed fields of a batch: counts and layout choices by name."""


@dataclass(frozen=True)
class Count:
    """A whole number, low <= n <= high, shared by the batch."""

    low: int
    high: int
    doc: str


@dataclass(frozen=True)
class Real:
    """A real variable, low <= x <= high, one column; unit in SI ("1" where it has none)."""

    low: float
    high: float
    unit: str
    doc: str


@dataclass(frozen=True)
class Layout:
    """A choice among named layouts, shared by the batch. An empty option list: free text that the family reads itself
    (a spanning tree, for instance), checked by its topology()."""

    options: tuple[str, ...]
    doc: str


Variable = Count | Real | Layout


class Family(ABC):
    """One way of folding. Each subclass is final, frozen, in a file of its own under synth/families."""

    name: ClassVar[str]
    title: ClassVar[str]

    @classmethod
    def variables(cls) -> dict[str, Variable]:
        """Declared variables by name, in order of declaration."""
        hints = get_type_hints(cls, include_extras=True)
        return {f.name: hints[f.name].__metadata__[0] for f in fields(cls)}  # type: ignore[arg-type]

    @classmethod
    def reals(cls) -> dict[str, Real]:
        return {k: v for k, v in cls.variables().items() if isinstance(v, Real)}

    @classmethod
    def fixed(cls) -> dict[str, Count | Layout]:
        return {k: v for k, v in cls.variables().items() if not isinstance(v, Real)}

    @classmethod
    def of(cls, cell: Cell, columns: Mapping[str, Column]) -> Self:
        """A batch from its fixed fields and its columns."""
        values: dict[str, Any] = dict(cell)
        values.update({k: np.asarray(columns[k], dtype=np.float64) for k in cls.reals()})
        return cls(**values)

    @abstractmethod
    def topology(self) -> Topology:
        """Panels, hinges, senses, layers, stages: from the fixed fields only."""

    @abstractmethod
    def geometry(self, build: Build) -> Geometry:
        """Outlines, hinge lines and stowed angles of the batch."""

    def angles(self, build: Build, progress: Floats) -> Floats | None:
        """Hinge angles [B, S, H] (rad) on the way at s = progress [S], 0 stowed to 1 deployed.

        None (default): every hinge turns linearly from its stowed angle to 0 inside its stage. Families whose
        hinges form loops say how they keep them closed: at s = 0 exactly the stowed angles, at s = 1 exactly 0. They
        then also give `bends`.
        """
        return None

    def bends(self, build: Build, progress: Floats) -> Floats | None:
        """Bounds [B, S - 1, H] (rad) on |d2 angle / ds2| of `angles` between every two of s = progress [S].

        None (default) where `angles` is None. They prove how far the closed motion strays from angles that go linearly
        between frames, so they must hold everywhere in the interval; a sharper bound costs less clearance.
        """
        return None

    def poses(self, build: Build, progress: Floats) -> Floats | None:
        """Poses [B, S, P, 3, 4] on the way at s = progress [S] where hinges have slack (`Geometry.slack`).

        None (default): panels go where the tree of hinges takes them. Otherwise the root never moves, at s = 1 all
        poses are identities, and between two frames each panel goes along the screw that joins them, seen from the
        panel that it hangs on. `geometry` tells as stowed angles the turns of these poses at s = 0 about the hinge
        lines (`core.motion.turns_about`). Each hinge parts by no more than its slack.
        """
        return None

    def findings(self, build: Build) -> Mapping[str, Column]:
        """Figures [B] of the construction that a record tells beside the metrics, name (with its unit) to value.

        None by default.
        """
        return {}

    @classmethod
    @abstractmethod
    def first_cells(cls, most_panels: int) -> Sequence[Cell]:
        """Cells that a search starts from: a spread over counts and layouts, none with more panels than allowed."""

    @classmethod
    @abstractmethod
    def panel_count(cls, cell: Cell) -> int:
        """Panels of a cell, without building it."""

    @classmethod
    def relatives(cls, cell: Cell, most_panels: int, rng: np.random.Generator) -> list[Cell]:
        """Cells one step away: each count one up and down, each other layout option."""
        found: list[Cell] = []
        for name, variable in cls.fixed().items():
            if isinstance(variable, Count):
                n = int(cell[name])
                options: list[int | str] = [m for m in (n - 1, n + 1) if variable.low <= m <= variable.high]
            else:
                options = [o for o in variable.options if o != cell[name]]
            found += [{**cell, name: option} for option in options]
        return [c for c in found if cls.allowed(c) and cls.panel_count(c) <= most_panels]

    @classmethod
    def allowed(cls, cell: Cell) -> bool:
        """Whether the fixed fields go together (subclasses narrow this)."""
        return True

    @classmethod
    def admits_notches(cls, cell: Cell) -> bool:
        """Whether panels of a cell may be notched where hardware passes (`Build.notched`, `Geometry.notches`) instead
        of a wider gap."""
        return False

    @classmethod
    def has_free_edges(cls, cell: Cell) -> bool:
        """Whether a cell has free edges that latches can join; False saves a search the same design twice."""
        return True

    @classmethod
    def least_span(cls, diameter: float, least_area: float) -> float:
        """Every member that collects least_area (m^2) has a panel with two points this far apart (m); 0 where unknown.

        A proof, not a guess: what it rules out is never searched.
        """
        return 0.0
