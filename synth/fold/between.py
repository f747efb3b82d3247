"""Bounds, proven and not sampled, on what happens between two frames of a motion.

Motions in loops: the law turns every tree hinge linearly from frame to frame, the closed motion of the family does
not. Both have the same angles at the frames, so that the angle of hinge k differs by d_k <= B_k w^2 / 8 inside an
interval of length w, B_k a bound on its second derivative (error of linear interpolation, elementary), which the
family gives (`Family.bends`). Changing the angles of a chain one by one, the last first, moves a point of its last
panel by no more than sum_k d_k R_k, R_k its greatest distance from the line of hinge k (triangle inequality). That
distance is known at both frames; between them it changes no faster than the hinges beyond k carry the point:

    R_k <= max(R_k at the two frames) + sum_(m beyond k) (|rate_m| w / 2 + d_m) R_m      (own derivation)

Motions with slack: the law is the motion. How far the two leaves of a slack hinge part is an offset f between two
points; over an interval of length w it stays below max(|f| at both ends) + A w^2 / 8, A the bound on relative
acceleration of the clearance proof (see stage). Intervals are halved until that is within the slack.
"""

import numpy as np

from synth.core.arrays import Bools, Floats, Ints, dot, transform, unit
from synth.core.design import Design
from synth.fold.course import Course
from synth.fold.solids import solids_of
from synth.fold.stage import NO_HINGE

FINE = 0.1e-6
"""m: partings are bounded no closer than this."""
NOTHING = np.zeros((0, 2, 3))


def strays(design: Design, s: Floats, angles: Floats, placed: Floats, bends: Floats) -> float:
    """m: by how much, at most, two solids come nearer between frames than the law says, and hinge lines of loops part.

    One candidate: angles [N, H] and placed [N, P, 3, 4] at frames s [N]; bends [N - 1, H] at least |d2 angle / ds2| of
    the family's own closed motion between them (rad). Twice the greatest stray of any corner of a solid, or end of a
    loop-closing hinge line, from its place under the law.
    """
    topology, axis = design.topology, design.geometry.axis[0]
    tree, step = topology.panels - 1, np.diff(s)[:, None]
    off = bends[:, :tree] * step**2 / 8.0
    spread = 0.5 * np.abs(np.diff(angles[:, :tree], axis=0)) + off
    lines = transform(placed[:, topology.parent[1:]], np.broadcast_to(axis[:tree], (len(s), tree, 2, 3)))
    points, owner = solids_of(topology, design.geometry, design.fittings, NOTHING).outer_points()
    worst = 0.0
    for panel in range(1, topology.panels):
        ends = axis[tree:][(topology.hinges[tree:] == panel).any(axis=1)].reshape(-1, 3)
        mine = np.concatenate([points[owner == panel], ends])
        there = transform(placed[:, panel], np.broadcast_to(mine, (len(s), *mine.shape)))
        moved = np.zeros((len(s) - 1, len(mine)))
        beyond = np.zeros_like(moved)
        at = panel
        while at:
            reach = _from_line(there, lines[:, at - 1])
            reach = np.maximum(reach[:-1], reach[1:]) + beyond
            moved += off[:, at - 1, None] * reach
            beyond += spread[:, at - 1, None] * reach
            at = int(topology.parent[at])
        worst = max(worst, float(moved.max(initial=0.0)))
    return 2.0 * worst


def _from_line(points: Floats, line: Floats) -> Floats:
    """Distances [S, N] of points [S, N, 3] from lines [S, 2, 3]."""
    arm, way = points - line[:, None, 0], unit(line[:, 1] - line[:, 0])
    across = arm - dot(arm, np.broadcast_to(way[:, None], arm.shape))[..., None] * way[:, None]
    return np.asarray(np.linalg.norm(across, axis=-1))


def slack_used(design: Design, course: Course) -> float:
    """m: how far hinge lines part at most beyond their slack, anywhere on the way; 0 where no slack is exceeded.

    True hinges of the tree keep their lines: between two turns about one line the screw is a turn about it.
    """
    topology, slack = design.topology, design.geometry.slack[0]
    wanted = np.flatnonzero((slack > 0.0) | (np.arange(len(slack)) >= topology.panels - 1))
    if not len(wanted):
        return 0.0
    stage, hinge = (x.reshape(-1) for x in np.meshgrid(np.arange(course.stages), wanted, indexing="ij"))
    low, high = course.bounds[stage], course.bounds[stage + 1]
    bend = _bend(design, course, stage, hinge)
    worst = 0.0
    while len(hinge):
        parted = np.maximum(_parted(design, course, low, hinge), _parted(design, course, high, hinge))
        more = bend * (high - low) ** 2 / 8.0
        excess = parted + more - slack[hinge]
        fine: Bools = (excess <= 0.0) | (more <= FINE)
        worst = max(worst, float(excess[fine].max(initial=0.0)))
        low, high, bend = low[~fine], high[~fine], np.tile(bend[~fine], 2)
        middle = (low + high) / 2.0
        low, high = np.concatenate([low, middle]), np.concatenate([middle, high])
        hinge = np.tile(hinge[~fine], 2)
    return worst


def _parted(design: Design, course: Course, s: Floats, hinge: Ints) -> Floats:
    """Greatest distance [n] between the ends of hinge lines [n] as their two panels carry them at s [n]."""
    at, number = np.unique(s, return_inverse=True)
    placed = course.placed(at)
    first, second = design.topology.hinges[hinge].T
    ends = design.geometry.axis[0, hinge]
    apart = transform(placed[number, first], ends) - transform(placed[number, second], ends)
    return np.asarray(np.linalg.norm(apart, axis=-1).max(axis=-1))


def _bend(design: Design, course: Course, stage: Ints, hinge: Ints) -> Floats:
    """Bound [n] on the acceleration of the ends of hinge lines on their second panel, seen from the first, in stages
    [n]: base + slope times the distance from the middle of the entry line, which moves with the second panel."""
    first, second = design.topology.hinges[hinge].T
    entry = course.entry[stage, first, second]
    at = course.at(course.bounds[:-1], np.arange(course.stages))
    ends = transform(at.placed[stage, second], design.geometry.axis[0, hinge])
    centre = at.point[stage, np.maximum(entry, 0)]
    arm = np.linalg.norm(ends - centre[:, None], axis=-1).max(axis=-1)
    bend = course.base[stage, first, second] + course.slope[stage, first, second] * arm
    return np.where(entry == NO_HINGE, 0.0, bend)
