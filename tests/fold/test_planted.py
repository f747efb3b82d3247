"""Planted collisions in loops of hinges and in motions with slack: caught between steps, between fittings, at the end.

Every plant stands beyond a supporting plane of all that moves. At the extreme of the motion along a direction n one
corner comes farthest; an upright box whose own corner lies `spare` beyond that one, and which opens away from it, is
exactly that far from everything, on the whole way. Moved in by a depth it is met, and only while something is within
that depth of the plane: at no one-per-cent step where all steps stay behind it (elementary).
"""

from dataclasses import dataclass, replace
from functools import cache

import numpy as np
import pytest

from synth.core.arrays import unit
from synth.core.fittings import NO_JOINT, Fittings
from synth.core.geometry import Geometry
from synth.core.topology import Topology
from synth.fold.course import Course
from synth.fold.interference import KEPT, Clearance, prove_solids
from synth.fold.route import course_of, motion_of
from synth.fold.screws import ScrewCourse
from synth.fold.solids import Solids, solids_of
from synth.fold.tree import poses
from synth.verify import less
from tests.fold import oracle
from tests.fold.test_interference import corners_at
from tests.fold.test_route import laid

SPARE, SIZE = 0.2e-3, 0.03
NOTHING = np.zeros((0, 2, 3))
STEPS = np.arange(101) / 100.0
LOOSE = np.array([NO_JOINT, NO_JOINT])


@dataclass(frozen=True, eq=False)
class Moving:
    """A structure under way. between: m, what its closed motion strays from the law of the course."""

    course: Course
    topology: Topology
    geometry: Geometry
    between: float

    def solids(self, keep_out: np.ndarray = NOTHING, fittings: Fittings | None = None) -> Solids:
        return solids_of(self.topology, self.geometry, fittings, keep_out)

    def corners(self, solids: Solids, s: np.ndarray) -> np.ndarray:
        """Places [S, N, 3] of all corners at s."""
        points, owner = solids.corner_points()
        pose = self.course.placed(s)[:, owner]
        return np.einsum("snij,nj->sni", pose[..., :3], points) + pose[..., 3]


@cache
def moving(kind: str) -> Moving:
    if kind == "loops":
        family, build, design = laid("miura", columns=2, rows=2, sector=1.2)
        motion = motion_of(family, build, design)
        return Moving(course_of(design, motion), design.topology, design.geometry, motion.between)
    _, _, design = laid("accordion", strips=4)
    s = np.linspace(0.0, 1.0, 201)
    # hurried: all the turn in the middle of the way, so that something happens between two steps
    share = np.clip((s - 0.3) / 0.4, 0.0, 1.0) if kind == "slack, hurried" else s
    placed = poses(
        design.topology, design.geometry.axis, design.geometry.stowed_angle[:, None] * (1.0 - share)[:, None]
    )
    placed[:, :, 1:, 0, 3] += 0.4e-3 * np.sin(np.pi * share)[None, :, None]
    course = ScrewCourse.through(design.topology, design.geometry.axis[0], s, placed[0])
    return Moving(course, design.topology, design.geometry, 0.0)


@dataclass(frozen=True, eq=False)
class Extreme:
    """Where all that moves reaches farthest along n: at s, the corner `place`. drop: m by which it stays behind that at
    every one-per-cent step (but for the end itself)."""

    n: np.ndarray
    s: float
    place: np.ndarray
    drop: float


COARSE = np.linspace(0.0, 1.0, 501)


def extreme(body: Moving, solids: Solids, coarse: np.ndarray, n: np.ndarray, at_end: bool) -> Extreme | None:
    """The extreme along n, if it lies at an end of the way, or well between two steps, as wanted.

    coarse [501, N, 3]: all corners at COARSE; every fifth of them is a one-per-cent step.
    """
    reach = (coarse @ n).max(axis=1)
    k = int(reach.argmax())
    if (COARSE[k] in (0.0, 1.0)) is not at_end or (k % 5 == 0) is not at_end:
        return None
    fine = COARSE[k : k + 1] if at_end else np.linspace(COARSE[k - 1], COARSE[k + 1], 201)
    there = body.corners(solids, fine)
    best, corner = np.unravel_index(int((there @ n).argmax()), there.shape[:2])
    steps = np.delete(reach[::5], k // 5) if at_end else reach[::5]
    drop = float(there[best, corner] @ n - steps.max())
    return Extreme(n, float(fine[best]), there[best, corner], drop) if drop > 60e-6 else None


def found_extreme(body: Moving, seed: int, at_end: bool = False) -> Extreme:
    rng, solids = np.random.default_rng(seed), body.solids()
    coarse = without_plants(body)
    while True:
        got = extreme(body, solids, coarse, unit(rng.normal(size=3)), at_end)
        if got is not None:
            return got


@cache
def without_plants(body: Moving) -> np.ndarray:
    """All corners of the structure without plants at COARSE."""
    return body.corners(body.solids(), COARSE)


def box_beyond(at: Extreme, spare: float) -> np.ndarray:
    """Least and greatest corner [2, 3] of the plant."""
    corner = at.place + spare * at.n
    return np.sort(np.stack([corner, corner + np.where(at.n < 0.0, -SIZE, SIZE)]), axis=0)


def judged(body: Moving, solids: Solids, plants: list[int]) -> Clearance:
    """The proof for the pairs of the plants alone (the structure itself is proven elsewhere), straying taken off."""
    mine = np.isin(np.arange(solids.count), plants)
    only = replace(solids, tested=solids.tested & (mine[:, None] | mine[None, :]))
    return less(prove_solids(body.course, only), body.between)


def depth_of(at: Extreme) -> float:
    return min(0.6 * at.drop, 1e-3)


def meets(body: Moving, solids: Solids, plant: int, s: float) -> bool:
    """By fcl, the plant against all that it may not meet."""
    corners = corners_at(body.course, solids, s)
    both = solids.tested | solids.tested.T
    return any(oracle.meet(corners[plant], corners[j]) for j in np.flatnonzero(both[plant]))


@pytest.mark.parametrize("seed", range(15))
@pytest.mark.parametrize("kind", ["loops", "slack, hurried"])
def test_a_collision_between_two_steps_is_caught_and_a_close_pass_accepted(kind: str, seed: int) -> None:
    body = moving(kind)
    at = found_extreme(body, seed)
    for spare in (SPARE, -depth_of(at)):
        solids = body.solids(box_beyond(at, spare)[None])
        plant = solids.count - 1
        found = judged(body, solids, [plant])
        if spare > 0.0:
            assert found.clear, found.reason
            assert SPARE - 1e-12 <= found.least_m + body.between <= SPARE / KEPT + 1e-9
        else:
            assert not any(meets(body, solids, plant, s) for s in STEPS[np.abs(STEPS - at.s) < 0.03])
            assert not found.clear and "keep-out 0" in found.reason
            assert meets(body, solids, plant, found.s) and abs(found.s - at.s) < 0.01


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("kind", ["loops", "slack, hurried"])
def test_a_collision_only_between_fittings_is_caught(kind: str, seed: int) -> None:
    """A post on a panel that moves, a bracket on the root: the post alone reaches the plane."""
    body, rng = moving(kind), np.random.default_rng(100 + seed)
    while True:
        panel = int(rng.integers(1, body.topology.panels))
        x, y = body.geometry.outline[0, panel].mean(axis=0)
        plan = np.array(
            [[x - 0.003, y - 0.003], [x + 0.003, y - 0.003], [x + 0.003, y + 0.003], [x - 0.003, y + 0.003]]
        )
        tall = Fittings(np.array([panel]), LOOSE[:1], LOOSE[:1], plan[None, None], *np.array([[[0.0]], [[0.4]]]),
                        np.zeros((1, 1)))  # fmt: skip
        n = unit(rng.normal(size=3))
        posted = body.solids(fittings=tall)
        at = extreme(body, posted, body.corners(posted, COARSE), n, at_end=False)
        if at is not None and (without_plants(body) @ n).max() < n @ at.place - 5e-3:
            break
    for spare in (SPARE, -depth_of(at)):
        low, high = box_beyond(at, spare)
        bracket = np.array([[low[0], low[1]], [high[0], low[1]], [high[0], high[1]], [low[0], high[1]]])
        both = Fittings(np.array([panel, 0]), LOOSE, LOOSE, np.stack([plan, bracket])[None],
                        np.array([[0.0, low[2]]]), np.array([[0.4, high[2]]]), np.zeros((1, 2)))  # fmt: skip
        solids = body.solids(fittings=both)
        found = judged(body, solids, [solids.count - 1])
        if spare > 0.0:
            assert found.clear, found.reason
            assert SPARE - 1e-12 <= found.least_m + body.between <= SPARE / KEPT + 1e-9
        else:
            assert not found.clear and "fitting 0" in found.reason and "fitting 1" in found.reason
            assert meets(body, solids, solids.count - 1, found.s)


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("kind", ["loops", "slack"])
def test_a_collision_only_at_the_end_is_caught(kind: str, seed: int) -> None:
    body = moving(kind)
    at = found_extreme(body, 200 + seed, at_end=True)
    assert at.s in (0.0, 1.0)
    for spare in (SPARE, -depth_of(at)):
        solids = body.solids(box_beyond(at, spare)[None])
        found = judged(body, solids, [solids.count - 1])
        if spare > 0.0:
            assert found.clear, found.reason
            assert SPARE - 1e-12 <= found.least_m + body.between <= SPARE / KEPT + 1e-9
        else:
            assert not found.clear and found.s == at.s
            assert not meets(body, solids, solids.count - 1, 0.01 if at.s == 0.0 else 0.99)
