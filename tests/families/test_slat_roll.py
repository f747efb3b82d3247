"""Slat roll: nested walls, the free drum, and why the outermost slat opens first."""

import dataclasses

import numpy as np
import pytest

from synth.core.build import Build
from synth.families.slat_roll import SlatRoll
from tests.families.folding import DIAMETER, all_pairs, least_gap, plain_build, poses, solids, stations, stowed_size
from tests.near import near

T, E, G, K = 4e-3, 6e-3, 1e-3, 2e-3
ONE = np.ones(1)


def rolled(n: int, k: int, roll: str = "front", deploy: str = "in_turn") -> SlatRoll:
    return SlatRoll(n, k, roll, deploy, np.array([0.95]), np.array([0.9]))


def walls(made: SlatRoll, b: Build) -> tuple[np.ndarray, np.ndarray]:
    """Outward normals [P, 3] of the rolled slats and distances [P] of their inner faces from the origin."""
    t, g = made.topology(), made.geometry(b)
    place = poses(t.parent, g.axis[0], g.stowed_angle[0])
    inner = 0.0 if made.roll == "front" else -b.thickness[0]
    normal = place[:, :3, 2] * (-1.0 if made.roll == "front" else 1.0)
    point = place[:, :3, :3] @ np.array([0.0, 0.0, inner]) + place[:, :3, 3]
    return normal, (normal * point).sum(axis=1)


@pytest.mark.parametrize("roll", ["front", "back"])
@pytest.mark.parametrize(("n", "k"), [(10, 3), (12, 4), (13, 5), (20, 6), (24, 8)])
def test_walls_of_successive_turns_are_parallel_at_one_distance(n: int, k: int, roll: str) -> None:
    b = plain_build(1, T, E, G, K)
    normal, distance = walls(rolled(n, k, roll), b)
    assert near((normal[k:] * normal[:-k]).sum(axis=1), 1.0, rel=1e-9, why="rounding")
    # depth of the axes: the knuckle, unless inner corners would meet: d tan(pi / k) <= 0.8 e / 2
    depth = min(K, 0.8 * E / 2 / np.tan(np.pi / k))
    wall = max(T + G, T + b.panel_gap + (K - depth) + max(0.0, K - T + depth))
    assert near(distance[k:] - distance[:-k], wall, rel=1e-9, why="closed form, rounding")


def test_a_square_turn_has_the_size_of_its_walls() -> None:
    """Four slats, d = knuckle: sides a_0 + a_2 + 2 (t - d) and a_1 + a_3 + 2 (t - d) with a_i = a_0 + i q / 4."""
    made = rolled(4, 4)
    t, g = made.topology(), made.geometry(plain_build(1, T, E, G, K))
    size = stowed_size(solids(g.outline[0], T, poses(t.parent, g.axis[0], g.stowed_angle[0])))
    q = T + G
    inner = (0.95 * DIAMETER + E) / 8.0 - q * 3 / 8
    assert near(size[2], 2 * inner + q / 2 + 2 * (T - K), rel=1e-9, why="rounding")
    assert near(size[0], 2 * inner + q + 2 * (T - K), rel=1e-9, why="rounding")
    assert near(size[1], 0.9 * DIAMETER, rel=1e-9, why="rounding")


@pytest.mark.parametrize(("n", "k"), [(6, 6), (16, 5), (20, 6)])
def test_slats_cover_the_width_and_grow_by_a_fixed_amount(n: int, k: int) -> None:
    g = rolled(n, k).geometry(plain_build(1, T, E, G, K))
    assert g.status.ok.all()
    x = g.outline[0, :, :, 0]
    assert near(np.ptp(x), 0.95 * DIAMETER, rel=1e-9, why="rounding")
    width = np.ptp(x, axis=1)
    depth = min(K, 0.8 * E / 2 / np.tan(np.pi / k))
    wall = max(T + G, T + 0.5e-3 + (K - depth) + max(0.0, K - T + depth))
    assert near(np.diff(width), 2 * np.tan(np.pi / k) * wall / k, rel=1e-9, why="w_i = 2 a_i tan(pi / k)")


def test_the_drum_is_free_room() -> None:
    """No slat reaches inside the circle of the inner apothem less the axis depth about the drum's axis."""
    n, k = 18, 6
    made, b = rolled(n, k), plain_build(1, T, E, G, K)
    t, g = made.topology(), made.geometry(b)
    _, depth, wall, drum = made.nesting(b)
    corners = solids(g.outline[0], T, poses(t.parent, g.axis[0], g.stowed_angle[0])).corners
    # drum axis: a_0 above the root's hinge line, where the neighbouring lines leave 2 a_0 tan(pi / k) in all
    along = (drum + wall / k - drum * np.cos(2 * np.pi / k)) / np.sin(2 * np.pi / k)
    centre = g.axis[0, 0, 0, [0, 2]] + np.array([-along[0], drum[0]])
    reach = np.linalg.norm(corners[..., [0, 2]] - centre, axis=-1).min()
    assert drum[0] - depth[0] <= reach < 1.2 * drum[0]
    assert near(drum, (0.95 * DIAMETER + E) / (2 * n * np.tan(np.pi / k)) - wall * (n - 1) / (2 * k), rel=1e-9)


@pytest.mark.parametrize(("thickness", "knuckle"), [(4e-3, 3e-3), (2e-3, 3e-3), (2e-3, 5e-3)])
def test_proud_knuckles_on_both_faces_widen_the_wall_distance(thickness: float, knuckle: float) -> None:
    """Axis in the middle of the panel: 2 r - t stands proud in all, plus the panel gap."""
    b = plain_build(1, thickness, 12e-3, G, knuckle)
    normal, distance = walls(rolled(14, 8), b)
    assert near((normal[8:] * normal[:-8]).sum(axis=1), 1.0, rel=1e-9, why="rounding")
    assert near(distance[8:] - distance[:-8], 2 * knuckle + b.panel_gap, rel=1e-9, why="t + gap + 2 r - t")


@pytest.mark.parametrize("roll", ["front", "back"])
@pytest.mark.parametrize(("n", "k"), [(9, 3), (12, 4), (13, 6)])
def test_unrolls_from_the_outside_without_meeting(n: int, k: int, roll: str) -> None:
    made = rolled(n, k, roll)
    t, g = made.topology(), made.geometry(plain_build(1, T, E, G, K))
    assert g.status.ok.all() and t.stage.tolist() == list(range(n - 1))[::-1]
    for angle in stations(t, g.stowed_angle[0], 12):
        bodies = solids(g.outline[0], T, poses(t.parent, g.axis[0], angle))
        assert least_gap(bodies, all_pairs(n), 1e-4) > 0.0


@pytest.mark.parametrize("k", [3, 4, 5, 6, 8])
def test_one_turn_may_open_all_at_once(k: int) -> None:
    made = rolled(k, k, deploy="together")
    t, g = made.topology(), made.geometry(plain_build(1, T, E, G, K))
    for angle in stations(t, g.stowed_angle[0], 90):
        bodies = solids(g.outline[0], T, poses(t.parent, g.axis[0], angle))
        assert least_gap(bodies, all_pairs(k), 1e-4) > 0.0


@pytest.mark.parametrize("order", ["together", "root_first"])
def test_two_turns_cannot_open_all_at_once_nor_at_the_root_first(order: str) -> None:
    made = rolled(9, 4)
    t, g = made.topology(), made.geometry(plain_build(1, T, E, G, K))
    stage = np.zeros(8, dtype=np.int64) if order == "together" else t.stage[::-1].copy()
    wrong = dataclasses.replace(t, stage=stage)
    worst = min(
        least_gap(solids(g.outline[0], T, poses(t.parent, g.axis[0], a)), all_pairs(9), 1e-4)
        for a in stations(wrong, g.stowed_angle[0], 30)
    )
    assert worst < -0.5e-3
    assert not SlatRoll.allowed({"slats": 9, "sides": 4, "roll": "front", "deploy": "together"})


def test_too_many_turns_of_thick_slats_are_told_so() -> None:
    g = rolled(32, 3).geometry(plain_build(1, 20e-3, E, G, K))
    assert g.status.residual[0] < 0 and "no drum" in g.status.reason[0]
    assert np.isfinite(g.outline).all() and (np.ptp(g.outline[0, :, :, 0], axis=1) > 0).all()


def test_root_is_the_innermost_slat_at_the_rim() -> None:
    made = rolled(12, 4)
    t, g = made.topology(), made.geometry(plain_build(1, T, E, G, K))
    assert t.parent.tolist() == list(range(-1, 11)) and not t.steps.any() and not t.level.any()
    assert near(g.outline[0, 0, :, 0].min(), -0.95 * DIAMETER / 2, rel=1e-9, why="rounding")
    assert near(np.abs(g.stowed_angle), np.pi / 2, rel=1e-12, why="a quarter turn each")
