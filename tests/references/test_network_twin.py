"""The batch network against the plain twin (every source) and against Monte Carlo draws of the misfits."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.linalg import eigh

from synth.core.arrays import Floats
from synth.core.design import Design
from synth.structure.loads import Loads
from synth.structure.network import deployed
from synth.structure.settled import _at_degree, _built
from tests.near import near
from tests.references.plain_network import left_over, left_over_in_plane, twin
from tests.structure.make import grid, strip, varied


def with_hardware(made: Design) -> Design:
    """Off-centre fittings and a lump on two panels, joints off the mid-plane."""
    box = np.array(
        [[[[0.0, 0.0], [0.03, 0.0], [0.03, 0.02], [0.0, 0.02]], [[0.05, 0.06], [0.08, 0.06], [0.08, 0.1], [0.05, 0.1]]]]
    )
    where = np.array([1, 2])
    none = np.full(2, -1)
    fittings = replace(
        made.fittings,
        panel=where,
        hinge=none,
        latch=none,
        outline=box + made.geometry.outline[:, where, :1],
        mass=np.array([[0.2, 0.1]]),
        z_back=np.zeros((1, 2)),
        z_front=np.zeros((1, 2)),
    )
    raised = made.units.at + np.array([0.0, 0.0, 0.007])
    return replace(
        made,
        fittings=fittings,
        units=replace(made.units, at=raised),
        lumps_panel=np.array([0, 2]),
        lumps_mass=np.array([[0.3, 0.15]]),
        lumps_name=("drive", "restraint"),
    )


def with_steady(made: Design, *causes: str) -> Design:
    """Steady free offsets drawn once; causes: labels given to the units in turn ("" for errors of their own)."""
    offset = np.random.default_rng(1).normal(0.0, 1e-5, made.units.stiffness.shape)
    labels = np.array([causes[u % len(causes)] for u in range(offset.shape[1])]) if causes else None
    return replace(made, units=replace(made.units, free_offset=offset, cause=labels))


CASES = {
    "tree": with_steady(with_hardware(varied(grid(3, 2, hinge_mass=0.05), 1))),
    "loops": with_steady(with_hardware(varied(grid(2, 2, latched=True, hinge_mass=0.05), 1, 4))),
    "strip": with_steady(with_hardware(varied(strip(3, gap=0.004, hinge_mass=0.1), 1, 5))),
    "causes": with_steady(varied(grid(2, 2, latched=True), 1, 6), "jig", "", "shop"),
}


@pytest.mark.parametrize("name", list(CASES))
@pytest.mark.parametrize("refocus", [False, True])
def test_every_source(name: str, refocus: bool) -> None:
    """joints, bow, gravity, steady, in-plane and first mode at degree 4, all computed twice."""
    made = CASES[name]
    got = deployed(made, Loads(gravity_release=0.02, refocus=refocus), 4)
    plain = twin(made, 4, 0.02)
    total = sum(b.weights.sum() for b in plain.bases)

    def mean_square(motion: Floats) -> Floats:
        points, weights, heights = plain.heights(motion)
        return weights @ left_over(points, weights, heights, refocus) ** 2 / total

    def in_plane(motion: Floats, growth: float = 0.0) -> Floats:
        points, weights, shifts = plain.shifts(motion, growth)
        return weights @ (left_over_in_plane(points, weights, shifts) ** 2).sum(axis=1) / total

    random = np.linalg.solve(plain.stiffness, plain.misfit_loads)
    steady = {k: np.linalg.solve(plain.stiffness, v[:, None]) for k, v in plain.loads.items()}
    tight = {"rel": 2e-4, "why": "quadrature by small triangles"}
    assert near(got.joints_m2, mean_square(random).sum(), **tight)
    assert near(got.in_plane_joints_m2, in_plane(random).sum(), **tight)
    assert near(got.bow_m2, mean_square(steady["bow"]), **tight)
    assert near(got.gravity_m2, mean_square(steady["gravity"]), **tight)
    whole = np.asarray(sum(steady.values()))
    assert near(got.steady_m2, mean_square(whole), **tight)
    assert near(got.in_plane_steady_m2, in_plane(whole, plain.growth), **tight)
    lowest = eigh(plain.stiffness, plain.inertia, eigvals_only=True, subset_by_index=[0, 0])[0]
    assert near(got.first_mode_hz, np.sqrt(lowest) / (2 * np.pi), rel=2e-4)


@pytest.mark.parametrize("name", ["tree", "loops", "causes"])
def test_monte_carlo_of_misfits(name: str) -> None:
    """The mean of 200 000 draws of all misfits; its own sampling error is under 0.3 % (at least 4 free terms)."""
    made = CASES[name]
    plain = twin(made, 3, 0.0)
    points, weights, heights = plain.heights(np.linalg.solve(plain.stiffness, plain.misfit_loads))
    total = weights.sum()
    # the surface of a draw is linear in it: its mean square is a quadratic form in the draw
    kept = np.sqrt(weights / total)[:, None] * left_over(points, weights, heights, False)
    half = np.linalg.qr(kept, mode="r")
    draws = np.random.default_rng(11).normal(size=(200_000, half.shape[1]))
    sampled = ((draws @ half.T) ** 2).sum(axis=1).mean()
    assert near(deployed(made, Loads(), 3).joints_m2, sampled, rel=0.008, why="sampling error, fixed seed")


@pytest.mark.parametrize("name", list(CASES))
@pytest.mark.parametrize("degree", [3, 6])
def test_settled_solution_at_the_same_degree(name: str, degree: int) -> None:
    """Orthonormal, condensed and monomial, whole: two ways to the same network."""
    made, loads = CASES[name], Loads(gravity_release=0.02, refocus=True)
    network, _ = _built(made, loads, degree)
    one, two = _at_degree(made, network, degree, loads).deployed, deployed(made, loads, degree)
    for field in (
        "joints_m2",
        "bow_m2",
        "gravity_m2",
        "steady_m2",
        "in_plane_rms",
        "slope_joints_rad2",
        "slope_steady_rad2",
    ):
        assert near(getattr(one, field), getattr(two, field), rel=1e-6), field
    assert near(one.first_mode_hz, two.first_mode_hz, rel=1e-4, why="fewer rounds in the batch")
