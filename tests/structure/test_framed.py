"""Framed panels: windows, mass, the smeared plate against finite elements, the sheet between its bars."""

from dataclasses import replace

import numpy as np
import pytest

from synth.core.arrays import Floats
from synth.core.material import Material
from synth.core.polygon import area, inset
from synth.problem import catalogue
from synth.structure.framed import Shape, composite, frame_shape, least_width, sheet_held
from synth.structure.orthogonal import OrthogonalPlates
from synth.structure.section import Materials
from tests.near import near
from tests.references.framed_fem import Layer, give

SILICA, LAMINATE = catalogue.materials()["fused_silica"], catalogue.materials()["cfrp_qi_m55j"]


def square(side: float) -> Floats:
    return np.array([[[[0.0, 0.0], [side, 0.0], [side, side], [0.0, side]]]])


def sheet(material: Material = SILICA) -> Materials:
    return Materials.of([material], np.array([0]))


def test_inset_of_a_padded_hexagon_and_of_one_too_small() -> None:
    """Every edge 10 mm inwards: a hexagon of side s - 2 x 10 mm / sqrt 3; repeated corners stay repeated."""
    angle = np.pi / 3.0 * np.arange(6)
    ring = 0.1 * np.stack([np.cos(angle), np.sin(angle)], axis=-1)
    padded = np.concatenate([ring[:2], ring[1:2], ring[2:], ring[-1:], ring[-1:]])
    moved, left = inset(np.stack([padded, padded]), np.array([0.01, 0.09]))
    side = 0.1 - 0.02 / np.sqrt(3.0)
    near(area(moved[0]), 1.5 * np.sqrt(3.0) * side**2, rel=1e-12)
    near(left[0], side / 0.1, rel=1e-12)
    assert left[1] < 0.0
    near(least_width(padded), 0.1 * np.sqrt(3.0), rel=1e-12)


def test_bars_and_windows_of_a_square() -> None:
    shape, status = frame_shape(square(0.25), np.array([0.025]))
    assert status.ok.all()
    near(shape.bars[0, 0], 0.25**2 - 0.2**2, rel=1e-12)
    near(shape.share[0], 0.5 * (1.0 - 0.64), rel=1e-12)
    _, status = frame_shape(square(0.04), np.array([0.02]))
    assert str(status.reason[0]) == "a panel is too small for its frame"


def test_bars_all_over_and_a_sheet_of_another_metal_are_a_bimetal() -> None:
    """Curvature 1.5 (a2 - a1) dT / h of equal layers of equal moduli (case thermal.bimetal, Timoshenko)."""
    one = replace(SILICA, youngs_modulus=70e9, poisson_ratio=0.0, cte=20e-6)
    two = replace(LAMINATE, youngs_modulus=70e9, poisson_ratio=0.0, cte=10e-6)
    full = Shape(np.array([1.0]), square(0.1), np.array([[0.01]]), np.array([1.0]))
    plate = composite(sheet(one), two, np.array([2e-3]), np.array([1e-3]), full)
    near(plate.warm_bulk[0], -1.5 * 10e-6 / 2e-3, rel=1e-9)
    near(plate.grow[0], 15e-6, rel=1e-9)
    near(plate.stiffness[0], 70e9 * 2e-3**3 / 12.0, rel=1e-9)


def test_one_material_warmed_on_its_front_bends_as_a_solid_panel() -> None:
    """- cte dT / t (case thermal.bow_al)."""
    both = replace(SILICA, poisson_ratio=0.0, cte=23.6e-6)
    full = Shape(np.array([1.0]), square(0.1), np.array([[0.01]]), np.array([1.0]))
    plate = composite(sheet(both), replace(both), np.array([10e-3]), np.array([2e-3]), full)
    near(plate.warm_front[0], -23.6e-6 / 10e-3, rel=1e-9)
    near(plate.warm_bulk[0], 0.0, abs=1e-12)


E = 0.5
CASES = {
    "twist": ([1, -1, 1, -1], [[E, E], [-E, E], [-E, -E], [E, -E]]),
    "bend": ([0.5, -1, 0.5, 0.5, -1, 0.5], [[E, E], [0, E], [-E, E], [E, -E], [0, -E], [-E, -E]]),
    "saddle": ([1, -1, 1, -1], [[0, E], [-E, 0], [0, -E], [E, 0]]),
}


@pytest.mark.parametrize(
    ("side", "width", "thickness", "glass"),
    [(0.25, 0.025, 0.012, 0.0006), (0.25, 0.025, 0.006, 0.0006), (0.3, 0.019, 0.02, 0.001)],
)
def test_smeared_plate_against_finite_elements(side: float, width: float, thickness: float, glass: float) -> None:
    """Stiffness under twist, bending and saddle loads at the bars between 0.75 and 1.35 of the elements'; the curvature
    that a growing sheet makes up to a quarter high. That is how far the smeared plate may be trusted."""
    shape, _ = frame_shape(square(side), np.array([width]))
    plate = composite(sheet(), LAMINATE, np.array([thickness]), np.array([glass]), shape)
    plates = OrthogonalPlates(square(side), 12)
    stiff = plates.bending(plate.stiffness[:, None], plate.poisson)[0, 0]
    bars = Layer(LAMINATE.youngs_modulus, LAMINATE.poisson_ratio, thickness - glass)
    glass_layer = Layer(SILICA.youngs_modulus, SILICA.poisson_ratio, glass)
    for name, (forces, places) in CASES.items():
        push = np.array(forces, dtype=np.float64)
        at = side / 2.0 + np.array(places) * (side - width)
        known, warm = give(side, width, bars, glass_layer, push, at, 1e-5)
        value, _ = plates.at_feet(np.zeros(len(push), dtype=np.int64), at[None], np.full((1, len(push)), width / 3))
        load = value[0].T @ push
        own = float(load[3:] @ np.linalg.solve(stiff[3:, 3:], load[3:]))
        assert 0.75 < known / own < 1.35, (name, known / own)
        if name == "bend":
            growing = composite(
                sheet(replace(SILICA, cte=1e-5)),
                replace(LAMINATE, cte=0.0),
                np.array([thickness]),
                np.array([glass]),
                shape,
            )
            curved = 0.5 * growing.warm_bulk[0] * float(push @ (at**2).sum(axis=1))
            assert 1.0 < curved / warm < 1.25, curved / warm


def test_sheet_is_held_as_a_clamped_strip() -> None:
    """0.5 mm of silica over 200 mm: 75 Hz and 17 MPa under 20 g as a clamped strip (22.3733 and 0.5, elementary); a
    square clamped all round has 36.0 and 0.308 (case plate.static_clamped_square): the strip is on the safe side."""
    from types import SimpleNamespace

    from synth.core.panels import Panels

    one = np.ones(1)
    panels = Panels(one[:, None], one[:, None], one, one, one, one, one, window=square(0.2))
    made = SimpleNamespace(face=np.array([0.5e-3]), allowable=np.array([16e6]))
    hertz, ratio = sheet_held(panels, made, sheet(), 20.0)  # type: ignore[arg-type]
    e, nu, rho = SILICA.youngs_modulus, SILICA.poisson_ratio, SILICA.density
    d = e * 0.5e-3**3 / 12 / (1 - nu**2)
    near(hertz[0], 22.3733 / (2 * np.pi * 0.2**2) * np.sqrt(d / (rho * 0.5e-3)), rel=1e-4)
    near(ratio[0], 0.5 * rho * 0.5e-3 * 9.80665 * 20 * (0.2 / 0.5e-3) ** 2 / 16e6, rel=1e-6)
