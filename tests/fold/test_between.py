"""What happens between frames stays within the bounds told: against fine combs and a closed form."""

from dataclasses import replace

import numpy as np
import pytest

from synth.core.arrays import transform
from synth.core.design import Design
from synth.fold.between import FINE, slack_used, strays
from synth.fold.route import course_of, motion_of
from synth.fold.screws import ScrewCourse
from synth.fold.tree import hinge_parting, poses
from tests.fold.test_route import laid, slipping
from tests.near import near


def comb(s: np.ndarray, teeth: int) -> tuple[np.ndarray, np.ndarray]:
    """Stations [N (teeth)] between frames s, and their shares [teeth, 1] of each interval."""
    share = np.linspace(0.0, 1.0, teeth + 2)[1:-1]
    return (s[:-1, None] + np.diff(s)[:, None] * share).reshape(-1), share[:, None]


@pytest.mark.parametrize(("sector", "columns", "rows"), [(60.0, 3, 3), (75.0, 4, 3), (80.0, 3, 3)])
def test_corners_of_a_sheet_in_loops_stray_by_no_more_than_told(sector: float, columns: int, rows: int) -> None:
    family, build, design = laid("miura", columns=columns, rows=rows, sector=np.radians(sector))
    motion = motion_of(family, build, design)
    at, share = comb(motion.s, 10)
    a, b = motion.angles[:-1, None], motion.angles[1:, None]
    linear = (a * (1.0 - share) + b * share).reshape(1, -1, a.shape[-1])
    own = family.angles(build, at)
    assert own is not None
    axis, corners = design.geometry.axis, design.geometry.corners[0]
    here, there = (poses(design.topology, axis, x)[0] for x in (linear, own))
    off = [transform(here[:, p], corners[p]) - transform(there[:, p], corners[p]) for p in range(columns * rows)]
    worst = 2.0 * float(np.linalg.norm(np.stack(off), axis=-1).max())
    # a bound, and not a lavish one
    assert 0.4 * motion.between < worst <= motion.between


def test_one_hinge_that_bends_strays_by_the_closed_form() -> None:
    """A strip that turns by pi (1 - s)^2: at mid-interval its law is pi w^2 / 4 off, times the strip's reach."""
    _, _, design = laid("accordion", strips=2)
    s = np.linspace(0.0, 1.0, 101)
    angles = np.pi * (1.0 - s[:, None]) ** 2 * np.sign(design.geometry.stowed_angle[0])
    placed = poses(design.topology, design.geometry.axis, angles[None])[0]
    bare = replace(design, fittings=None)
    told = strays(bare, s, angles, placed, np.full((100, 1), 2.0 * np.pi))
    line, corners = design.geometry.axis[0, 0], design.geometry.corners[0, 1]
    reach = np.hypot(corners[:, 0] - line[0, 0], corners[:, 2] - line[0, 2]).max()
    near(told, 2.0 * reach * np.pi * 0.01**2 / 4.0, rel=1e-9)


def test_straying_falls_with_the_square_of_the_step() -> None:
    family, build, design = laid("miura", columns=3, rows=3, sector=np.radians(70.0))
    found = []
    for count in (100, 200):
        s = np.linspace(0.0, 1.0, count)
        own, bends = family.angles(build, s), family.bends(build, s)
        assert own is not None and bends is not None
        placed = poses(design.topology, design.geometry.axis, own)[0]
        found.append(strays(design, s, own[0], placed, bends[0]))
    assert found[0] / found[1] == pytest.approx((199.0 / 99.0) ** 2, rel=0.02), (
        "reaches over an interval of first order"
    )


def tightened(design: Design, slack: float) -> Design:
    return replace(design, geometry=replace(design.geometry, slack=np.full(design.geometry.stowed_angle.shape, slack)))


def test_slack_that_suffices_is_proven_and_what_lacks_is_told() -> None:
    family, build, design = slipping(0.4e-3, 0.5e-3)
    course = course_of(design, motion_of(family, build, design))
    fine = np.linspace(0.0, 1.0, 4001)
    parted = hinge_parting(design.topology, design.geometry.axis, course.placed(fine)[None])[0].max()
    assert slack_used(design, course) == 0.0
    assert slack_used(tightened(design, parted + 2.0 * FINE), course) == 0.0
    lacking = slack_used(tightened(design, parted - 50e-6), course)
    assert 50e-6 <= lacking <= 50e-6 + 2.0 * FINE


def test_leaves_that_turn_about_a_line_beside_their_own_part_by_the_chord() -> None:
    """A point r from the line of the turn is 2 r sin(a / 2) from home at a turn of a (elementary)."""
    _, _, design = laid("accordion", strips=2)
    line = design.geometry.axis.copy()
    line[..., 0] += 0.02
    angles = np.array([[1.0], [-1.0]]) * 0.05
    beside = poses(design.topology, line, angles[None])[0]
    s = np.array([0.0, 1.0])
    moved = replace(design, geometry=replace(design.geometry, slack=np.array([[1e-3]])))
    course = ScrewCourse.through(design.topology, design.geometry.axis[0], s, beside)
    near(hinge_parting(design.topology, design.geometry.axis, course.placed(np.array([0.0, 0.5, 1.0]))[None])[0, :, 0],
         [0.04 * np.sin(0.025), 0.0, 0.04 * np.sin(0.025)], abs=1e-12, rel=1e-9)  # fmt: skip
    near(slack_used(replace(moved, geometry=replace(moved.geometry, slack=np.array([[0.8e-3]]))), course),
         0.04 * np.sin(0.025) - 0.8e-3, rel=8e-4)  # fmt: skip
