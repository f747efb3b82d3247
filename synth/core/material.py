"""Panel materials and cores as the catalogue tells them, numbers only (sources stay in the catalogue)."""

from dataclasses import dataclass


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
    """Sandwich core: density and the lesser of the two through-thickness shear moduli and strengths."""

    id: str
    name: str
    density: float
    shear_modulus: float
    shear_strength: float
