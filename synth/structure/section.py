"""Solid and sandwich panel sections: mass, stiffness, growth, bow, figure and stress of a batch.

Classical sandwich theory: two equal isotropic faces on a core that carries shear only
(cases sandwich.*, mass.sandwich_areal of the reference notes, derived).
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from synth.core.arrays import Bools, Column, Floats, Ints
from synth.core.material import ADHESIVE, FACED, LEAST_CORE, LEAST_FACE, Core, Material
from synth.core.status import Status

EDGE_WIDTH = 0.010
EDGE_DENSITY = 700.0
"""Close-out of a sandwich edge: potting compound this wide (m) over the core height, kg/m^3 (common practice)."""
FIGURE = {"metal": 0.5e-6, "ceramic": 0.1e-6, "glass": 0.05e-6, "glass-ceramic": 0.05e-6, "composite": 1.0e-6}
FIGURE_ELSE = 2.0e-6
FIGURE_SANDWICH = 1.0e-6
FIGURE_SIZE = 0.3
"""Flatness rms of a panel as made, m, for a side of 0.3 m: lapped glass and ceramic, diamond-turned or ground
metal, replicated composite or sandwich face; grows in proportion to the side (common practice, not measured data)."""
SAFETY = {"metal": 1.25, "ceramic": 3.0, "glass": 3.0, "glass-ceramic": 3.0, "composite": 2.0}
SAFETY_ELSE = 2.0
"""Factors of safety on the catalogue strength: metal yield 1.25 (NASA-STD-5001B, seen in a secondary copy);
composite 2.0, glass and ceramic 3.0 (memory); others 2.0 (common practice)."""
LAMINATE_THROUGH = 1.0
"""W/(m K) through a carbon laminate, resin between the plies (memory)."""
STRENGTH_ELSE = 10.0e6
"""Pa, where the catalogue gives no strength (bare glass-ceramic: common practice for unflawed ground surfaces)."""


@dataclass(frozen=True, eq=False)
class Materials:
    """Columns [B] of the panel material: kg/m^3, Pa, -, 1/K, W/(m K), Pa; figure (m) and safety (-) by its kind."""

    density: Column
    youngs_modulus: Column
    poisson_ratio: Column
    cte: Column
    conductivity: Column
    strength: Column
    figure: Column
    safety: Column
    faces: Bools
    absorbs: Column

    @staticmethod
    def of(materials: Sequence[Material], choice: Ints) -> "Materials":
        """Columns of the materials that `choice` [B] (indices into `materials`) picks."""

        def column(values: list[float]) -> Column:
            return np.asarray(values, dtype=np.float64)[choice]

        return Materials(
            density=column([m.density for m in materials]),
            youngs_modulus=column([m.youngs_modulus for m in materials]),
            poisson_ratio=column([m.poisson_ratio for m in materials]),
            cte=column([m.cte for m in materials]),
            conductivity=column([through(m) for m in materials]),
            strength=column([m.strength if m.strength > 0.0 else STRENGTH_ELSE for m in materials]),
            figure=column([FIGURE.get(m.kind, FIGURE_ELSE) for m in materials]),
            safety=column([SAFETY.get(m.kind, SAFETY_ELSE) for m in materials]),
            absorbs=column([float(m.kind == "composite") for m in materials]),
            faces=np.array([m.kind in FACED for m in materials])[choice],
        )


def through(material: Material) -> float:
    """Conductivity through the thickness, W/(m K): laminates conduct far less there than along their fibres."""
    return min(material.conductivity, LAMINATE_THROUGH) if material.kind == "composite" else material.conductivity


@dataclass(frozen=True, eq=False)
class Section:
    """A panel section a candidate, columns [B], SI.

    areal_mass = faces + core_mass + adhesive_mass (kg/m^2; the last two 0 where solid); close_out kg a metre
    of edge. bending: D in N m without core shear. shear_flexibility: 1/S in m/N, S = G_c d^2/c (0 where solid).
    stress_per_moment: face stress a bending moment per unit width, 1/m^2: 6/t^2 solid, 1/(t_f d) sandwich.
    allowable: catalogue strength over its factor of safety, Pa; safety: that factor. figure: rms of a panel of 0.3 m
    side, m. absorbs: 1 where moisture makes it grow (composites), else 0. resistance: temperature difference a heat
    flux through the thickness, m^2 K/W: t/k solid, 2 t_f/k + c/k_c sandwich.
    """

    thickness: Column
    sandwich: Bools
    face: Column
    areal_mass: Column
    core_mass: Column
    adhesive_mass: Column
    close_out: Column
    bending: Column
    shear_flexibility: Column
    poisson: Column
    cte: Column
    stress_per_moment: Column
    allowable: Column
    figure: Column
    resistance: Column
    absorbs: Column
    safety: Column


def section(material: Materials, thickness: Column, sandwich: Bools, face_share: Column, core: Core) -> Section:
    """Sections of B panels: material columns, total thickness t [B] (m), sandwich [B], face thickness / t [B].

    Solid: D = E t^3 / (12 (1 - nu^2)). Sandwich: D = E (t^3 - c^3) / (12 (1 - nu^2)) with core height
    c = t - 2 t_f (exact for a core without modulus), S = G_c d^2 / c, d = c + t_f, mass
    2 t_f rho + c rho_c + 2 x 0.15 kg/m^2. face_share is held between 0.001 and 0.49 so that a core remains.
    Valid for t below about a twentieth of the panel's width. Source: classical sandwich theory (derived).
    """
    t = np.asarray(thickness, dtype=np.float64)
    face = np.where(sandwich, np.clip(face_share, 1e-3, 0.49), 0.5) * t
    c = np.where(sandwich, t - 2.0 * face, 0.0)
    d = np.where(sandwich, c + face, t)
    modulus = material.youngs_modulus / (12.0 * (1.0 - material.poisson_ratio**2))
    core_mass, adhesive = c * core.density, np.where(sandwich, 2.0 * ADHESIVE, 0.0)
    return Section(
        thickness=t,
        sandwich=np.asarray(sandwich, dtype=bool),
        face=face,
        areal_mass=2.0 * face * material.density + core_mass + adhesive,
        core_mass=core_mass,
        adhesive_mass=adhesive,
        close_out=c * EDGE_WIDTH * EDGE_DENSITY,
        bending=modulus * (t**3 - c**3),
        shear_flexibility=np.where(sandwich, c / (core.shear_modulus * d**2), 0.0),
        poisson=material.poisson_ratio,
        cte=material.cte,
        stress_per_moment=np.where(sandwich, 1.0 / (face * d), 6.0 / t**2),
        allowable=material.strength / material.safety,
        figure=np.where(sandwich, np.maximum(material.figure, FIGURE_SANDWICH), material.figure),
        resistance=2.0 * face / material.conductivity + c / core.conductivity,
        absorbs=material.absorbs,
        safety=material.safety,
    )


def margin_of_safety(strength: float, factor: float, stress: float) -> float:
    """allowable / (factor x limit stress) - 1: zero or more where it holds (usual form, as in NASA-STD-5001B)."""
    return strength / (factor * stress) - 1.0


def makeable(made: Section, material: Materials) -> Status:
    """Whether a shop can build the section: what a sandwich's faces are made of, and how thin they and the core are."""
    core = made.thickness - 2.0 * made.face
    status = Status.fine(len(made.thickness))
    fits = np.where(made.sandwich & ~material.faces, -0.5, 0.0)
    status = status.require(fits, "faces of a honeycomb sandwich are not made of glass or ceramic")
    thin = np.where(made.sandwich, np.minimum(made.face / LEAST_FACE - 1.0, 0.0), 0.0)
    status = status.require(thin, "the faces of the sandwich are thinner than 0.2 mm")
    low = np.where(made.sandwich, np.minimum(core / LEAST_CORE - 1.0, 0.0), 0.0)
    return status.require(low, "the core of the sandwich is thinner than 3 mm")


def effective_stiffness(made: Section, area: Floats) -> Floats:
    """D of each panel [B, P] with core shear taken in, N m, from panel areas [B, P].

    D_eff = D / (1 + D k^2 / S) with k^2 = 2 pi^2 / A: the wave number of the first mode of a simply
    supported square of the same area, for which the result is exact (case sandwich.ss_square_freq, derived);
    elsewhere an estimate.
    """
    k2 = 2.0 * np.pi**2 / np.maximum(area, 1e-9)
    return made.bending[:, None] / (1.0 + (made.bending * made.shear_flexibility)[:, None] * k2)


def bow(made: Section, through_thickness_difference: float, heat_flux: float = 0.0) -> Column:
    """Free curvature [B], 1/m: kappa = - cte dT / t, front face warmer by dT (case thermal.bow_al, derived).

    A heat flux q (W/m^2) that enters the front and leaves the back adds dT = q x resistance: for a solid panel kappa
    = - cte q / k whatever its thickness (case thermal.flux_bow, derived).

    For a sandwich the faces are t - t_f apart at their middles; dT is taken between the outer surfaces and the
    whole thickness carries the gradient, so the same rule holds.
    """
    return -made.cte * (through_thickness_difference + heat_flux * made.resistance) / made.thickness


def bulk_strain(made: Section, bulk_temperature_change: float, moisture_strain: float = 0.0) -> Column:
    """Free in-plane growth [B]: cte dT, and in composites what moisture adds."""
    return made.cte * bulk_temperature_change + moisture_strain * made.absorbs


def figure_rms(made: Section, area: Floats) -> Column:
    """Flatness rms of the panels as made [B], m: area-weighted root mean square over panels of area [B, P].

    figure x sqrt(A) / 0.3 m for each panel: a stated default (common practice), to be replaced by shop data.
    """
    total = np.maximum(area.sum(axis=-1), 1e-12)
    mean_square = (area * area).sum(axis=-1) / total / FIGURE_SIZE**2
    rms: Column = made.figure * np.sqrt(mean_square)
    return rms
