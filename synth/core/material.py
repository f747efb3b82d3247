"""Panel materials and cores as the catalogue tells them, numbers only (sources stay in the catalogue)."""

from dataclasses import dataclass

ADHESIVE = 0.15
"""Adhesive film, kg/m^2 a bondline, one under each face (common practice; figure of case mass.sandwich_areal)."""
LEAST_FACE = 0.2e-3
LEAST_CORE = 3.0e-3
"""Thinnest face sheet and core (m) that are laid up and bonded flat (common practice)."""
FACED = frozenset({"metal", "composite"})
"""Kinds of material that faces of a honeycomb sandwich are made of (common practice); glass and ceramic stay solid."""


@dataclass(frozen=True)
class Material:
    """SI, room temperature, typical values: not allowables. transmits: usable for a transmissive optic."""

    id: str
    name: str
    kind: str
    density: float
    youngs_modulus: float
    poisson_ratio: float
    cte: float
    conductivity: float
    strength: float
    strength_kind: str
    transmits: bool = False


@dataclass(frozen=True)
class Core:
    """Sandwich core: density, the lesser of the two through-thickness shear moduli and strengths, and through-thickness
    conductivity (W/(m K); default: that of the catalogue's first core, derived there)."""

    id: str
    name: str
    density: float
    shear_modulus: float
    shear_strength: float
    conductivity: float = 2.8
