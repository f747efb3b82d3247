"""The loop solver's laws: exact slopes, one at a time equals all at once, honest failures, flat ends."""

from dataclasses import replace

import numpy as np
import pytest
from scipy.spatial.transform import Rotation

from synth.fold.closure import closure, loops, turn_vector
from synth.fold.loops import Followed, branch, close, follow
from synth.fold.thickness import bennett_steps, miura_levels
from synth.fold.tree import hinge_parting, poses
from synth.fold.vertex import biquadratic, degree4_folds, flat_foldable_folds
from tests.fold.structures import Structure, miura_corners, miura_folds, miura_heights, sheet, vertex
from tests.near import near

CORNER = np.radians(70.0)
SECTORS = np.radians([60.0, 80.0, 120.0, 100.0])


def thick_miura(m: int, n: int, pitch: float = 0.04, order: str = "columns") -> Structure:
    return sheet(miura_corners(m, n, CORNER), pitch * miura_heights(m, n, miura_levels(m, n, order)))


def miura_batch(m: int, n: int, rows: int) -> tuple[Structure, np.ndarray, np.ndarray]:
    """A thick sheet as a batch of `rows`, side lengths and pitches of their own; axis [rows, H, 2, 3], sides."""
    sides = np.linspace(0.7, 1.4, rows)
    shapes = [
        sheet(miura_corners(m, n, CORNER, a=a), 0.02 * a**2 * miura_heights(m, n, miura_levels(m, n, "columns")))
        for a in sides
    ]
    return shapes[0], np.concatenate([s.axis for s in shapes]), sides


@pytest.mark.parametrize("spherical", [True, False])
def test_jacobian_is_the_slope_of_the_rows(spherical: bool) -> None:
    shape = thick_miura(3, 2, 0.0 if spherical else 0.04)
    angles = shape.by_hinge(miura_folds(3, 2, CORNER, 0.6))[None]
    told = closure(shape.topology, shape.axis, angles, spherical).jacobian[0]
    step = 1e-6
    for h in range(angles.shape[1]):
        off = step * (np.arange(angles.shape[1]) == h)
        slope = closure(shape.topology, shape.axis, angles + off, spherical).rows
        slope = slope - closure(shape.topology, shape.axis, angles - off, spherical).rows
        assert near(told[:, h], slope[0] / (2.0 * step), abs=1e-9, why="central difference of 1e-6 rad")


def test_loops_are_cycles() -> None:
    """Each loop's hinges meet every panel twice or not at all."""
    shape = thick_miura(3, 3)
    share = np.abs(loops(shape.topology))
    for row in share:
        met = np.bincount(shape.topology.hinges[row > 0.0].ravel(), minlength=9)
        assert set(met.tolist()) == {0, 2}


def test_turn_vector_is_axis_times_angle() -> None:
    vectors = np.array([[0.3, -0.2, 0.5], [1e-9, 0.0, 2e-9], [0.0, 0.0, 0.0], [1.0, 2.0, -1.5], [0.0, 3.1, 0.0]])
    assert near(turn_vector(Rotation.from_rotvec(vectors).as_matrix()), vectors, abs=1e-12)


def run_miura(shape: Structure, axis: np.ndarray, tilts: np.ndarray) -> Followed:
    start = np.repeat(shape.by_hinge(miura_folds(3, 3, CORNER, tilts[0]))[None], len(axis), axis=0)
    driven = np.arange(axis.shape[1]) == int(np.argmax(np.abs(start[0])))
    return follow(shape.topology, axis, start, driven, np.sign(start[0, driven]) * 2.0 * tilts[:, None])


def test_sheet_follows_the_closed_form_to_the_deployed_state() -> None:
    shape = thick_miura(3, 3)
    tilts = np.radians(np.linspace(88.0, 0.0, 12))
    run = run_miura(shape, shape.axis, tilts)
    assert run.status.ok.all() and run.residual.max() < 1e-9
    exact = np.array([shape.by_hinge(miura_folds(3, 3, CORNER, t)) for t in tilts])
    assert near(run.angles[0], exact, abs=1e-9, why="closure below 1e-12 away from flat")
    assert (run.angles[0, -1] == 0.0).all()
    # closed loops are closed hinges: both panels carry the hinge line to the same place
    placed = poses(shape.topology, shape.axis, run.angles)
    assert hinge_parting(shape.topology, shape.axis, placed).max() < 1e-12


def test_one_at_a_time_equals_all_at_once_in_any_order() -> None:
    shape, axis, _ = miura_batch(3, 3, 5)
    tilts = np.radians([80.0, 50.0, 10.0])
    every = run_miura(shape, axis, tilts)
    assert every.status.ok.all()
    mixed = np.array([3, 0, 4, 2, 1])
    shuffled = run_miura(shape, axis[mixed], tilts)
    assert np.array_equal(shuffled.angles, every.angles[mixed]) and np.array_equal(shuffled.steps, every.steps[mixed])
    for row in range(5):
        alone = run_miura(shape, axis[row : row + 1], tilts)
        assert np.abs(alone.angles[0] - every.angles[row]).max() < 1e-12
    # a row that cannot close does not disturb its neighbours
    spoilt = axis.copy()
    spoilt[2, 0, :, 2] += 0.01
    beside = run_miura(shape, spoilt, tilts)
    assert beside.status.ok.tolist() == [True, True, False, True, True]
    assert np.abs(beside.angles[3] - every.angles[3]).max() < 1e-12
    assert np.isfinite(beside.angles).all() and "do not close" in beside.status.reason[2]


def test_scale_does_not_matter() -> None:
    shape = thick_miura(3, 3)
    tilts = np.radians([80.0, 50.0, 10.0])
    small, large = (run_miura(shape, factor * shape.axis, tilts) for factor in (1e-2, 1e2))
    assert small.status.ok.all() and large.status.ok.all()
    assert np.abs(small.angles - large.angles).max() < 1e-9


def test_projection_returns_to_closure_from_a_rough_guess() -> None:
    shape = thick_miura(4, 4)
    exact = shape.by_hinge(miura_folds(4, 4, CORNER, 0.8))
    driven = shape.driven(0)
    rough = exact + 0.05 * np.cos(np.arange(len(exact)))
    found = close(shape.topology, shape.axis, rough[None], driven, exact[driven][None])
    assert found.status.ok.all() and found.residual[0] < 1e-12
    assert near(found.angles[0], exact, abs=1e-10, why="one freedom, so the state is unique")


def test_branches_of_a_sheet_by_mountains_and_valleys() -> None:
    shape = thick_miura(3, 3)
    exact = shape.by_hinge(miura_folds(3, 3, CORNER, 0.5))
    driven = shape.driven(7)
    for turn in (1.0, -1.0):
        found = branch(shape.topology, shape.axis, np.sign(turn * exact), driven, turn * exact[driven][None])
        assert found.status.ok.all(), found.residual
        assert near(found.angles[0], turn * exact, abs=1e-10)


def test_a_collinear_pair_folds_alone_where_the_others_are_kept_flat() -> None:
    """Equal first sectors make the multiplier of mode a infinite: creases 1 and 3 fold, 0 and 2 stay flat."""
    shape = vertex(np.radians([60.0, 60.0, 120.0, 120.0]))
    sense = shape.by_hinge(np.array([0.0, 1.0, 0.0, 1.0]))
    found = branch(shape.topology, shape.axis, sense, shape.driven(1), np.array([[1.2]]), spherical=True)
    assert found.status.ok.all()
    assert near(shape.by_crease(found.angles[0]), [0.0, 1.2, 0.0, 1.2], abs=1e-12)


def test_more_freedoms_than_drives_move_as_little_as_they_can() -> None:
    """A thin six-crease vertex has three freedoms; driving one, the step taken is the shortest that closes."""
    shape = vertex(np.full(6, np.pi / 3.0))
    start = shape.by_hinge(np.array([0.9, -0.9, 0.9, -0.9, 0.9, -0.9]))
    driven = shape.driven(0)
    first = close(shape.topology, shape.axis, start[None], driven, np.array([[0.9]]), spherical=True)
    state = closure(shape.topology, shape.axis, first.angles, spherical=True)
    step = 1e-4
    second = close(shape.topology, shape.axis, first.angles, driven, np.array([[0.9 + step]]), spherical=True)
    free = ~driven
    shortest = np.linalg.lstsq(state.jacobian[0][:, free], -state.jacobian[0][:, driven][:, 0] * step, rcond=None)[0]
    moved = (second.angles - first.angles)[0, free]
    assert near(moved, shortest, abs=2e-3 * np.abs(shortest).max(), why="second order in a step of 1e-4 rad")


def test_path_that_jams_says_so_and_keeps_the_last_closed_state() -> None:
    """The first crease of sectors 100, 125, 50, 85 (degrees) stops where the two roots of the biquadratic meet:
    c11^2 = 4 c20 (c02 + c22 t^2)."""
    sectors = np.radians([100.0, 125.0, 50.0, 85.0])
    _, c20, c02, c22, c11 = biquadratic(sectors)
    limit = 2.0 * np.arctan(np.sqrt((c11**2 / (4.0 * c20) - c02) / c22))
    assert 0.5 < limit < 3.0
    shape = vertex(sectors)
    start = shape.by_hinge(degree4_folds(sectors, 0.4)[0])[None]
    path = np.array([[0.4], [limit - 0.05], [limit - 1e-3], [limit + 0.2]])
    run = follow(shape.topology, shape.axis, start, shape.driven(0), path, spherical=True)
    assert not run.status.ok.any() and "jam" in run.status.reason[0]
    assert run.residual.max() < 1e-9 and np.isfinite(run.angles).all()
    assert near(run.angles[0, :3, shape.driven(0)].ravel(), path[:3].ravel(), abs=1e-15)
    assert near(run.angles[0, -1, shape.driven(0)], limit, abs=2e-3, why="the last step that closed")
    within = follow(shape.topology, shape.axis, start, shape.driven(0), path[:3], spherical=True)
    assert within.status.ok.all()


def test_path_may_not_pass_through_flat() -> None:
    shape = vertex(SECTORS)
    start = shape.by_hinge(flat_foldable_folds(SECTORS, 1.0, "b"))[None]
    with pytest.raises(ValueError, match="only the last station"):
        follow(shape.topology, shape.axis, start, shape.driven(0), np.array([[1.0], [0.0], [-1.0]]), spherical=True)


def test_tree_has_nothing_to_close() -> None:
    shape = vertex(SECTORS, np.cumsum(bennett_steps(SECTORS, "b")))
    open_ = replace(shape.topology, closing=np.zeros((0, 2), dtype=np.int64))
    axis, driven = shape.axis[:, :3], np.array([True, False, False])
    found = close(open_, axis, np.full((1, 3), 0.4), driven, np.array([[1.0]]))
    assert found.status.ok.all() and near(found.angles[0], [1.0, 0.4, 0.4], abs=0.0) and found.residual[0] == 0.0
