"""Planted collisions are caught, close passes accepted, and verdicts agree with python-fcl on random structures."""

from dataclasses import replace

import numpy as np
import pytest

from synth.core.fittings import NO_JOINT, Fittings
from synth.core.topology import Topology
from synth.fold.course import Course
from synth.fold.interference import FLOOR, KEPT, Clearance, prove_solids
from synth.fold.solids import Solids, solids_of
from tests.fold import chains, oracle
from tests.fold.prism_distance import prism_distance
from tests.near import near

NOTHING = np.zeros((0, 2, 3))
SPARE = 0.2e-3
PLANTS = range(30)


def laid_out(
    laid: chains.Laid, fittings: Fittings | None = None, keep_out: np.ndarray = NOTHING
) -> tuple[Course, Solids]:
    course = Course.of(laid.topology, laid.geometry.axis[0], laid.geometry.stowed_angle[0])
    return course, solids_of(laid.topology, laid.geometry, fittings, keep_out)


def verdict(laid: chains.Laid, fittings: Fittings | None = None, keep_out: np.ndarray = NOTHING) -> Clearance:
    return prove_solids(*laid_out(laid, fittings, keep_out))


def corners_at(course: Course, solids: Solids, s: float) -> list[np.ndarray]:
    placed = course.placed(np.array([s]))[0]
    out = []
    for i in range(solids.count):
        corners = solids.shapes[int(solids.shape[i])].corners()[:, :, int(solids.place[i])].T
        half = len(corners) // 2
        kept = [k for k in range(half) if k == 0 or np.abs(corners[k] - corners[k - 1]).max() > 1e-9]
        corners = corners[kept + [k + half for k in kept]]
        pose = placed[solids.panel[i]]
        out.append(corners @ pose[:, :3].T + pose[:, 3])
    return out


def meets_at(course: Course, solids: Solids, s: float) -> bool:
    """Whether fcl finds any pair that may not meet with a common point."""
    corners = corners_at(course, solids, s)
    return any(oracle.meet(corners[i], corners[j]) for i, j in np.argwhere(solids.tested))


def boxes(*limits: tuple[int, list[float], list[float]]) -> Fittings:
    """Fittings of no joint: panel, least corner, greatest corner, each upright in the deployed frame."""
    count = len(limits)
    plan = [[[a[0], a[1]], [b[0], a[1]], [b[0], b[1]], [a[0], b[1]]] for _, a, b in limits]
    loose = np.full(count, NO_JOINT)
    low, high = (np.array([[x[k][2] for x in limits]]) for k in (1, 2))
    return Fittings(
        np.array([p for p, _, _ in limits]), loose, loose, np.array([plan]), low, high, np.zeros((1, count))
    )


def passing_corner(seed: int) -> tuple[chains.Laid, float, float, float, float]:
    """Two strips; radius and angle (about the hinge line, from +x) of the outer top corner half-way between two
    one-per-cent steps of the way, with the hinge line's x and z."""
    rng = np.random.default_rng(seed)
    width = rng.uniform(0.4, 0.8)
    laid = chains.accordion(2, width=width, length=rng.uniform(0.2, 0.9), thickness=rng.uniform(0.002, 0.004))
    x, _, z = laid.geometry.axis[0, 0].mean(axis=0)
    t = float(laid.geometry.thickness[0])
    # the corner farthest from the line: the back one, below the line when deployed
    reach = np.array([width - 0.0005, -t - z])
    s = (rng.integers(10, 45) + 0.5) / 100.0
    angle = np.arctan2(reach[1], reach[0]) + np.pi * (1.0 - s)
    return laid, float(np.hypot(*reach)), float(angle), float(x), float(z)


def outer_box(radius: float, angle: float, x: float, z: float) -> np.ndarray:
    """A keep-out box whose corner nearest to the hinge line is at that radius and angle (90..180 degrees)."""
    corner = np.array([x + radius * np.cos(angle), z + radius * np.sin(angle)])
    return np.array([[[corner[0] - 0.05, -0.02, corner[1]], [corner[0], 0.02, corner[1] + 0.05]]])


@pytest.mark.parametrize("seed", PLANTS)
def test_a_collision_between_two_steps_is_caught(seed: int) -> None:
    laid, radius, angle, x, z = passing_corner(seed)
    keep_out = outer_box(radius - 2e-5 - SPARE, angle, x, z)
    course, solids = laid_out(laid, None, keep_out)
    assert not any(meets_at(course, solids, s) for s in np.arange(101) / 100.0), "the plant hides between the steps"
    found = prove_solids(course, solids)
    assert not found.clear and found.least_m < 0.0
    assert meets_at(course, solids, found.s)
    assert "keep-out 0" in found.reason


@pytest.mark.parametrize("seed", PLANTS)
def test_a_pass_with_a_fifth_of_a_millimetre_to_spare_is_accepted(seed: int) -> None:
    laid, radius, angle, x, z = passing_corner(seed)
    found = verdict(laid, None, outer_box(radius + SPARE, angle, x, z))
    assert found.clear, found.reason
    assert SPARE - 1e-12 <= found.least_m <= SPARE / KEPT


@pytest.mark.parametrize("seed", range(10))
def test_a_collision_only_between_fittings_is_caught(seed: int) -> None:
    """A post of the outer strip sweeps past a bracket of the inner one, both beyond the ends of the strips."""
    laid, _, angle, x, z = passing_corner(seed)
    side = float(laid.geometry.outline[0, 0, :, 1].max()) + 0.01
    post = (1, [x + 0.05, side, 0.0], [x + 0.052, side + 0.01, 0.03])
    radius = float(np.hypot(0.052, 0.03 - z))
    for spare, clear in ((SPARE, True), (-SPARE, False)):
        corner = np.array([x + (radius + spare) * np.cos(angle), z + (radius + spare) * np.sin(angle)])
        bracket = (0, [corner[0] - 0.02, side, corner[1]], [corner[0], side + 0.01, corner[1] + 0.02])
        found = verdict(laid, boxes(post, bracket))
        assert found.clear is clear
        if clear:
            assert SPARE - 1e-12 <= found.least_m <= SPARE / KEPT
        else:
            assert found.pair == ("fitting 0 of latch -1 on panel 1", "fitting 1 of latch -1 on panel 0") or (
                "fitting 0" in found.reason and "fitting 1" in found.reason
            )


@pytest.mark.parametrize("seed", range(10))
@pytest.mark.parametrize("deployed", [True, False])
def test_a_collision_only_at_the_end_is_caught(seed: int, deployed: bool) -> None:
    """A box right under the outer strip deployed, or in the face gap under it stowed: it comes down on it last."""
    rng = np.random.default_rng(seed)
    gap, t = 0.004, rng.uniform(0.002, 0.01)
    laid = chains.accordion(2, width=rng.uniform(0.1, 0.6), thickness=t, gap=gap)
    x = float(laid.geometry.axis[0, 0, 0, 0])
    level, side = (-t, 1.0) if deployed else (gap, -1.0)
    for spare, clear in ((SPARE, True), (-SPARE, False)):
        low, high = sorted((x + side * 0.05, x + side * 0.06))
        keep_out = np.array([[[low, -0.02, level - spare - 0.002], [high, 0.02, level - spare]]])
        course, solids = laid_out(laid, None, keep_out)
        found = prove_solids(course, solids)
        assert found.clear is clear, found.reason
        if clear:
            assert SPARE - 1e-12 <= found.least_m <= SPARE / KEPT
        else:
            assert found.s == (1.0 if deployed else 0.0)
            assert not meets_at(course, solids, 0.98 if deployed else 0.02)


def test_the_end_plants_hold_in_the_middle_of_a_path_too() -> None:
    """What one stage leaves touching the next finds: strips folded one after the other."""
    laid = chains.accordion(3, width=0.2, staged=True)
    x = float(laid.geometry.axis[0, 0, 0, 0])
    keep_out = np.array([[[x + 0.05, -0.02, -0.05], [x + 0.06, 0.02, -0.01 + 1e-4]]])
    found = verdict(laid, None, keep_out)
    assert not found.clear


def test_accordions_stars_and_packs_move_freely() -> None:
    for laid in (chains.accordion(9), chains.accordion(5, staged=True), chains.star(), chains.serial(5)):
        found = verdict(laid)
        assert found.clear, found.reason
        near(found.least_m, 0.0005, rel=1e-6, why="the face gap when stowed, less than the edge gap")
        near(found.panel_gap, 0.0005, rel=1e-6)
        assert found.s == 0.0


def test_touching_layers_are_not_apart() -> None:
    found = verdict(chains.accordion(3, gap=0.0))
    assert not found.clear and found.s == 0.0 and "touch" in found.reason


def test_less_than_the_floor_counts_as_contact_only_while_it_cannot_be_proven() -> None:
    found = verdict(chains.accordion(3, gap=FLOOR / 4))
    assert found.clear
    near(found.least_m, FLOOR / 4, rel=1e-6)


def test_a_star_that_rises_at_once_hits_itself() -> None:
    found = verdict(chains.star(staged=False))
    assert not found.clear
    course, solids = laid_out(chains.star(staged=False))
    assert meets_at(course, solids, found.s)


def test_the_deployed_edge_gap_is_the_least_distance_where_it_is_smallest() -> None:
    found = verdict(chains.accordion(4, gap=0.004, edge_gap=0.002))
    near(found.least_m, 0.002, rel=1e-9)
    near(found.panel_gap, 0.004, rel=1e-9)


def test_a_keep_out_box_in_the_root_is_found_without_motion() -> None:
    laid = chains.accordion(2)
    inside = laid.geometry.outline[0, 0].mean(axis=0)
    keep_out = np.array([[[*(inside - 0.01), -0.03], [*(inside + 0.01), -0.005]]])
    assert "panel 0 and keep-out 0 overlap by 5 mm" in verdict(laid, None, keep_out).reason
    keep_out[0, :, 2] = -0.03, -0.02
    assert verdict(laid, None, keep_out).clear


def test_a_lone_panel_has_nothing_to_meet_but_keep_outs() -> None:
    laid = chains.accordion(1)
    found = verdict(laid)
    assert found.clear and found.least_m == np.inf and found.panel_gap == np.inf
    below = np.array([[[-0.05, -0.05, -0.05], [0.05, 0.05, -0.02]]])
    near(verdict(laid, None, below).least_m, 0.01, rel=1e-9)


def test_a_fitting_may_meet_the_panels_of_its_own_joint_only() -> None:
    laid = chains.accordion(4)
    x, y, z = laid.geometry.axis[0, 0].mean(axis=0)
    inner = boxes((0, [x - 0.0005, y - 0.02, -0.01], [x + 0.002, y + 0.02, z]))
    assert "fitting 0" in verdict(laid, inner).reason
    own = replace(inner, hinge=np.array([0]))
    assert verdict(laid, own).clear
    other = replace(inner, hinge=np.array([2]))
    assert "fitting 0 of hinge 2" in verdict(laid, other).reason


def random_structure(seed: int) -> tuple[Course, Solids]:
    """Random plates on a random tree with skew and in-plane hinge lines, thinned until some are free."""
    rng = np.random.default_rng(seed)
    panels = 4
    parent = np.array([-1] + [int(rng.integers(0, p)) for p in range(1, panels)])
    zero = np.zeros(panels - 1, dtype=np.int64)
    stage = rng.integers(0, 2, panels - 1)
    topology = Topology(parent, zero + 1, zero, stage, zero, np.zeros(panels, int), np.zeros(panels, int))
    made = chains.build(thickness=0.01)
    turn = np.sort(rng.uniform(0, 2 * np.pi, (panels, 5)), axis=1)
    plan = 0.15 * np.stack([np.cos(turn), np.sin(turn)], axis=-1) + rng.uniform(-0.8, 0.8, (panels, 1, 2))
    axis = rng.uniform(-1, 1, (1, panels - 1, 2, 3))
    geometry = chains._geometry(made, plan[None], axis, rng.uniform(-2, 2, panels - 1))
    course = Course.of(topology, axis[0], geometry.stowed_angle[0])
    return course, solids_of(topology, geometry, None, NOTHING)


def test_verdicts_on_random_structures_agree_with_fcl() -> None:
    clear = 0
    for seed in range(40):
        course, solids = random_structure(seed)
        found = prove_solids(course, solids)
        if found.clear:
            clear += 1
            for s in np.linspace(0.0, 1.0, 40):
                corners = corners_at(course, solids, s)
                for i, j in np.argwhere(solids.tested):
                    assert not oracle.meet(corners[i], corners[j])
                    assert prism_distance(corners[i], corners[j]) >= KEPT * found.least_m
        else:
            assert meets_at(course, solids, found.s)
    assert 10 < clear < 30, "both verdicts occur"


def test_a_path_told_by_knots_gives_the_verdict_of_its_schedule() -> None:
    for laid in (chains.accordion(6), chains.star()):
        course, solids = laid_out(laid)
        s = np.unique(np.concatenate([course.bounds, np.linspace(0.0, 1.0, 101)]))
        angles = np.stack([np.interp(s, course.bounds, course.angles[:, h]) for h in range(len(course.axis))], axis=1)
        fine = Course.along(laid.topology, laid.geometry.axis[0], s, angles)
        near(fine.placed(np.array([0.123, 0.77])), course.placed(np.array([0.123, 0.77])), abs=1e-12)
        found, whole = prove_solids(fine, solids), prove_solids(course, solids)
        assert found.clear and found.s == whole.s
        near(found.least_m, whole.least_m, rel=1e-9)


def test_a_hinge_that_swings_back_between_the_ends_is_followed() -> None:
    """One angle overshoots its stowed value in the middle of the way: the strip is pressed into its neighbour."""
    laid = chains.accordion(4)
    course, solids = laid_out(laid)
    s = np.linspace(0.0, 1.0, 21)
    for swing, clear in ((0.3, True), (0.5, False)):
        share = np.stack([s - swing * np.sin(np.pi * s), s, s], axis=1)
        bent = Course.along(laid.topology, laid.geometry.axis[0], s, course.angles[0] * (1.0 - share))
        found = prove_solids(bent, solids)
        assert found.clear is clear
        assert clear or meets_at(bent, solids, found.s)


def test_lengths_scale() -> None:
    small = verdict(chains.star(pitch=0.3))
    large = verdict(chains.star(pitch=0.6, thickness=0.02, gap=0.001, edge_gap=0.002))
    near(large.least_m, 2.0 * small.least_m, rel=1e-9)
    assert small.pair == large.pair and small.s == large.s
