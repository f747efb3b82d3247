"""The one place where the motion of a candidate is made: from its schedule, its own angles, or its own poses."""

from collections.abc import Callable

import numpy as np

from synth.core.arrays import Floats
from synth.core.build import Build
from synth.core.design import Design
from synth.core.family import Family
from synth.core.motion import Motion, StageSpan, followed, relative_poses, turns_about
from synth.core.topology import Topology
from synth.fold.course import Course
from synth.fold.path import MOST_FRAMES, frames, schedule
from synth.fold.screws import ScrewCourse
from synth.fold.solids import solids_of
from synth.fold.tree import hinge_parting, poses

INNER = np.array([0.25, 0.5, 0.75])
"""Shares of an interval between frames at which the law is compared with the family's own motion."""
PEAK = 1.1
"""Allowance for what lies between those: what two curves through the same ends part by is a parabola but for its third
order, and a frame's interval is a hundredth or so of the way."""
STILL = 1e-12
"""rad: a hinge that turns less between two frames rests."""


def motion_of(family: Family, build: Build, design: Design) -> Motion:
    """The motion of a batch of one: at most 200 frames, whatever says how it moves.

    A schedule is told by its stage ends, and linear in between exactly. A family's own angles are met at every frame;
    between them hinges turn linearly, and `between` is how far that strays (see `strays`). A family's own poses define
    the motion together with the screws between them; `between` then is how far hinges part beyond their slack.
    """
    stages, stowed = schedule(design.topology), design.geometry.stowed_angle
    s = frames(stages, in_a_stage=48)
    fine = frames(stages, in_a_stage=MOST_FRAMES)
    own = family.angles(build, fine)
    placed = family.poses(build, fine)
    if placed is not None:
        turns = turns_about(design.geometry.axis[0], relative_poses(design.topology, placed[0]))
        angles = followed(turns, stowed[0])
        between = _slack_between(design, fine, placed[0])
        told = spans(design.topology, fine, angles)
        return Motion(fine, angles, placed[0], told, np.arange(len(fine)), True, between)
    if own is None:
        angles = stages.angles_at(stowed, s)
        at = np.searchsorted(s, stages.bounds)
        told = [StageSpan(tuple(stages.hinges(k)), *stages.bounds[k : k + 2].tolist()) for k in range(stages.count)]
        return Motion(s, angles[0], poses(design.topology, design.geometry.axis, angles)[0], told, at, False, 0.0)
    there = poses(design.topology, design.geometry.axis, own)[0]
    between = strays(design, fine, own[0], lambda at: family.angles(build, at))
    return Motion(
        fine, own[0], there, spans(design.topology, fine, own[0]), np.arange(len(fine)), False, PEAK * between
    )


def spans(topology: Topology, s: Floats, angles: Floats) -> list[StageSpan]:
    """Stages by their numbers: each from the first to the last frame between which one of its hinges turns."""
    found = []
    for number in np.unique(topology.stage):
        mine = np.flatnonzero(topology.stage == number)
        turns = np.flatnonzero((np.abs(np.diff(angles[:, mine], axis=0)) > STILL).any(axis=1))
        low, high = (turns[0], turns[-1] + 1) if len(turns) else (0, len(s) - 1)
        found.append(StageSpan(tuple(int(h) for h in mine), float(s[low]), float(s[high])))
    return found


def strays(design: Design, s: Floats, angles: Floats, own: Callable[[Floats], Floats | None]) -> float:
    """m: the greater of how far hinge lines part between frames while angles go linearly, and twice how far any corner
    of a solid is from where the family's own angles put it; two solids come nearer by no more than that.

    Looked at at INNER of every interval. angles [N, H] at frames s [N] of a batch of one.
    """
    share = INNER[None, :, None]
    at = s[:-1, None] + np.diff(s)[:, None] * INNER
    linear = angles[:-1, None] * (1.0 - share) + angles[1:, None] * share
    true = own(at.reshape(-1))
    axis = design.geometry.axis
    here = poses(design.topology, axis, linear.reshape(1, -1, angles.shape[1]))
    there = poses(design.topology, axis, np.asarray(true))
    solids = solids_of(design.topology, design.geometry, design.fittings, np.zeros((0, 2, 3)))
    points, owner = solids.corner_points()
    worst = 0.0
    for panel in range(design.topology.panels):
        off = here[0, :, panel] - there[0, :, panel]
        mine = points[owner == panel]
        moved = np.einsum("sij,nj->sni", off[..., :3], mine) + off[:, None, :, 3]
        worst = max(worst, float(np.linalg.norm(moved, axis=-1).max(initial=0.0)))
    parted = hinge_parting(design.topology, axis, here)
    return max(2.0 * worst, float(parted.max(initial=0.0)))


def _slack_between(design: Design, s: Floats, placed: Floats) -> float:
    """m: how far hinge lines part beyond their slack between frames s [N], poses [N, P, 3, 4], at INNER of each."""
    axis, at = design.geometry.axis, s[:-1, None] + np.diff(s)[:, None] * INNER
    there = ScrewCourse.through(design.topology, axis[0], s, placed).placed(at.reshape(-1))
    found = hinge_parting(design.topology, axis, there[None])[0] - design.geometry.slack[0]
    return float(np.maximum(found, 0.0).max(initial=0.0))


def course_of(design: Design, motion: Motion) -> Course:
    """The motion as the clearance proof reads it."""
    axis, s = design.geometry.axis[0], motion.s[motion.knots]
    if motion.slack:
        return ScrewCourse.through(design.topology, axis, s, motion.poses[motion.knots])
    return Course.along(design.topology, axis, s, motion.angles[motion.knots])


def parting(design: Design, motion: Motion) -> float:
    """m: how far the lines of hinges part at the frames, beyond their slack; of a loop of true hinges what is left
    open."""
    found = hinge_parting(design.topology, design.geometry.axis, motion.poses[None])[0]
    return float(np.maximum(found - design.geometry.slack[0], 0.0).max(initial=0.0))
