"""Room of motions in loops and with slack: bounds against a fine comb, faces passed when told, keep-outs counted."""

import numpy as np
import pytest

from synth.core.geometry import Geometry
from synth.core.topology import Topology
from synth.families.wrapped_hub import KNOTS, WrappedHub
from synth.fold.course import Course
from synth.fold.interference import prove_solids
from synth.fold.route import course_of, motion_of
from synth.fold.screws import ScrewCourse
from synth.fold.solids import solids_of
from synth.fold.swept import FACES, swept
from synth.fold.walls import Walls, walls_passed
from tests.families.folding import plain_build
from tests.fold import chains
from tests.fold.test_route import laid
from tests.near import near

NOTHING = np.zeros((0, 2, 3))
Moving = tuple[Course, Topology, Geometry]


def structure(kind: str) -> Moving:
    if kind == "loops":
        family, build, design = laid("miura", columns=3, rows=3, sector=1.2)
        return course_of(design, motion_of(family, build, design)), design.topology, design.geometry
    one, s = np.ones(1), np.linspace(0.0, 1.0, KNOTS)
    hub, made = WrappedHub(5, 2, 0, 1.1 * one, 0.5 * one, 0.8 * one), plain_build(1, 5e-3, 10e-3, 1e-3)
    topology, geometry = hub.topology(), hub.geometry(made)
    return ScrewCourse.through(topology, geometry.axis[0], s, hub.poses(made, s)[0]), topology, geometry


@pytest.mark.parametrize("kind", ["loops", "slack"])
def test_room_holds_against_a_fine_comb_and_faces_are_passed_when_told(kind: str) -> None:
    course, topology, geometry = structure(kind)
    solids = solids_of(topology, geometry, None, NOTHING)
    room = swept(course, solids, 2)
    points, owner = solids.corner_points()
    s = np.linspace(0.0, 1.0, 2001)
    pose = course.placed(s)[:, owner]
    there = np.einsum("snij,nj->sni", pose[..., :3], points) + pose[..., 3]
    low, high = there.min(axis=1), there.max(axis=1)
    assert (room.box[0] <= low.min(axis=0)).all() and (room.box[1] >= high.max(axis=0)).all()
    assert np.abs(room.box - [low.min(axis=0), high.max(axis=0)]).max() < 3e-3, "a bound, and not a lavish one"
    assert np.hypot(there[..., 0], there[..., 1]).max() <= room.radius
    np.testing.assert_allclose(room.stowed, [low[0], high[0]], atol=1e-12)
    beyond = np.concatenate([room.stowed[0] - low, high - room.stowed[1]], axis=1) > 1e-6
    assert set(room.leaves) == {face for k, face in enumerate(FACES) if beyond[:, k].any()} and room.leaves
    for k, face in enumerate(FACES):
        if face in room.leaves:
            first = s[beyond[:, k].argmax()]
            # told at stations, two to an interval between frames
            assert first - 5e-4 <= room.leaves[face] <= first + 1.0 / 398.0 + 5e-4


@pytest.mark.parametrize("kind", ["loops", "slack"])
def test_keep_out_boxes_just_outside_and_just_inside_of_the_room(kind: str) -> None:
    """A slab beside the greatest reach in x that the motion has, and one that reaches in by a millimetre."""
    course, topology, geometry = structure(kind)
    room = swept(course, solids_of(topology, geometry, None, NOTHING), 2)
    for off, clear in ((1e-4, True), (-1e-3, False)):
        x = room.box[1, 0] + off if clear else room.reached[1, 0] + off
        slab = np.array([[[x, -2.0, -2.0], [x + 0.05, 2.0, 2.0]]])
        found = prove_solids(course, solids_of(topology, geometry, None, slab, ("wall",)))
        assert found.clear is clear, found.reason
        assert clear or "wall" in found.reason


def test_walls_are_passed_when_the_strip_reaches_them() -> None:
    """A strip turns about one line: its outer edge is r sin(angle) above it, r cos(angle) out from it (elementary)."""
    strips = chains.accordion(2, width=0.3, thickness=0.004)
    course = Course.of(strips.topology, strips.geometry.axis[0], strips.geometry.stowed_angle[0])
    solids = solids_of(strips.topology, strips.geometry, None, NOTHING)
    s = np.linspace(0.0, 1.0, 2001)
    line = strips.geometry.axis[0, 0, 0]
    # the corner that comes first: outer, back
    reach, rest = np.hypot(0.3 - 0.0005, line[2] + 0.004), np.arctan2(-0.004 - line[2], 0.3 - 0.0005)
    top, side = 0.2, line[0] + 0.1
    half = np.array([side, 1.0, top])
    found = walls_passed(s, course.placed(s), solids, Walls(np.eye(3), np.zeros(3), half, False))
    rises = 1.0 - (np.pi - np.arcsin((top - line[2]) / reach) - rest) / np.pi
    near(found["+z"], rises, abs=1e-3, why="a frame")
    out = 1.0 - (np.arccos(0.1 / reach) - rest) / np.pi
    near(found["+x"], out, abs=1e-3, why="a frame")
    assert set(found) == {"+z", "+x", "-x"} and found["-x"] == 0.0, "strips of 300 mm stand out there when stowed"
    can = Walls(np.eye(3), np.zeros(3), np.array([10.0, 10.0, 1.0]), True)
    assert walls_passed(s, course.placed(s), solids, can) == {}
