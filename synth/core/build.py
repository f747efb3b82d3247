"""The build: what all families share when panels get a thickness."""

from dataclasses import dataclass

from synth.core.arrays import Column


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
    """

    diameter: float
    panel_gap: float
    thickness: Column
    edge_gap: Column
    pitch: Column
    knuckle: Column
    unit_width: Column

    @property
    def rows(self) -> int:
        return len(self.thickness)
