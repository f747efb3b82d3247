"""The motion of a candidate: by schedule, by angles that close loops, by poses with slack."""

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from synth.cell import cell_from, space
from synth.core.arrays import Floats
from synth.core.build import Build
from synth.core.design import Design
from synth.core.errors import StowfrontError
from synth.core.family import Family
from synth.core.motion import followed, relative_poses, turns_about
from synth.evaluate import family_of, lay_out, stowed_points
from synth.fold.course import Course
from synth.fold.interference import Clearance, prove
from synth.fold.path import MOST_FRAMES, schedule
from synth.fold.route import course_of, motion_of, parting
from synth.fold.screws import ScrewCourse
from synth.fold.tree import hinge_parting, poses
from synth.verify import less
from tests.near import near
from tests.samples import problem


def laid(family: str, **genes: Any) -> tuple[Family, Build, Design]:
    asked = problem()
    settings = {"build.thickness": 6e-3, "build.edge_gap": 12e-3, "build.hinge": "pin_bearing"}
    cell, row = cell_from(asked, family, {**settings, **{f"{family}.{k}": v for k, v in genes.items()}})
    columns = space(asked, cell).columns(row)
    design, _, build = lay_out(asked, cell, columns)
    assert design.status.ok[0], design.status.reason
    return family_of(cell, columns), build, design.one(0)


class Slipping:
    """Stands for a family whose second panel slips by `slip` along the hinge normal while it opens."""

    def __init__(self, design: Design, slip: float) -> None:
        self.design, self.slip = design, slip

    def angles(self, build: Build, progress: Floats) -> None:
        return None

    def poses(self, build: Build, progress: Floats) -> Floats:
        stages, d = schedule(self.design.topology), self.design
        out = poses(d.topology, d.geometry.axis, stages.angles_at(d.geometry.stowed_angle, progress))
        out[:, :, 1:, 0, 3] += self.slip * np.sin(np.pi * progress)[None, :, None]
        return out


def slipping(slip: float, slack: float) -> tuple[Any, Build, Design]:
    _, build, design = laid("accordion", strips=4)
    g = design.geometry
    design = replace(design, geometry=replace(g, slack=np.full(g.stowed_angle.shape, slack)))
    return Slipping(design, slip), build, design


def test_a_schedule_keeps_its_stage_ends_as_knots() -> None:
    family, build, design = laid("segment_stack", rings=1)
    motion = motion_of(family, build, design)
    stages = schedule(design.topology)
    assert motion.between == 0.0 and not motion.slack
    np.testing.assert_array_equal(motion.s[motion.knots], stages.bounds)
    assert [s.hinges for s in motion.stages] == [tuple(stages.hinges(k)) for k in range(stages.count)]
    course = course_of(design, motion)
    old = Course.of(design.topology, design.geometry.axis[0], design.geometry.stowed_angle[0])
    near(course.placed(motion.s), old.placed(motion.s), abs=1e-12)
    near(course.placed(motion.s), motion.poses, abs=1e-12)
    assert parting(design, motion) < 1e-12


@pytest.mark.parametrize("sector", [60.0, 80.0])
def test_loops_close_at_every_frame_and_part_between_by_no_more_than_told(sector: float) -> None:
    family, build, design = laid("miura", columns=3, rows=3, sector=np.radians(sector))
    motion = motion_of(family, build, design)
    assert len(motion.s) == MOST_FRAMES and len(motion.knots) == MOST_FRAMES
    assert parting(design, motion) < 1e-12
    assert len(motion.stages) == 1 and (motion.stages[0].start, motion.stages[0].end) == (0.0, 1.0)
    # a fine comb between the frames: loops part by no more than told, and by about that
    share = np.linspace(0.0, 1.0, 12)[1:-1, None]
    a, b = motion.angles[:-1, None], motion.angles[1:, None]
    angles = (a * (1.0 - share) + b * share).reshape(1, -1, a.shape[-1])
    parted = hinge_parting(design.topology, design.geometry.axis, poses(design.topology, design.geometry.axis, angles))
    assert 0.3 * motion.between < parted.max() <= motion.between < 40e-6


def test_angles_of_its_own_need_a_bound_on_how_they_bend() -> None:
    family, build, design = laid("miura", columns=2, rows=2, sector=1.2)

    class Unbounded(type(family)):  # type: ignore[misc]
        def bends(self, build: Build, progress: Floats) -> None:
            return None

    columns = {k: getattr(family, k) for k in family.reals()}
    bare = Unbounded.of({k: getattr(family, k) for k in family.fixed()}, columns)
    with pytest.raises(StowfrontError, match="bends"):
        motion_of(bare, build, design)


def test_straying_is_taken_off_the_clearance() -> None:
    clear = Clearance(True, 100e-6, ("a", "b"), 0.3, "", 1.0, 5)
    near(less(clear, 30e-6).least_m, 70e-6, rel=1e-9)
    assert less(clear, 30e-6).clear and less(clear, 94e-6).clear and not less(clear, 96e-6).clear
    assert less(clear, 0.0) is clear and "30 um" in less(clear, 30e-6).method
    assert less(clear, 96e-6).reason


def test_poses_with_slack_are_met_and_their_slack_counts() -> None:
    family, build, design = slipping(0.4e-3, 0.5e-3)
    motion = motion_of(family, build, design)
    assert motion.slack and len(motion.s) == MOST_FRAMES
    course = course_of(design, motion)
    assert isinstance(course, ScrewCourse)
    near(course.placed(motion.s), motion.poses, abs=1e-12)
    assert parting(design, motion) < 1e-12 and motion.between < 1e-12
    near(motion.angles[0], design.geometry.stowed_angle[0], abs=1e-12)
    assert np.abs(motion.angles[-1]).max() < 1e-12
    assert prove(design, course=course).clear
    tight = replace(design, geometry=replace(design.geometry, slack=np.full(design.geometry.stowed_angle.shape, 1e-4)))
    near(parting(tight, motion), 0.4e-3 * np.sin(np.pi * motion.s).max() - 1e-4, rel=1e-9)


def test_a_slip_into_the_neighbour_is_caught() -> None:
    family, build, design = slipping(-40e-3, 40e-3)
    assert not prove(design, course=course_of(design, motion_of(family, build, design))).clear


def test_stowed_poses_of_a_family_fix_the_stowed_size() -> None:
    _, _, design = laid("accordion", strips=4)
    raised = poses(design.topology, design.geometry.axis, design.geometry.stowed_angle[:, None])[:, 0]
    raised[:, 1:, 2, 3] += 0.01
    tall = replace(design, stowed=raised)
    top = [np.ptp(stowed_points(d)[0, :, 2]) for d in (design, tall.take(np.array([0])))]
    near(top[1] - top[0], 0.01, rel=1e-9)


def test_turns_are_read_back_from_poses() -> None:
    _, _, design = laid("accordion", strips=4)
    t, axis = design.topology, design.geometry.axis
    want = np.linspace(1.0, 0.0, 40)[:, None] * np.array([np.pi, -np.pi, 3.0])
    placed = poses(t, axis, want[None])[0]
    got = followed(turns_about(axis[0], relative_poses(t, placed)), want[0])
    near(got, want, abs=1e-12)
