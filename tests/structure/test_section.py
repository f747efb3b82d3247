"""Sections against the sandwich and plate cases of the reference notes (all derived, recomputed)."""

import numpy as np
import pytest

from synth.core.material import Core, Material
from synth.structure.section import (
    Materials,
    Section,
    bow,
    bulk_strain,
    effective_stiffness,
    figure_rms,
    section,
)
from tests.near import near

FACE = Material("face", "face", "composite", 1650.0, 105e9, 0.31, -0.15e-6, 35.0, 300e6, "ultimate")
AL = Material("al", "al", "metal", 2700.0, 68.9e9, 0.33, 2.36e-5, 167.0, 276e6, "yield")
CORE = Core("core", "core", 54.5, 150e6, 1e6)


def made(material: Material, thickness: float, sandwich: bool, share: float) -> Section:
    columns = Materials.of([material], np.zeros(1, dtype=np.int64))
    return section(columns, np.array([thickness]), np.array([sandwich]), np.array([share]), CORE)


def test_sandwich_mass_and_stiffness() -> None:
    """Cases mass.sandwich_areal (2.38 kg/m2) and sandwich.bending_stiffness (exact, 7180.982 N m)."""
    got = made(FACE, 0.0206, True, 0.0003 / 0.0206)
    assert near(got.areal_mass, 2.38, rel=1e-9)
    assert near(got.bending, 7180.98240956, rel=1e-9)
    assert near(1.0 / got.shear_flexibility, 3090675.0, rel=1e-9)
    assert near(got.stress_per_moment, 1.0 / (0.0003 * 0.0203), rel=1e-9)
    assert near(got.close_out, 0.020 * 0.010 * 700.0, rel=1e-9)


def test_core_shear_lowers_the_first_frequency() -> None:
    """Case sandwich.ss_square_freq: 634.49 Hz with core shear against 690.24 without, 0.5 m square."""
    got = made(FACE, 0.0206, True, 0.0003 / 0.0206)
    k4 = (2.0 * np.pi**2 / 0.25) ** 2
    effective = effective_stiffness(got, np.array([[0.25]]))[0, 0]
    assert near(np.sqrt(effective * k4 / 2.38) / (2 * np.pi), 634.49003512, rel=1e-4, why="exact, not thin-face D")
    assert near(np.sqrt(got.bending * k4 / 2.38) / (2 * np.pi), 690.23584525, rel=1e-4, why="exact, not thin-face D")


def test_solid_aluminium() -> None:
    """Case thermal.bow_al: 10 mm, 1 K gives 0.00236 1/m, edges away from the warm front; D from its definition."""
    got = made(AL, 0.01, False, 0.3)
    assert near(got.areal_mass, 27.0, rel=1e-12)
    assert near(got.bending, 68.9e9 * 1e-6 / (12.0 * (1 - 0.33**2)), rel=1e-12)
    assert near(effective_stiffness(got, np.array([[0.09]])), got.bending, rel=1e-12)
    assert near(bow(got, 1.0), -0.00236, rel=1e-9)
    assert near(bulk_strain(got, 20.0), 4.72e-4, rel=1e-9)
    assert near(got.stress_per_moment, 6e4, rel=1e-12)
    assert near(got.allowable, 276e6 / 1.25, rel=1e-12)
    assert got.close_out[0] == 0.0


def test_figure_grows_with_the_side() -> None:
    """Twice the side, twice the rms; several panels count by area."""
    got = made(AL, 0.01, False, 0.3)
    assert near(figure_rms(got, np.array([[0.09]])), 0.5e-6, rel=1e-12)
    assert near(figure_rms(got, np.array([[0.36]])), 1.0e-6, rel=1e-12)
    assert near(figure_rms(got, np.array([[0.09, 0.36]])), np.sqrt((0.09 * 0.25 + 0.36) / 0.45) * 1e-6, rel=1e-12)


@pytest.mark.parametrize("sandwich", [False, True])
def test_rows_do_not_know_each_other(sandwich: bool) -> None:
    """All at once = one at a time, and shuffling rows shuffles results."""
    rng = np.random.default_rng(5)
    columns = Materials.of([AL, FACE], rng.integers(0, 2, 6))
    t, share = rng.uniform(1e-3, 0.04, 6), rng.uniform(0.0, 0.6, 6)
    flags = np.full(6, sandwich)
    whole = section(columns, t, flags, share, CORE)
    order = rng.permutation(6)
    part = Materials(**{k: v[order] for k, v in vars(columns).items()})
    shuffled = section(part, t[order], flags[order], share[order], CORE)
    for name, value in vars(whole).items():
        assert np.array_equal(value[order], getattr(shuffled, name)), name
        assert np.isfinite(value.astype(float)).all(), name
