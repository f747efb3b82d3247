"""Room that the whole motion needs: the box and the cylinder in the root frame that nothing ever leaves."""

from dataclasses import dataclass, replace

import numpy as np

from synth.core.arrays import Floats, Ints, dot
from synth.fold.course import Course
from synth.fold.solids import Solids

FACES = ("-x", "-y", "-z", "+x", "+y", "+z")
PASSED = 1e-6
"""m beyond a face from which it counts as passed."""
AT_ONCE = 20_000
"""Corners times stations worked at once."""


@dataclass(frozen=True, eq=False)
class Swept:
    """Room of one candidate, root frame, m.

    box [2, 3]: least and greatest corner that enclose all solids at every s; reached [2, 3]: what was reached at the
    stations, so the true box lies between the two. radius, radius_reached: the same for a cylinder about the optical
    axis. stowed [2, 3]: the box of the solids at s = 0. leaves: for each of its faces that is passed, the s where a
    station first finds a corner beyond it.
    """

    box: Floats
    reached: Floats
    radius: float
    radius_reached: float
    stowed: Floats
    leaves: dict[str, float]

    def wider(self, by: float) -> "Swept":
        """The enclosing box and cylinder with `by` (m) added all round."""
        box = self.box + np.array([[-by], [by]])
        return replace(self, box=box, radius=self.radius + by)


def swept(course: Course, solids: Solids, in_a_stage: int = 60) -> Swept:
    """Swept room of one candidate from `in_a_stage` intervals a stage.

    A corner with place y and velocity v in the middle of an interval of half width D stays
    within |v| D + a D^2 / 2 of y along every axis, a as of stage.Parts: the enclosing box
    is an upper bound, the reached one a lower bound, apart by the order of D.
    """
    points, owner = solids.outer_points()
    at_start = _moved(course.placed(np.zeros(1)), owner, points)[0]
    stowed = np.array([at_start.min(axis=0), at_start.max(axis=0)])
    ends = np.linspace(course.bounds[:-1], course.bounds[1:], in_a_stage + 1, axis=1)
    middle, half = ((ends[:, :-1] + ends[:, 1:]) / 2.0).reshape(-1), (ends[:, 1] - ends[:, 0]) / 2.0
    stage = np.repeat(np.arange(course.stages), in_a_stage)
    box, radius = [], []
    for part in _blocks(len(middle), len(points)):
        place, reach = _middle(course, points, owner, middle[part], stage[part], half[stage[part]])
        stray = np.hypot(reach[..., 0], reach[..., 1])
        box.append([(place - reach).min(axis=(0, 1)), (place + reach).max(axis=(0, 1))])
        radius.append((np.hypot(place[..., 0], place[..., 1]) + stray).max())
    stations = np.unique(ends)
    low, high, out = [], [], []
    for part in _blocks(len(stations), len(points)):
        there = _moved(course.placed(stations[part]), owner, points)
        low.append(there.min(axis=1))
        high.append(there.max(axis=1))
        out.append(np.hypot(there[..., 0], there[..., 1]).max())
    lowest, highest = np.concatenate(low), np.concatenate(high)
    walls = np.array(box)
    return Swept(
        box=np.array([walls[:, 0].min(axis=0), walls[:, 1].max(axis=0)]),
        reached=np.array([lowest.min(axis=0), highest.max(axis=0)]),
        radius=float(max(radius)),
        radius_reached=float(max(out)),
        stowed=stowed,
        leaves=_passed(lowest, highest, stations, stowed),
    )


def _blocks(stations: int, points: int) -> list[slice]:
    """Stations a few at a time, so that tables stay in cache."""
    at_once = max(1, AT_ONCE // max(points, 1))
    return [slice(k, k + at_once) for k in range(0, stations, at_once)]


def _moved(placed: Floats, owner: Ints, points: Floats) -> Floats:
    pose = placed[:, owner]
    return np.asarray(np.einsum("snij,nj->sni", pose[..., :3], points) + pose[..., 3])


def _middle(course: Course, points: Floats, owner: Ints, s: Floats, stage: Ints, half: Floats) -> tuple[Floats, Floats]:
    """Places [S, M, 3] at the middles s in stages [S], and how far each coordinate may stray within half [S]."""
    at, k, row = course.at(s, stage), stage[:, None], np.arange(len(s))[:, None]
    place = _moved(at.placed, owner, points)
    velocity = at.shift[:, owner] + np.cross(at.turn[:, owner], place)
    entry = np.maximum(course.entry[k, 0, owner], 0)
    arm = place - at.point[row, entry]
    along = dot(arm, at.way[row, entry])
    square = dot(arm, arm) - np.where(course.parallel[k, 0, owner], along**2, 0.0)
    bend = course.base[k, 0, owner] + course.slope[k, 0, owner] * np.sqrt(np.maximum(square, 0.0))
    by = half[:, None, None]
    return place, np.abs(velocity) * by + 0.5 * by**2 * bend[..., None]


def _passed(low: Floats, high: Floats, s: Floats, stowed: Floats) -> dict[str, float]:
    """The first station at which a corner lies beyond each face of the stowed box by more than a micrometre, first
    passed first; low, high [S, 3]: reach of all corners at stations s."""
    beyond = np.concatenate([stowed[0] - low, high - stowed[1]], axis=1) > PASSED
    first = beyond.argmax(axis=0)
    order = [int(face) for face in np.argsort(first, kind="stable") if beyond[:, face].any()]
    return {FACES[face]: float(s[first[face]]) for face in order}
