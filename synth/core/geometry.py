"""Deployed shapes and hinge lines of a batch."""

from dataclasses import dataclass, field

import numpy as np

from synth.core.arrays import Column, Floats, Ints, unit
from synth.core.status import Status


@dataclass(frozen=True, eq=False)
class Notches:
    """Places in the edges of panels where hardware passes, asked for by a family.

    panel [K]; hinge [K]: the hinge at whose units' distances from the middle of the edge they lie; middle [B, K, 2] of
    the edge between the cells, half a gap outside the panel, and normal [B, K, 2], out of the panel;
    depth [B, K] m inside the panel's edge, 0 for none; wider [B, K] m: what it is wider on either side than a unit.
    """

    panel: Ints
    hinge: Ints
    middle: Floats
    normal: Floats
    depth: Floats
    wider: Floats


@dataclass(frozen=True, eq=False)
class Geometry:
    """Deployed frame: metres, z out of the receiving face, clear aperture centred on the origin.

    outline [B, P, V, 2]: convex, counter-clockwise, padded by repeating the last corner.
    thickness [B]: every panel is the prism -thickness <= z <= 0 over its outline.
    axis [B, H, 2, 3]: end points of the hinge line where units may sit (already trimmed to both
      panels), directed so that a positive (right-handed) turn of j about it is a valley fold:
      along = across x z, with across the in-plane direction from i to j.
    stowed_angle [B, H]: turn of j relative to i at s = 0, signed; 0 is deployed.
    latch_edge [B, K, 2, 2]: the middle line of each free edge that a latch can join, same direction rule.
    status: geometric conditions of the family.
    slack [B, H]: m, how far the two leaves of a hinge may part on the way (membranes and flexures of that free
      length); 0, the default, for a true hinge.
    notches: places to be notched, None for none.
    cut [B, P, V', 2]: the outlines with their notches, simple but not convex; the outlines themselves by default.
    """

    outline: Floats
    thickness: Column
    axis: Floats
    stowed_angle: Floats
    latch_edge: Floats
    status: Status
    slack: Floats = field(default_factory=lambda: np.zeros((0, 0)))
    notches: Notches | None = None
    cut: Floats = field(default_factory=lambda: np.zeros((0, 0, 0, 2)))

    def __post_init__(self) -> None:
        if self.slack.shape != self.stowed_angle.shape:
            object.__setattr__(self, "slack", np.zeros(self.stowed_angle.shape))
        if self.cut.shape[:2] != self.outline.shape[:2]:
            object.__setattr__(self, "cut", self.outline)

    @property
    def rows(self) -> int:
        return len(self.thickness)

    @property
    def corners(self) -> Floats:
        """[B, P, 2 V, 3] corners of the panel prisms, back face first."""
        rows, panels, count, _ = self.outline.shape
        out = np.zeros((rows, panels, 2, count, 3))
        out[..., :2] = self.outline[:, :, None]
        out[:, :, 0, :, 2] = -self.thickness[:, None, None]
        return out.reshape(rows, panels, 2 * count, 3)


def directed_axis(edge: Floats, inside: Floats, height: Floats) -> Floats:
    """Hinge lines [..., 2, 3] from edges [..., 2, 2], a point [..., 2] of panel i and axis heights z [...].

    The order of the two end points is chosen so that along = across x z with across
    pointing away from panel i: a positive turn then lifts panel j to the front.
    """
    along = unit(edge[..., 1, :] - edge[..., 0, :])
    # across = z x along = (-along_y, along_x) must point from i to j
    outward = (edge[..., 0, :] + edge[..., 1, :]) / 2.0 - inside
    flip = (-along[..., 1] * outward[..., 0] + along[..., 0] * outward[..., 1]) < 0.0
    ordered = np.where(flip[..., None, None], edge[..., ::-1, :], edge)
    out = np.empty((*ordered.shape[:-1], 3))
    out[..., :2], out[..., 2] = ordered, np.asarray(height)[..., None]
    return out
