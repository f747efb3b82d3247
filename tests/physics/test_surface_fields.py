"""Bow, gravity and growth fields against closed forms (reference notes, cases thermal.bow_*, gravity.sag; derived)."""

from dataclasses import replace

import numpy as np
import pytest

from synth.core.arrays import Floats
from synth.core.design import Design
from synth.core.joints import SPACECRAFT
from synth.structure.loads import Loads
from synth.structure.network import deployed
from synth.structure.settled import settled
from tests.near import near
from tests.structure.make import ALONG_X, design, strip, unit

BOW, SIDE = 1e-3, 0.4


def free_panel(outline: Floats) -> Design:
    """One panel on three point supports that hold no rotation: statically determinate, so it bows freely."""
    middle = outline.mean(axis=0)
    spots = [middle + 0.3 * (corner - middle) for corner in outline[:3]]
    units = [unit(np.array([*p, -0.005]), ALONG_X, 0, SPACECRAFT, 0, 2, 0.0) for p in spots]
    made = design([outline], [-1], units, stiffness=(1e7, 1e7, 1e7, 1e-3, 1e-3, 1e-3), pad=1e-3)
    return replace(made, panels=replace(made.panels, bow=np.full(1, BOW)))


def ring(corners: int, radius: float) -> Floats:
    turn = 2 * np.pi * np.arange(corners) / corners
    return radius * np.stack([np.cos(turn), np.sin(turn)], axis=-1) + [0.3, -0.2]


CASES = [
    ("square", np.array([[0.1, 0.0], [0.5, 0.0], [0.5, 0.4], [0.1, 0.4]]), 0.0527046276695 * SIDE**2),
    ("hexagon", ring(6, 0.3), 0.122190652488 * 0.3**2),
    ("rectangle", np.array([[0.0, 0.0], [0.8, 0.0], [0.8, 0.4], [0.0, 0.4]]), 0.0384147685721 * 0.8**2),
    ("disc", ring(180, 0.3), 0.144337567297 * 0.3**2),
]


@pytest.mark.parametrize(("name", "outline", "factor"), CASES, ids=[c[0] for c in CASES])
def test_bow_about_the_best_plane(name: str, outline: Floats, factor: float) -> None:
    """rms = factor x kappa about the best-fit plane, off-centre panels alike; nothing is left after refocus."""
    made = free_panel(outline)
    got = np.sqrt(deployed(made, Loads()).bow_m2)
    assert near(got, factor * BOW, rel=1e-3 if name == "disc" else 1e-6, why="180 corners for a disc")
    assert deployed(made, Loads(refocus=True)).bow_m2[0] < 1e-6 * (factor * BOW) ** 2
    assert near(settled(made, Loads()).deployed.bow_m2, got**2, rel=1e-6)


def test_refocus_takes_one_dome_not_two() -> None:
    """Two bowed panels side by side: the common paraboloid does not fit both, what is left follows from geometry.

    Free panels hinged in the middle edge only at their slopes' mean: checked against a brute fit of the two domes
    that a stiff hinge line keeps tangent, w = kappa (x^2 + y^2) / 2 all over, which refocus removes whole.
    """
    made = strip(2, SIDE, SIDE, pairs=2, reach=0.0, stiffness=(1e9, 1e9, 1e9, 1e7, 1e7, 1e7))
    soft = made.units.stiffness.copy()
    soft[:, made.units.kind == 2, 3:] = 1e-3
    soft[:, np.flatnonzero(made.units.kind == 2)[1:-1], :] = 1e-3
    made = replace(made, panels=replace(made.panels, bow=np.full(1, BOW)), units=replace(made.units, stiffness=soft))
    plain, domed = deployed(made, Loads()).bow_m2, deployed(made, Loads(refocus=True)).bow_m2
    a, b = 2 * SIDE, SIDE
    assert near(np.sqrt(plain), BOW / 2 * np.sqrt((a**4 + b**4) / 180), rel=0.008, why="held at pads, not lines")
    assert domed[0] < 1e-2 * plain[0]


def test_gravity_release_of_a_cantilever_strip() -> None:
    """A narrow clamped strip of nu = 0 under -g released: w = q L^4 / (8 E I) at the tip, shape of a beam.

    Mean square about the best-fit line of w = q / (24 E I) x^2 (x^2 - 4 L x + 6 L^2): elementary beam theory.
    """
    length, width, thickness, modulus = 0.8, 0.1, 0.01, 70e9
    made = strip(
        1,
        length,
        width,
        pairs=4,
        reach=0.0,
        poisson=0.0,
        thickness=thickness,
        modulus=modulus,
        pad=1e-3,
        stiffness=(1e11, 1e11, 1e11, 1e8, 1e8, 1e8),
    )
    x, w = np.polynomial.legendre.leggauss(12)
    x, w = 0.5 * (x + 1) * length, 0.5 * w
    q = 0.02 * 9.80665 * 2700.0 * thickness
    field = q / (24 * modulus * thickness**3 / 12) * x**2 * (x**2 - 4 * length * x + 6 * length**2)
    root = np.sqrt(w)[:, None]
    fit = np.linalg.lstsq(root * np.column_stack([np.ones(12), x]), root[:, 0] * field, rcond=None)[0]
    expected = w @ (field - fit[0] - fit[1] * x) ** 2
    assert near(deployed(made, Loads(gravity_release=0.02), 4).gravity_m2, expected, rel=2e-3, why="clamped at points")


def test_growth_moves_panels_apart() -> None:
    """A row of three that grows by e: seen from the mount each face point moves by e (x - x0), with no strain.

    After the best shift the mean square is e^2 times the mean square radius of the whole rectangle; isotropic growth
    has no spin. The joints ride on the growth, so nothing is forced out of plane.
    """
    made = strip(3, 0.3, 0.3, pairs=0, reach=0.0)
    made = replace(made, panels=replace(made.panels, bulk_strain=np.full(1, 2e-4)))
    got = deployed(made, Loads())
    assert near(got.in_plane_steady_m2, 4e-8 * (0.9**2 + 0.3**2) / 12, rel=1e-6)
    assert got.steady_m2[0] < 1e-9 * got.in_plane_steady_m2[0]


def test_the_face_shifts_against_the_slope() -> None:
    """One panel that tips by phi about its mid-plane centroid: its face moves by - phi t / 2, the same all over, so
    the best-fit shift takes it away; a bowed panel's face is strained by - bow t / 2 (x, y), which stays."""
    made = free_panel(CASES[0][1])
    got = deployed(made, Loads())
    expected = (BOW * 0.005) ** 2 * (SIDE**2 + SIDE**2) / 12
    assert near(got.in_plane_steady_m2, expected, rel=1e-4)


def test_bow_and_growth_in_plane_subtract() -> None:
    """A panel that grows by e and bows by kappa has face strain e - kappa t / 2, sign included."""
    made = free_panel(CASES[0][1])
    made = replace(made, panels=replace(made.panels, bulk_strain=np.full(1, 3 * BOW * 0.005)))
    expected = (2 * BOW * 0.005) ** 2 * (SIDE**2 + SIDE**2) / 12
    assert near(deployed(made, Loads()).in_plane_steady_m2, expected, rel=1e-4)
