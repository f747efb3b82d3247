"""What a panel is made of, once laid out."""

from dataclasses import dataclass

from synth.core.arrays import Column, Floats


@dataclass(frozen=True, eq=False)
class Panels:
    """mass [B, P] kg; stiffness [B, P]: effective plate bending stiffness D in N m, core shear taken in;
    poisson, bow (1/m, free curvature), bulk_strain, figure (m rms), thickness (m): [B].

    window [B, P, V, 2]: clear part of each face (None: the whole face everywhere). sheet [B]: thickness (m) of the
    sheet of framed panels, of all others that of the panel (None: none is framed)."""

    mass: Floats
    stiffness: Floats
    poisson: Column
    bow: Column
    bulk_strain: Column
    figure: Column
    thickness: Column
    window: Floats | None = None
    sheet: Column | None = None
