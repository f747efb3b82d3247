"""What a panel is made of, once laid out."""

from dataclasses import dataclass

from synth.core.arrays import Column, Floats


@dataclass(frozen=True, eq=False)
class Panels:
    """mass [B, P] kg; stiffness [B, P]: effective plate bending stiffness D in N m, core shear taken in;
    poisson, bow (1/m, free curvature), bulk_strain, figure (m rms), thickness (m): [B]."""

    mass: Floats
    stiffness: Floats
    poisson: Column
    bow: Column
    bulk_strain: Column
    figure: Column
    thickness: Column
