"""Zero-thickness vertices: closed forms and the loop solver against the reference cases.

Flags of the cases stand in fold_geometry.toml; nearly all numbers are "derived" (recomputed there from rotation
matrices), the conditions of Kawasaki and Maekawa "seen".
"""

import numpy as np
import pytest

from synth.fold.loops import branch, close, follow
from synth.fold.vertex import (
    biquadratic,
    degree4_folds,
    flat_foldable_folds,
    kawasaki,
    maekawa,
    multiplier,
    symmetric_five_folds,
    twist_products,
    vertex_residual,
    waterbomb_fold,
)
from tests.fold.structures import vertex
from tests.near import near
from tests.physics.fold_cases import Case, case, cases

DEGREES = "the cases state twelve digits; the tolerance of the case, in degrees"


@pytest.mark.parametrize("given", cases("deg4_ff_multiplier"), ids=str)
def test_multipliers_of_flat_foldable_vertices(given: Case) -> None:
    sectors = given.angle("sectors_deg")
    for name, value in given.expected.items():
        assert near(multiplier(sectors, name[-1]), value, abs=given.tolerance)
    if "m_a" not in given.expected:
        assert np.isinf(multiplier(sectors, "a"))


@pytest.mark.parametrize("given", cases("deg4_ff_angles"), ids=str)
def test_closed_form_folds_of_flat_foldable_vertices(given: Case) -> None:
    sectors, expected = given.angle("sectors_deg"), given.expected["g_deg"]
    folds = flat_foldable_folds(sectors, given.angle("g1_deg"), given.inputs["mode"])
    assert near(np.degrees(folds), expected, abs=given.tolerance, why=DEGREES)
    assert vertex_residual(sectors, folds) <= given.expected["closure_residual_max"]
    assert vertex_residual(sectors, 1.01 * folds) > 1e-5


@pytest.mark.parametrize("spherical", [True, False])
@pytest.mark.parametrize("given", cases("deg4_ff_angles"), ids=str)
def test_solver_reaches_the_branch_named_by_mountains_and_valleys(given: Case, spherical: bool) -> None:
    expected = np.array(given.expected["g_deg"])
    shape = vertex(given.angle("sectors_deg"))
    found = branch(
        shape.topology,
        shape.axis,
        shape.by_hinge(np.sign(expected)),
        shape.driven(0),
        np.array([[given.angle("g1_deg")]]),
        spherical,
    )
    assert found.status.ok.all(), found.status.reason
    assert found.residual.max() < 1e-12
    assert near(np.degrees(shape.by_crease(found.angles[0])), expected, abs=given.tolerance, why=DEGREES)


@pytest.mark.parametrize("given", cases("deg4_general_coeffs"), ids=str)
def test_coefficients_of_the_general_degree4_vertex(given: Case) -> None:
    expected = [given.expected[k] for k in ("c00", "c20", "c02", "c22", "c11")]
    assert near(biquadratic(given.angle("sectors_deg")), expected, abs=given.tolerance)
    # the vertex folds up to the limit named, and not beyond: closed forms exist all the way
    near_limit = np.radians(given.expected["g1_limit_deg"] - 1e-3)
    assert np.isfinite(degree4_folds(given.angle("sectors_deg"), near_limit)).all()


@pytest.mark.parametrize("given", cases("deg4_general_angles"), ids=str)
def test_both_branches_of_the_general_degree4_vertex(given: Case) -> None:
    sectors, first = given.angle("sectors_deg"), given.angle("g1_deg")
    expected = [given.expected["branch_small_deg"], given.expected["branch_large_deg"]]
    folds = degree4_folds(sectors, first)
    assert near(np.degrees(folds), expected, abs=given.tolerance, why=DEGREES)
    assert vertex_residual(sectors, folds).max() < 1e-12
    shape = vertex(sectors)
    for wanted in np.array(expected):
        sense = shape.by_hinge(np.sign(wanted))
        found = branch(shape.topology, shape.axis, sense, shape.driven(0), np.array([[first]]), spherical=True)
        assert found.status.ok.all(), found.status.reason
        assert near(np.degrees(shape.by_crease(found.angles[0])), wanted, abs=given.tolerance, why=DEGREES)


def test_branches_with_folds_near_half_a_turn_are_reached_too() -> None:
    """Vertices whose sectors are nearly right angles, or nearly flat-foldable: 173 and 178 degrees beside 23."""
    sectors = np.radians([[90.73980204, 69.42905221, 111.17139748], [87.48611092, 69.67737028, 110.94784487]])
    for first in sectors:
        every = np.append(first, 2.0 * np.pi - first.sum())
        folds = degree4_folds(every, 0.4)
        assert np.abs(folds).max() > np.radians(177.0) and vertex_residual(every, folds).max() < 1e-12
        shape = vertex(every)
        for wanted in folds:
            sense = shape.by_hinge(np.sign(wanted))
            found = branch(shape.topology, shape.axis, sense, shape.driven(0), np.array([[0.4]]), spherical=True)
            assert found.status.ok.all(), found.status.reason
            assert near(shape.by_crease(found.angles[0]), wanted, abs=1e-9, why="Newton ends below 1e-12")


def test_solver_follows_both_branches_from_one_case_to_the_next() -> None:
    """From 20 through 60 to 100 degrees; on the large branch g2 passes half a turn between them."""
    marks = [case(f"deg4_general_angles_50_85_100_125_{g}") for g in (20, 60, 100)]
    shape = vertex(marks[0].angle("sectors_deg"))
    for name in ("branch_small_deg", "branch_large_deg"):
        wanted = np.radians([m.expected[name] for m in marks])
        run = follow(
            shape.topology,
            shape.axis,
            shape.by_hinge(wanted[:1]),
            shape.driven(0),
            np.radians([[20.0], [60.0], [100.0]]),
            spherical=True,
        )
        assert run.status.ok.all() and run.residual.max() < 1e-9
        turned = (shape.by_crease(run.angles[0]) - wanted + np.pi) % (2.0 * np.pi) - np.pi
        assert np.abs(turned).max() < np.radians(marks[0].tolerance)


def test_kawasaki_and_maekawa() -> None:
    given = case("kawasaki_list")
    told = [bool(kawasaki(np.radians(s))) for s in given.inputs["sets_deg"]]
    assert told == given.expected["flat_foldable"]
    given = case("maekawa")
    assert [bool(maekawa(np.array(s))) for s in given.inputs["signs"]] == given.expected["ok"]


def test_mountain_valley_choices_against_maekawa_do_not_close() -> None:
    shape = vertex(np.radians([60.0, 80.0, 120.0, 100.0]))
    for signs in ([1, 1, -1, -1], [1, 1, 1, 1], [1, -1, 1, -1]):
        assert not maekawa(np.array(signs))
        held = branch(
            shape.topology, shape.axis, shape.by_hinge(signs), shape.driven(0), np.array([[1.0]]), spherical=True
        )
        assert not held.status.ok.any() and "mountains and valleys" in held.status.reason[0]
        assert np.isfinite(held.angles).all() and held.residual[0] > 1e-3


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("given", cases("thick5_myard"), ids=str)
def test_symmetric_folding_of_five_creases(given: Case, sign: int) -> None:
    corner, right = given.angle("A_deg"), 0.5 * np.pi
    sectors = np.array([corner, right, np.pi - 2.0 * corner, right, corner])
    folds = symmetric_five_folds(corner, given.angle("g1_deg"), sign)
    expected = given.expected["g2_g3_deg_plus" if sign > 0 else "g2_g3_deg_minus"]
    assert near(np.degrees(folds[:, 1:3]), expected, abs=given.tolerance, why=DEGREES)
    assert vertex_residual(sectors, folds).max() < 1e-12


@pytest.mark.parametrize("given", cases("waterbomb"), ids=str)
def test_waterbomb_mountains(given: Case) -> None:
    corner, diagonal = given.angle("A_deg"), given.angle("phi_deg")
    mountain = waterbomb_fold(corner, diagonal)
    assert near(np.degrees(mountain), given.expected["psi_deg"], abs=given.tolerance, why=DEGREES)
    sectors = np.array([corner, np.pi - 2.0 * corner, corner, corner, np.pi - 2.0 * corner, corner])
    folds = np.stack([mountain, diagonal, diagonal, mountain, diagonal, diagonal], axis=-1)
    assert vertex_residual(sectors, folds).max() < 1e-12
    # the solver keeps the symmetric state when four of the six folds are held there
    shape = vertex(sectors)
    held = close(
        shape.topology,
        np.repeat(shape.axis, 3, axis=0),
        shape.by_hinge(folds * [0.9, 1.0, 1.0, 0.9, 1.0, 1.0]),
        shape.driven(1, 2, 4),
        shape.by_hinge(folds)[:, shape.driven(1, 2, 4)],
        spherical=True,
    )
    assert near(np.degrees(shape.by_crease(held.angles)[:, 0]), given.expected["psi_deg"], abs=1e-8)


@pytest.mark.parametrize("given", cases("twist_n"), ids=str)
def test_twists_of_regular_polygons(given: Case) -> None:
    sides, lean = given.inputs["n"], float(given.angle("x_deg"))
    corner = 2.0 * np.pi / sides
    sectors = np.array([np.pi - corner, lean, corner, np.pi - lean])
    assert near(multiplier(sectors, "a"), given.expected["m_a"], abs=given.tolerance)
    assert near(multiplier(sectors, "b"), given.expected["m_b"], abs=given.tolerance)
    products = twist_products(sides, lean)
    assert near(products, given.expected["products_k0_to_n"], rel=1e-9, why="products span eight decades")
    assert list(np.flatnonzero(np.abs(products - 1.0) < 1e-9)) == given.expected["foldable_k"]
