"""The one place where the motion of a candidate is made: from its schedule, its own angles, or its own poses."""

import numpy as np

from synth.core.arrays import Floats
from synth.core.build import Build
from synth.core.design import Design
from synth.core.errors import StowfrontError
from synth.core.family import Family
from synth.core.motion import Motion, StageSpan, followed, relative_poses, turns_about
from synth.core.topology import Topology
from synth.fold.between import slack_used, strays
from synth.fold.course import Course
from synth.fold.path import MOST_FRAMES, frames, schedule
from synth.fold.screws import ScrewCourse
from synth.fold.tree import hinge_parting, poses

STILL = 1e-12
"""rad: a hinge that turns less between two frames rests."""


def motion_of(family: Family, build: Build, design: Design) -> Motion:
    """The motion of a batch of one: at most 200 frames, whatever says how it moves.

    A schedule is told by its stage ends, and linear in between exactly. A family's own angles are met at every frame;
    between them hinges turn linearly, and `between` bounds how far that strays (`between.strays`). A family's own poses
    define the motion together with the screws between them; `between` then bounds how far hinges part beyond their
    slack (`between.slack_used`).
    """
    stages, stowed = schedule(design.topology), design.geometry.stowed_angle
    s = frames(stages, in_a_stage=48)
    fine = frames(stages, in_a_stage=MOST_FRAMES)
    own = family.angles(build, fine)
    placed = family.poses(build, fine)
    if placed is not None:
        turns = turns_about(design.geometry.axis[0], relative_poses(design.topology, placed[0]))
        angles = followed(turns, stowed[0])
        between = slack_used(design, ScrewCourse.through(design.topology, design.geometry.axis[0], fine, placed[0]))
        told = spans(design.topology, fine, angles)
        return Motion(fine, angles, placed[0], told, np.arange(len(fine)), True, between)
    if own is None:
        angles = stages.angles_at(stowed, s)
        at = np.searchsorted(s, stages.bounds)
        told = [StageSpan(tuple(stages.hinges(k)), *stages.bounds[k : k + 2].tolist()) for k in range(stages.count)]
        return Motion(s, angles[0], poses(design.topology, design.geometry.axis, angles)[0], told, at, False, 0.0)
    there = poses(design.topology, design.geometry.axis, own)[0]
    bends = family.bends(build, fine)
    if bends is None:
        raise StowfrontError(f"family {family.name} has angles of its own and no bends: nothing bounds its motion")
    between = strays(design, fine, own[0], there, bends[0])
    return Motion(fine, own[0], there, spans(design.topology, fine, own[0]), np.arange(len(fine)), False, between)


def spans(topology: Topology, s: Floats, angles: Floats) -> list[StageSpan]:
    """Stages by their numbers: each from the first to the last frame between which one of its hinges turns."""
    found = []
    for number in np.unique(topology.stage):
        mine = np.flatnonzero(topology.stage == number)
        turns = np.flatnonzero((np.abs(np.diff(angles[:, mine], axis=0)) > STILL).any(axis=1))
        low, high = (turns[0], turns[-1] + 1) if len(turns) else (0, len(s) - 1)
        found.append(StageSpan(tuple(int(h) for h in mine), float(s[low]), float(s[high])))
    return found


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
