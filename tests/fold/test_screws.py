"""Motions along screws between poses: exact at knots, the same as a tree for true hinges, bounded, proven."""

import numpy as np
import pytest

from synth.core.arrays import compose, identity_poses, turn_about
from synth.core.topology import Topology
from synth.fold.course import Course
from synth.fold.interference import KEPT, prove_solids
from synth.fold.screws import ScrewCourse, along_screw, screw_between
from synth.fold.solids import solids_of
from synth.fold.swept import swept
from tests.fold import chains
from tests.fold.prism_distance import prism_distance
from tests.fold.test_interference import corners_at, meets_at
from tests.fold.test_stage import seen_from, tangled
from tests.near import near

NOTHING = np.zeros((0, 2, 3))


def loose(seed: int, panels: int = 6, knots: int = 6, jump: float = 0.05) -> ScrewCourse:
    """A random tree whose joints turn about skew lines and slip as they go, deployed at the end."""
    rng = np.random.default_rng(seed)
    parent = np.array([-1] + [int(rng.integers(0, p)) for p in range(1, panels)])
    zero = np.zeros(panels - 1, dtype=np.int64)
    topology = Topology(parent, zero + 1, zero, zero, zero, np.zeros(panels, int), np.zeros(panels, int))
    axis = rng.uniform(-1, 1, (panels - 1, 2, 3))
    share = np.linspace(1.0, 0.0, knots)[:, None]
    angles = share * rng.uniform(-2, 2, panels - 1)
    turns = turn_about(axis[None, :, 0], axis[None, :, 1], angles)
    w, v = rng.uniform(-jump, jump, (2, knots, panels - 1, 3)) * (share > 0.0)[..., None]
    v[:, 0] = w[:, 0] = 0.0  # one true hinge among them
    joints = compose(along_screw(w, v), turns)
    poses = identity_poses(knots, panels)
    for panel in range(1, panels):
        poses[:, panel] = compose(poses[:, parent[panel]], joints[:, panel - 1])
    return ScrewCourse.through(topology, axis, np.linspace(0.0, 1.0, knots), poses)


@pytest.mark.parametrize("size", [1e-9, 1e-4, 0.9e-3, 1.1e-3, 0.3, 2.9])
def test_screws_lead_from_pose_to_pose(size: float) -> None:
    rng = np.random.default_rng(1)
    start = along_screw(rng.normal(size=(20, 3)), rng.normal(size=(20, 3)))
    w = rng.normal(size=(20, 3))
    w *= size / np.linalg.norm(w, axis=1, keepdims=True)
    v = rng.normal(size=(20, 3))
    end = compose(along_screw(w, v), start)
    near(np.linalg.det(end[..., :3]), 1.0, abs=1e-12)
    found = screw_between(start, end)
    near(found[0], w, abs=3e-15 + 1e-11 * size, why="rounding")
    near(found[1], v, abs=1e-9, why="rounding")
    near(compose(along_screw(*found), start), end, abs=1e-12)


def test_true_hinges_turn_as_in_a_tree() -> None:
    tree = tangled(3)
    s = np.linspace(0.0, 1.0, 9)
    course = ScrewCourse.through(tree.topology, tree.axis, s, tree.placed(s))
    assert isinstance(course, Course) and not course.hinged
    at = np.array([0.03, 0.31, 0.5, 0.77, 0.99])
    near(course.placed(at), tree.placed(at), abs=1e-11, why="rounding")


@pytest.mark.parametrize("seed", range(4))
def test_nothing_bends_its_way_harder_than_the_bound(seed: int) -> None:
    course = loose(seed, jump=0.4 if seed % 2 else 0.02)
    h, rng = 1e-4, np.random.default_rng(seed)
    panels, moved = course.topology.panels, 0
    for k in range(course.stages):
        a, b = course.bounds[k], course.bounds[k + 1]
        s = a + (b - a) * rng.uniform(0.02, 0.98, 12)
        at = course.at(s, np.full(12, k))
        for first in range(panels):
            for second in range(panels):
                ones = np.ones(12, dtype=np.int64)
                m = course.motion(at, np.arange(12), first * ones, second * ones, k * ones, np.ones(12))
                point = rng.uniform(-1, 1, 3)
                here = seen_from(course, first, second, point, s)
                velocity, bend = m.bounds(here.T)
                ahead, behind = (seen_from(course, first, second, point, s + d) for d in (h, -h))
                assert np.abs(velocity.T - (ahead - behind) / (2 * h)).max() < 1e-5 * (1.0 + np.abs(velocity).max())
                found = np.linalg.norm(ahead - 2 * here + behind, axis=1) / h**2
                assert np.all(found <= 2.0 * bend * (1 + 1e-5) + 1e-4)
                moved += int((found > 1e-2).any())
    assert moved > 10


@pytest.mark.parametrize("slip", [0.0, 0.3e-3, 0.8e-3])
def test_verdicts_agree_with_sampling(slip: float) -> None:
    """Strips of an accordion 0.5 mm apart that slip along z while they open: more than the gap, and they meet."""
    laid = chains.accordion(4)
    tree = Course.of(laid.topology, laid.geometry.axis[0], laid.geometry.stowed_angle[0])
    s = np.linspace(0.0, 1.0, 41)
    poses = tree.placed(s).copy()
    # the second strip lies on the first: pressed down by `slip` while both are still nearly stowed
    poses[:, 1, 2, 3] -= slip * np.sin(np.pi * np.minimum(s / 0.1, 1.0)) ** 2
    course = ScrewCourse.through(laid.topology, laid.geometry.axis[0], s, poses)
    solids = solids_of(laid.topology, laid.geometry, None, NOTHING)
    found = prove_solids(course, solids)
    at = np.linspace(0.0, 1.0, 201)
    if found.clear:
        for x in at:
            corners = corners_at(course, solids, x)
            for i, j in np.argwhere(solids.tested):
                assert prism_distance(corners[i], corners[j]) >= KEPT * found.least_m
    else:
        assert meets_at(course, solids, found.s)
    assert found.clear == (not any(meets_at(course, solids, x) for x in at))
    assert found.clear is (slip < 0.5e-3)


def test_room_of_screws_encloses_what_is_sampled() -> None:
    laid = chains.accordion(3)
    tree = Course.of(laid.topology, laid.geometry.axis[0], laid.geometry.stowed_angle[0])
    s = np.linspace(0.0, 1.0, 31)
    solids = solids_of(laid.topology, laid.geometry, None, NOTHING)
    course = ScrewCourse.through(laid.topology, laid.geometry.axis[0], s, tree.placed(s))
    whole, found = swept(tree, solids), swept(course, solids, 6)
    near(found.box, whole.box, abs=2e-3, rel=2e-3)
    assert np.all(found.box[0] <= whole.reached[0] + 1e-9) and np.all(found.box[1] >= whole.reached[1] - 1e-9)
