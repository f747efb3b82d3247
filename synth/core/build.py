"""The build: what all families share when panels get a thickness."""

from dataclasses import dataclass

from synth.core.arrays import Column

POST = 2.0
"""Depth of a stand-off in a notch over the knuckle's half height (practice: as deep as the knuckle is high)."""


@dataclass(frozen=True, eq=False)
class Build:
    """Sizes a family needs to lay out thick panels. SI.

    diameter: clear-aperture diameter, the same for all candidates.
    panel_gap: least distance of faces when stowed (asked by the problem).
    thickness [B]: panel thickness. edge_gap [B]: deployed distance between the
    outlines of neighbouring panels (hinge hardware lives in it).
    pitch [B]: distance of neighbouring layers in a stack, thickness + face gap.
    knuckle [B]: half height of the hinge hardware about its axis.
    unit_width [B]: length of one hinge unit along the edge.
    notched: stand-offs are POST knuckles deep, whatever the gap, and the panels that they pass are notched (families
    that admit it); else they are no deeper than the half gap lets them.
    """

    diameter: float
    panel_gap: float
    thickness: Column
    edge_gap: Column
    pitch: Column
    knuckle: Column
    unit_width: Column
    notched: bool = False

    @property
    def rows(self) -> int:
        return len(self.thickness)

    @property
    def post(self) -> Column:
        """Depth [B] of a stand-off across the hinge line where panels are notched for it, m."""
        return POST * self.knuckle
