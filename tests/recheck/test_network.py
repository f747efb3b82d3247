"""The recheck's own network against closed forms and published plate values; sources beside each."""

from typing import Any

import numpy as np
import pytest

from synth.recheck.network import solve_network
from synth.recheck.plate import plate
from tests.near import near
from tests.recheck import accordion as made


def square(side: float, nu: float = 0.3, d: float = 100.0, mass: float = 1.0, corners: Any = None) -> dict[str, Any]:
    outline = corners or made.rectangle(-side / 2, side / 2, -side / 2, side / 2)
    return {"id": 0, "receiving": True, "outline": outline, "z_back": -0.01, "z_front": 0.0, "mass_kg": mass,
            "bending_stiffness_n_m": d, "poisson_ratio": nu, "bow_1_per_m": 0.0, "figure_rms_m": 0.0}  # fmt: skip


def free_lambda(nu: float) -> Any:
    """lambda = omega a^2 sqrt(rho h / D) of a free square plate, elastic modes."""
    p = plate(square(0.5, nu), 12)
    omega = np.sqrt(np.maximum(np.linalg.eigvalsh(p.bending), 0.0) / 1.0)
    return omega[3:] * 0.25 * np.sqrt(1.0 / 0.25 / 100.0)


def test_free_square_plate() -> None:
    """13.46820 19.59614 24.27020 34.80089 (nu = 0.3; converged Ritz and an Argyris plate, derived)."""
    near(free_lambda(0.3)[:4], [13.46820, 19.59614, 24.27020, 34.80089], rel=1e-4, why="degree 12")


def test_free_square_plate_without_poisson_effect() -> None:
    """nu = 0: the free-free beam value 22.37329 is among the modes (elementary, exact)."""
    found = free_lambda(0.0)
    near(found[np.abs(found - 22.37329).argmin()], 22.37329, rel=1e-5, why="degree 12")


def test_notched_outline_equals_its_pieces() -> None:
    """Area and centre of an L from triangles (elementary)."""
    corners = [[0.0, 0.0], [0.4, 0.0], [0.4, 0.1], [0.1, 0.1], [0.1, 0.4], [0.0, 0.4]]
    p = plate(square(0.0, corners=corners), 6)
    near(p.area, 0.07, rel=1e-12, why="exact quadrature")
    centre = (0.04 * 0.2 + 0.03 * 0.05) / 0.07
    near(p.centre, [centre, (0.04 * 0.05 + 0.03 * 0.25) / 0.07], rel=1e-12, why="exact quadrature")


def test_functions_are_orthonormal_and_discs_exact() -> None:
    p = plate(square(0.3), 8)
    near((p.shape * p.weights[:, None]).T @ p.shape, np.eye(p.shape.shape[1]), abs=1e-9, why="two passes")
    # mean of x^2 over a disc of radius r about (c, 0): c^2 + r^2 / 4 (elementary); x^2 by its coefficients
    values = p.points[:, 0] ** 2
    c = (p.shape * p.weights[:, None]).T @ values
    mean, slope = p.over_discs(np.array([[0.05, 0.0]]), np.array([0.02]))
    near(mean[0] @ c, 0.05**2 + 0.02**2 / 4, rel=1e-9, why="exact")
    near(slope[0, 0] @ c, 2 * 0.05, rel=1e-9, why="exact")


@pytest.mark.parametrize(("strips", "expected"), [(2, 1 / 48), (3, 16 / 243), (4, 59 / 384), (5, 112 / 375)])
def test_chain_of_independent_hinges(strips: int, expected: float) -> None:
    """Mean square about the best-fit plane in (sigma L)^2: 1/48, 16/243, 59/384, 112/375 (derived)."""
    record = chain(strips, 0.1)
    found = solve_network(record, 6, 0.0, False)
    near(found.joints, expected * (1e-3 * 0.1) ** 2, rel=1e-5, why="strips of one length, hairline gaps")


@pytest.mark.parametrize(("strips", "expected"), [(1, 1.7320508), (2, 0.58383564), (3, 0.29248285), (4, 0.17561673)])
def test_frequency_of_a_chain_of_bars(strips: int, expected: float) -> None:
    """First omega of uniform rigid bars on equal springs at root and joints, in sqrt(k / (m a^2)) (derived)."""
    record = chain(strips, 0.1)
    found = solve_network(record, 6, 0.0, False)
    omega = expected * np.sqrt(5.0 / (0.7 * 0.1**2))
    near(found.first_mode, omega / (2 * np.pi), rel=1e-4, why="stiff plates")


def chain(strips: int, a: float) -> dict[str, Any]:
    """Rigid strips of width a in a row along x from 0, springs 5 N m/rad about y at the root and at every joint."""
    panels = []
    for k in range(strips):
        panel = square(a, d=1e6, mass=0.7, corners=made.rectangle(k * a + 1e-9, (k + 1) * a - 1e-9, -0.05, 0.05))
        panels.append({**panel, "id": k})
    hinges = [
        {"id": k, "panels": [k, k + 1], "mass_kg": 0.0,
         "units": [made.unit((k + 1) * a, -0.005, 5.0, 1e-3, [[(k + 0.8) * a, 0.0], [(k + 1.2) * a, 0.0]])]}
        for k in range(strips - 1)
    ]  # fmt: skip
    mount = {"mass_kg": 1.0, "units": [made.unit(0.0, -0.005, 5.0, 0.0, [[0.2 * a, 0.0]])]}
    return {"panels": panels, "hinges": hinges, "latches": [], "mount": mount, "fittings": [], "drives": [],
            "restraints": []}  # fmt: skip


def test_bow_of_a_square_about_its_best_fit_plane() -> None:
    """kappa s^2 / (6 sqrt 10), whatever holds the plate at one place (derived)."""
    record = chain(1, 0.1)
    record["panels"][0]["bow_1_per_m"] = 1e-3
    found = solve_network(record, 6, 0.0, False)
    near(np.sqrt(found.bow), 1e-3 * 0.1**2 / (6 * np.sqrt(10)), rel=1e-6, why="w is a polynomial of degree 2")
    near(np.sqrt(found.steady), np.sqrt(found.bow), rel=1e-9, why="nothing else is steady")


def test_refocus_takes_a_bow_away() -> None:
    record = chain(1, 0.1)
    record["panels"][0]["bow_1_per_m"] = 1e-3
    assert solve_network(record, 6, 0.0, True).bow < 1e-20


def test_gravity_turns_a_strip_about_its_hinge() -> None:
    """Angle m g a / (2 k) of the outer of two strips; mean square angle^2 a^2 / 48 (statics; derived)."""
    record = chain(2, 0.1)
    found = solve_network(record, 6, 0.02, False)
    angle = 0.7 * 9.80665 * 0.02 * 0.05 / 5.0
    near(found.gravity, angle**2 * 0.01 / 48, rel=1e-4, why="stiff plates")


def test_free_growth_is_in_plane_error() -> None:
    """A strip that grows by epsilon shifts by epsilon r: mean square epsilon^2 (a^2 + b^2) / 12 (elementary)."""
    record = chain(1, 0.1)
    record["panels"][0]["bulk_strain"] = 1e-4
    found = solve_network(record, 6, 0.0, False)
    near(found.in_plane_steady, 1e-8 * 0.02 / 12, rel=1e-4, why="hairline gaps")


def test_misfits_of_one_cause_move_together() -> None:
    """Two hinges with one draw: slopes sigma and 2 sigma, against independent draws (piecewise linear, sampled)."""
    record = chain(3, 0.1)
    for hinge in record["hinges"]:
        hinge["units"][0]["cause"] = "one jig"
    x = (np.arange(30000) + 0.5) / 100000
    z = np.maximum(x - 0.1, 0.0) + np.maximum(x - 0.2, 0.0)
    left = z - np.polyval(np.polyfit(x, z, 1), x)
    near(solve_network(record, 6, 0.0, False).joints, 1e-6 * (left**2).mean(), rel=1e-4, why="sampled at 3 um")


def test_in_plane_misfit_of_a_hinge() -> None:
    """A turn theta of the second of two strips about z: shift field (-theta y, theta (x - a)) less shift and spin."""
    record = chain(2, 0.1)
    record["hinges"][0]["units"][0]["misfit_sigma"] = [0.0, 0.0, 0.0, 0.0, 0.0, 1e-3]
    n = 200
    x, y = np.meshgrid((np.arange(2 * n) + 0.5) * 0.1 / n, (np.arange(n) + 0.5) * 0.1 / n - 0.05, indexing="ij")
    out = x > 0.1
    u = np.concatenate([(-y * out).ravel(), ((x - 0.1) * out).ravel()])
    one, none = np.ones(x.size), np.zeros(x.size)
    fit = np.stack([np.r_[one, none], np.r_[none, one], np.r_[-y.ravel(), x.ravel()]], axis=1)
    left = u - fit @ np.linalg.lstsq(fit, u, rcond=None)[0]
    found = solve_network(record, 6, 0.0, False).in_plane_joints
    near(found, 1e-6 * 2 * (left**2).mean(), rel=1e-3, why="sampled grid")
