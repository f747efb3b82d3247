"""Stages, stations and frames of the way from stowed to deployed."""

import numpy as np
import pytest

from synth.core.arrays import transform
from synth.core.errors import StowfrontError
from synth.fold.path import frames, schedule, speed_bounds, stations
from synth.fold.tree import poses
from tests.fold import chains
from tests.near import near


def test_stages_take_equal_intervals_and_angles_are_linear_inside() -> None:
    laid = chains.serial(4)
    stages = schedule(laid.topology)
    near(stages.bounds, [0.0, 1 / 3, 2 / 3, 1.0], abs=1e-15, why="three stages")
    stowed = np.array([[2.0, -3.0, 1.0]])
    s = np.array([0.0, 1 / 6, 1 / 3, 0.5, 2 / 3, 1.0])
    order = np.argsort(laid.topology.stage)
    found = stages.angles_at(stowed, s)[0][:, order] / stowed[0, order]
    expected = [[1, 1, 1], [0.5, 1, 1], [0, 1, 1], [0, 0.5, 1], [0, 0, 1], [0, 0, 0]]
    near(found, expected, abs=1e-12, why="linear interpolation")
    assert np.all(found[[0, 2, 4, 5]] == np.array(expected)[[0, 2, 4, 5]])
    assert stages.told()[1] == {"hinges": [int(order[1])], "s": [pytest.approx(1 / 3), pytest.approx(2 / 3)]}


def test_rates_are_the_slope_of_the_angles() -> None:
    laid = chains.star()
    stages = schedule(laid.topology)
    stowed = laid.geometry.stowed_angle
    for k in range(stages.count):
        middle = (stages.bounds[k] + stages.bounds[k + 1]) / 2
        a = stages.angles_at(stowed, np.array([middle - 1e-4, middle + 1e-4]))[0]
        near((a[1] - a[0]) / 2e-4, stages.rates(stowed)[0, k], abs=1e-8, why="linear: exact but for rounding")


@pytest.mark.parametrize("staged", [False, True])
def test_no_corner_moves_farther_than_the_step_between_stations(staged: bool) -> None:
    laid = chains.accordion(6, staged=staged)
    corners = laid.geometry.corners[0]
    owner = np.repeat(np.arange(6), corners.shape[1])
    axis, stowed = laid.geometry.axis[0], laid.geometry.stowed_angle[0]
    s = stations(laid.topology, axis, stowed, corners.reshape(-1, 3), owner, 0.01)
    stages = schedule(laid.topology)
    assert set(np.round(stages.bounds, 12)) <= set(np.round(s, 12))
    placed = poses(laid.topology, laid.geometry.axis, stages.angles_at(stowed[None], s))[0]
    where = transform(placed[:, owner], corners.reshape(1, -1, 1, 3))[..., 0, :]
    moved = np.linalg.norm(np.diff(where, axis=0), axis=-1).max()
    assert moved <= 0.01
    assert moved > (0.004 if staged else 0.0005), "the bound should not be idle"


def test_the_speed_of_one_turning_panel_is_turn_rate_times_arm() -> None:
    laid = chains.accordion(2, width=0.2, length=1e-6, thickness=1e-6, gap=1e-6, edge_gap=1e-6)
    corners = laid.geometry.corners[0]
    owner = np.repeat(np.arange(2), corners.shape[1])
    bound = speed_bounds(
        laid.topology, laid.geometry.axis[0], laid.geometry.stowed_angle[0], corners.reshape(-1, 3), owner
    )
    near(bound, [np.pi * 0.2], rel=1e-4, why="arm 0.2 m to within the tiny other sizes")


def test_frames_hold_every_stage_end_and_stay_within_the_limit() -> None:
    stages = schedule(chains.serial(31).topology)
    s = frames(stages)
    assert len(s) <= 200 and s[0] == 0.0 and s[-1] == 1.0 and np.all(np.diff(s) > 0)
    assert all(np.min(np.abs(s - b)) == 0.0 for b in stages.bounds)
    assert len(frames(schedule(chains.accordion(3).topology))) == 49
    with pytest.raises(StowfrontError, match="30 stages"):
        frames(stages, most=20)
