"""Thick panels against the reference cases: vertices, stacks, axis heights, Miura cells and sheets."""

import numpy as np
import pytest

from synth.core.build import Build
from synth.core.layers import half_turn_height, stack, stack_height
from synth.core.topology import Topology
from synth.fold.closure import closure
from synth.fold.loops import branch, close, follow
from synth.fold.mobility import mobility
from synth.fold.thickness import (
    axis_height,
    bennett_steps,
    fourth_level,
    half_turn,
    hinge_shift,
    loop_opening,
    miura_levels,
    miura_opening,
    myard_steps,
    offset_heights,
    stand_off,
    taper_inset,
)
from synth.fold.vertex import degree4_folds, flat_foldable_folds, miura_cell, symmetric_five_folds, waterbomb_fold
from tests.fold.structures import Structure, miura_corners, miura_folds, miura_heights, sheet, vertex
from tests.near import near
from tests.physics.fold_cases import Case, case, cases

STATES = np.radians([20.0, 70.0, 120.0, 165.0])
PITCH = 0.05


def from_steps(sectors: np.ndarray, steps: np.ndarray) -> Structure:
    """A thick vertex whose axis heights rise by `steps` (in units of PITCH) across its sectors."""
    return vertex(sectors, PITCH * np.concatenate([[0.0], np.cumsum(steps)[:-1]]))


def build(thickness: float, gap: float) -> Build:
    one = np.ones(1)
    t = thickness * one
    return Build(1.0, gap, thickness=t, edge_gap=0.0 * one, pitch=t + gap, knuckle=0.0 * one, unit_width=one)


@pytest.mark.parametrize("given", cases("thick4_bennett"), ids=str)
def test_bennett_steps_keep_the_thin_motion(given: Case) -> None:
    sectors, mode = given.angle("sectors_deg"), given.inputs["mode"]
    steps = bennett_steps(sectors, mode) * given.inputs["a"]
    assert near(steps, given.expected["d"], abs=given.tolerance)
    shape = from_steps(sectors, steps)
    thin = shape.by_hinge(flat_foldable_folds(sectors, STATES, mode))
    axis = np.repeat(shape.axis, len(STATES), axis=0)
    assert closure(shape.topology, axis, thin).gap.max() <= given.expected["closure_residual_max"]
    assert (mobility(shape.topology, axis, thin).freedoms == given.expected["mobility"]).all()
    # one step a per cent off: no state but the deployed one is left nearby
    wrong = from_steps(sectors, steps * [1.01, 1.0, -1.0, -1.0] * [1.0, 1.0, -1.0, 1.0])
    held = close(wrong.topology, axis * 0 + wrong.axis, thin, wrong.driven(0), STATES[:, None])
    assert not held.status.ok.any() and "do not close" in held.status.reason[0]


@pytest.mark.parametrize("given", cases("thick4_bennett"), ids=str)
def test_solver_follows_a_thick_vertex_all_the_way(given: Case) -> None:
    sectors, mode = given.angle("sectors_deg"), given.inputs["mode"]
    shape = from_steps(sectors, bennett_steps(sectors, mode))
    path = np.radians(np.linspace(170.0, 0.0, 18))
    thin = shape.by_hinge(flat_foldable_folds(sectors, path, mode))
    first = branch(shape.topology, shape.axis, np.sign(thin[0]), shape.driven(0), path[None, :1])
    run = follow(shape.topology, shape.axis, first.angles, shape.driven(0), path[:, None])
    assert run.status.ok.all() and run.residual.max() < 1e-9
    assert near(run.angles[0], thin, abs=1e-9, why="closed form; closure below 1e-12 leaves this")


@pytest.mark.parametrize("sign", [1, -1])
@pytest.mark.parametrize("given", cases("thick5_myard"), ids=str)
def test_myard_vertex(given: Case, sign: int) -> None:
    corner, right = float(given.angle("A_deg")), 0.5 * np.pi
    sectors = np.array([corner, right, np.pi - 2.0 * corner, right, corner])
    folds, steps = symmetric_five_folds(corner, given.angle("g1_deg"), sign), myard_steps(np.array(corner), sign)
    assert near(np.abs(steps[0] / steps[1]), given.expected["step_ratio"], abs=given.tolerance)
    thick, thin = from_steps(sectors, steps), vertex(sectors)
    axis = np.repeat(thick.axis, len(folds), axis=0)
    assert closure(thick.topology, axis, thick.by_hinge(folds)).gap.max() < 1e-12
    assert (mobility(thick.topology, axis, thick.by_hinge(folds)).freedoms == given.expected["mobility_thick"]).all()
    flat = np.repeat(thin.axis, len(folds), axis=0)
    count = mobility(thin.topology, flat, thin.by_hinge(folds), spherical=True)
    assert (count.freedoms == given.expected["mobility_thin"]).all()


@pytest.mark.parametrize("given", cases("waterbomb"), ids=str)
def test_thick_waterbomb(given: Case) -> None:
    corner, diagonal = float(given.angle("A_deg")), given.angle("phi_deg")
    sectors = np.array([corner, np.pi - 2.0 * corner, corner, corner, np.pi - 2.0 * corner, corner])
    mountain = waterbomb_fold(corner, diagonal)
    folds = np.stack([mountain, diagonal, diagonal, mountain, diagonal, diagonal], axis=-1)
    thin = vertex(sectors)
    count = mobility(thin.topology, np.repeat(thin.axis, 3, axis=0), thin.by_hinge(folds), spherical=True)
    assert (count.freedoms == given.expected["mobility_thin"]).all()
    for thickness in (0.01, 0.2):  # diagonals at one face, mountains at the other
        shape = vertex(sectors, thickness * np.array([0.0, 1.0, 1.0, 0.0, 1.0, 1.0]))
        axis = np.repeat(shape.axis, 3, axis=0)
        assert closure(shape.topology, axis, shape.by_hinge(folds)).gap.max() < 1e-12
        count = mobility(shape.topology, axis, shape.by_hinge(folds))
        assert (count.freedoms == given.expected["mobility_thick"]).all()


def test_thick_miura_moves_stacked_by_columns_and_not_by_rows() -> None:
    given = case("thick_miura_stack_order")
    m, n = given.inputs["nx"], given.inputs["ny"]
    corner, tilt = float(given.angle("gamma_deg")), float(given.angle("theta_deg"))
    by_columns, by_rows = miura_levels(m, n, "columns"), miura_levels(m, n, "rows")
    assert abs(miura_opening(by_columns, corner, tilt)) <= given.tolerance
    assert near(miura_opening(by_rows, corner, tilt), given.expected["residual_rows_order"], abs=given.tolerance)
    heights = np.abs(miura_heights(m, n, by_columns))
    assert near(heights.max(), given.expected["h_max_over_t"], abs=given.tolerance)
    assert near(heights.max() - 0.5, given.expected["bracket_above_face_over_t"], abs=given.tolerance)
    folds = miura_folds(m, n, corner, tilt)
    moves = sheet(miura_corners(m, n, corner), PITCH * miura_heights(m, n, by_columns))
    assert closure(moves.topology, moves.axis, moves.by_hinge(folds)[None]).gap.max() < 1e-12
    jams = sheet(miura_corners(m, n, corner), PITCH * miura_heights(m, n, by_rows))
    held = close(jams.topology, jams.axis, jams.by_hinge(folds)[None], jams.driven(6), np.array([[folds[6]]]))
    assert not held.status.ok.any() and held.residual[0] > 1e-3
    # both are stacks: with half turns everywhere the loops of either are shut
    for shape in (moves, jams):
        half_turns = shape.by_hinge(np.sign(folds) * np.pi)[None]
        assert closure(shape.topology, shape.axis, half_turns).gap.max() < 1e-12


@pytest.mark.parametrize("given", cases("miura_cell"), ids=str)
def test_miura_cell(given: Case) -> None:
    a, b, corner = given.inputs["a"], given.inputs["b"], float(given.angle("gamma_deg"))
    cell = miura_cell(a, b, corner, given.angle("theta_deg"))
    told = {
        "H": cell.height,
        "S": cell.width,
        "L": cell.length,
        "V": cell.shift,
        "fold_zigzag_deg": np.degrees(cell.zigzag_fold),
        "fold_straight_deg": np.degrees(cell.straight_fold),
        "nu_SL": cell.poisson,
        "area_ratio": cell.area_ratio,
    }
    assert sorted(told) == sorted(given.expected)
    for name, value in told.items():
        assert near(value, given.expected[name], abs=given.tolerance, why="twelve digits stated"), name


@pytest.mark.parametrize("given", cases("miura_cell"), ids=str)
def test_miura_cell_folds_are_those_of_its_vertex(given: Case) -> None:
    corner, tilt = float(given.angle("gamma_deg")), given.angle("theta_deg")[1:]
    cell = miura_cell(given.inputs["a"], given.inputs["b"], corner, tilt)
    sectors = np.array([corner, corner, np.pi - corner, np.pi - corner])
    folds = flat_foldable_folds(sectors, cell.zigzag_fold, "b")
    assert near(np.abs(folds[:, 1]), cell.straight_fold, abs=1e-12)
    # the general closed form degenerates here (the other branch folds the collinear pair alone): same small branch
    assert near(np.abs(degree4_folds(sectors, cell.zigzag_fold)[:, 0, 1]), cell.straight_fold, abs=1e-9)


@pytest.mark.parametrize("given", cases("miura_stowed"), ids=str)
def test_stowed_miura_footprint_and_layers(given: Case) -> None:
    """Footprint from the corners of the folded sheet, layers by counting the panels over a grid of points."""
    columns, rows = given.inputs["nx_straight_bays"], given.inputs["ny_zigzag_rows"]
    a, b, corner = given.inputs["a"], given.inputs["b"], float(given.angle("gamma_deg"))
    at = miura_corners(columns, rows, corner, 0.5 * np.pi, a, b)
    assert np.abs(np.ptp(at[..., 0])) < 1e-12
    assert near(np.ptp(at[..., 1]), given.expected["length"], abs=given.tolerance)
    assert near(np.ptp(at[..., 2]), given.expected["width"], abs=given.tolerance)
    share = np.linspace(0.01, 0.99, 99)
    y = np.linspace(at[..., 1].min(), at[..., 1].max(), 2001)
    count = np.zeros((len(share), len(y)), dtype=int)
    for i in range(columns):
        for j in range(rows):
            up = share if j % 2 == 0 else 1.0 - share  # height in the strip, from the low corner of the panel
            ends = [at[i + k, j, 1] + up * (at[i + k, j + 1, 1] - at[i + k, j, 1]) for k in (0, 1)]
            low, high = np.minimum(*ends), np.maximum(*ends)
            count += (y >= low[:, None]) & (y <= high[:, None])
    assert count.max() == given.expected["max_layers"]


@pytest.mark.parametrize("given", cases("stack_levels_deg4"), ids=str)
def test_levels_that_keep_an_unequal_vertex_moving(given: Case) -> None:
    sectors, mode = given.angle("sectors_deg"), given.inputs["mode"]
    levels = np.array([given.inputs[k] for k in ("Z1", "Z2", "Z3")])
    fourth = fourth_level(sectors, mode, levels)
    assert near(fourth, given.expected["Z4"], abs=given.tolerance)
    every = np.append(levels, fourth)
    heights = axis_height(np.roll(every, 1), every, np.array([-1, 1, -1, 1]))
    assert near(heights, given.expected["hinge_heights"], abs=given.tolerance)
    shape = vertex(sectors, PITCH * heights)
    folds = shape.by_hinge(flat_foldable_folds(sectors, STATES, mode))
    assert closure(shape.topology, np.repeat(shape.axis, 4, axis=0), folds).gap.max() < 1e-12


def test_hinge_shift_and_loop_opening() -> None:
    given = case("thick_hinge_shift")
    fold = given.angle("fold_deg")
    shift = hinge_shift(np.array(given.inputs["h"]), fold)
    assert near(shift, given.expected["shift_xz"], abs=given.tolerance)
    # the same from poses: a point of the crease on the mid-plane, turned about the raised axis
    turned = given.inputs["h"] * np.stack([np.sin(fold), 1.0 - np.cos(fold)], axis=-1)
    assert near(shift, turned, abs=1e-12)
    normals = np.array([[0.0, 0.0, 1.0], [0.0, 1.0, 0.0]])
    assert near(loop_opening(np.array([0.0, 2.0]), normals), [0.0, -2.0, 2.0], abs=1e-15)


def test_half_turns_and_stacks() -> None:
    given = case("half_turn_map")
    t, h = given.inputs["t"], given.inputs["h"]
    assert near(sorted(half_turn(np.array(h), np.array([0.0, t]))), given.expected["slab"], abs=given.tolerance)
    skipped = given.expected["panels_skipped_at_pitch_12"]
    assert near(stand_off(np.array(skipped), np.array(t), np.array(2.0)), h - t, abs=given.tolerance)
    given = case("stack_hinge_rule")
    k, gap = np.array(given.inputs["k"]), np.array(given.inputs["g"])
    told = stand_off(k, np.array(given.inputs["t"]), gap)
    assert near(told, given.expected["axis_above_face"], abs=given.tolerance)
    level = (k + 1) * (given.inputs["t"] + gap)
    raised = axis_height(np.zeros(5), level, np.ones(5, dtype=np.int64)) - 0.5 * given.inputs["t"]
    assert near(raised, given.expected["axis_above_face"], abs=given.tolerance)
    given = case("accordion")
    heights = [stack_height(n, build(given.inputs["t"], given.inputs["g"]))[0] for n in given.inputs["n"]]
    assert near(heights, given.expected["thickness"], abs=given.tolerance)
    given = case("taper_inset")
    inset = taper_inset(np.array(given.inputs["t"]), given.angle("rho_max_deg"))
    assert near(inset, given.expected["inset"], abs=given.tolerance)
    given = case("offset_panel_heights")
    levels = (np.arange(given.inputs["n"]) - 0.5 * (given.inputs["n"] - 1)) * given.inputs["t"]
    offsets = offset_heights(levels)
    assert near(offsets, given.expected["e"], abs=given.tolerance)
    assert near(np.ptp(offsets), given.expected["deployed_step"], abs=given.tolerance)


def tree(parent: list[int], sides: list[int] | None = None) -> Topology:
    found = stack(parent, sides=sides)
    slot = np.zeros(len(parent) - 1, dtype=np.int64)
    return Topology(np.array(parent), found.sense, found.steps, found.stage, slot, found.level, found.turned)


def test_layer_routine_gives_the_axis_heights_of_the_cases() -> None:
    given = case("map_fold_second_crease")
    m, n, t = given.inputs["m"], given.inputs["n"], given.inputs["t"]
    # a pack of n layers and the next one laid on it: panel j below the axis meets panel j above it
    j = np.arange(1, n + 1)
    heights = axis_height((n - j) * t, (n - 1 + j) * t, np.ones(n, dtype=np.int64))
    assert near(heights, given.expected["raised_axis_from_midplane"], abs=given.tolerance)
    assert near(2.0 * heights, given.expected["web"], abs=given.tolerance)
    assert near(stack_height(m * n, build(t, 0.0)), given.expected["stack"], abs=given.tolerance)
    given = case("hex_stack")
    star = tree([-1] + [0] * 6)
    above = half_turn_height(star, build(given.inputs["t"], given.inputs["g"]))[0]
    front = np.sort(above[star.sense > 0])
    assert near(front, given.expected["star_7_hinge_above_face"], abs=given.tolerance)
    assert near(
        [stack_height(p, build(given.inputs["t"], 0.0))[0] for p in given.expected["panels"]],
        given.expected["stack"],
        abs=given.tolerance,
    )
