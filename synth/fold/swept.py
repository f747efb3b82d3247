"""Room that the whole motion needs: the box and the cylinder in the root frame that nothing ever leaves."""

from dataclasses import dataclass, replace

import numpy as np

from synth.core.arrays import Floats, Ints, dot
from synth.fold.course import Course
from synth.fold.solids import Solids
from synth.fold.stage import NO_HINGE

FACES = ("-x", "-y", "-z", "+x", "+y", "+z")


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
    points, owner = solids.corner_points()
    low, high = np.full(3, np.inf), np.full(3, -np.inf)
    reached = np.array([low, high])
    radius = radius_reached = 0.0
    first = course.placed(np.zeros(1))[0]
    at_start = _moved(first[None], owner, points)[0]
    stowed = np.array([at_start.min(axis=0), at_start.max(axis=0)])
    leaves: dict[str, float] = {}
    for k in range(course.stages):
        ends = np.linspace(course.bounds[k], course.bounds[k + 1], in_a_stage + 1)
        middle, half = (ends[:-1] + ends[1:]) / 2.0, (ends[1] - ends[0]) / 2.0
        place, reach = _middle(course, points, owner, middle, k, half)
        low = np.minimum(low, (place - reach).min(axis=(0, 1)))
        high = np.maximum(high, (place + reach).max(axis=(0, 1)))
        stray = np.hypot(reach[..., 0], reach[..., 1])
        radius = max(radius, float((np.hypot(place[..., 0], place[..., 1]) + stray).max()))
        there = _moved(course.placed(ends), owner, points)
        reached = np.array([np.minimum(reached[0], there.min((0, 1))), np.maximum(reached[1], there.max((0, 1)))])
        radius_reached = max(radius_reached, float(np.hypot(there[..., 0], there[..., 1]).max()))
        _passed(there, ends, stowed, leaves)
    return Swept(np.array([low, high]), reached, radius, radius_reached, stowed, leaves)


def _moved(placed: Floats, owner: Ints, points: Floats) -> Floats:
    pose = placed[:, owner]
    return np.asarray(np.einsum("snij,nj->sni", pose[..., :3], points) + pose[..., 3])


def _middle(course: Course, points: Floats, owner: Ints, s: Floats, k: int, half: float) -> tuple[Floats, Floats]:
    """Places [S, M, 3] at the middles s and how far each coordinate may stray from them within half."""
    at = course.at(s, np.full(len(s), k))
    place = _moved(at.placed, owner, points)
    velocity = at.shift[:, owner] + np.cross(at.turn[:, owner], place)
    entry = np.where(course.entry[k, 0, owner] == NO_HINGE, 0, course.entry[k, 0, owner])
    arm = place - at.point[:, entry]
    along = dot(arm, at.way[:, entry])
    square = dot(arm, arm) - np.where(course.parallel[k, 0, owner], along**2, 0.0)
    bend = course.base[k, 0, owner] + course.slope[k, 0, owner] * np.sqrt(np.maximum(square, 0.0))
    return place, np.abs(velocity) * half + 0.5 * half**2 * bend[..., None]


def _passed(there: Floats, s: Floats, stowed: Floats, leaves: dict[str, float]) -> None:
    """Notes the first station at which a corner lies beyond a face of the stowed box by more than a micrometre."""
    beyond = np.concatenate([stowed[0] - there.min(axis=1), there.max(axis=1) - stowed[1]], axis=1) > 1e-6
    for face, name in enumerate(FACES):
        if name not in leaves and beyond[:, face].any():
            leaves[name] = float(s[int(beyond[:, face].argmax())])
