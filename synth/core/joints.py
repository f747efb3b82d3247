"""Six-way joint units of a batch: springs with a random misfit between two panels, or panel 0 and the spacecraft."""

from dataclasses import dataclass

import numpy as np

from synth.core.arrays import Bools, Column, Floats, Ints

SPACECRAFT = -1


@dataclass(frozen=True, eq=False)
class Units:
    """U units in the order hinges, latches, mount.

    panels [U, 2]: first and second side; the mount's second side is SPACECRAFT (-1).
    owner [U]: index of the hinge or latch (0 for the mount); kind [U]: 0 hinge, 1 latch, 2 mount.
    at [B, U, 3] m; axes [B, U, 3, 3]: rows along the edge, across it from i to j, z.
    stiffness [B, U, 6]: 3 N/m, 3 N m/rad, as latched. sigma [B, U, 6]: 3 m, 3 rad, normal, independent.
    feet [B, U, 2, 2]: where the leaves are fastened, in plan, on i and on j (for the mount twice on panel 0).
    pad_radius [B, U] m. free_offset [B, U, 6]: steady errors of the free position, m and rad, in the unit's axes
    (None: none). cause [U]: units with the same label share one normal draw for each component; "" where a
    unit's errors are its own (None: all are).
    """

    panels: Ints
    owner: Ints
    kind: Ints
    at: Floats
    axes: Floats
    stiffness: Floats
    sigma: Floats
    feet: Floats
    pad_radius: Floats
    free_offset: Floats | None = None
    cause: np.ndarray | None = None

    @property
    def offset(self) -> Floats:
        """Steady errors [B, U, 6], zeros where there are none."""
        return np.zeros_like(self.stiffness) if self.free_offset is None else self.free_offset

    def draws(self) -> tuple[Ints, tuple[str, ...]]:
        """Number of the draw [U, 6] behind each misfit, and the cause of every six of them ("" for a unit's own)."""
        labels = [""] * len(self.panels) if self.cause is None else [str(label) for label in self.cause]
        first: dict[str, int] = {}
        owner: list[int] = []
        for u, label in enumerate(labels):
            owner.append(first.setdefault(label or f"\0{u}", len(first)))
        names = tuple("" if key.startswith("\0") else key for key in first)
        return 6 * np.array(owner, dtype=np.int64).reshape(-1, 1) + np.arange(6), names

    def only(self, kept: Bools, owner: Ints) -> "Units":
        """The units marked in kept [U], their owners numbered anew [U]."""
        return Units(
            panels=self.panels[kept],
            owner=owner[kept],
            kind=self.kind[kept],
            at=self.at[:, kept],
            axes=self.axes[:, kept],
            stiffness=self.stiffness[:, kept],
            sigma=self.sigma[:, kept],
            feet=self.feet[:, kept],
            pad_radius=self.pad_radius[:, kept],
            free_offset=None if self.free_offset is None else self.free_offset[:, kept],
            cause=None if self.cause is None else self.cause[kept],
        )


@dataclass(frozen=True, eq=False)
class JointMasses:
    """hinge [B, H], latch [B, K], mount [B]: kg, all units of the joint together, fittings not included."""

    hinge: Floats
    latch: Floats
    mount: Column
