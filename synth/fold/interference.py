"""Proof that no two solids of a candidate meet anywhere on the way, or where they do.

For every pair that may not meet, and every stage in which the two move against each
other, the interval of s is halved until a separating direction holds over the whole of
it (see separation), or the solids are found to overlap, or nothing moves by more than
FLOOR any more: that counts as contact. Pairs that turn about one line are first sifted
by cylinder coordinates (see sectors), others by a box round each body. Nothing is
sampled: what is told clear is clear at every s.
"""

from dataclasses import dataclass

import numpy as np

from synth.core.arrays import Bools, Floats
from synth.core.design import Design
from synth.fold.bodies import bodies_of
from synth.fold.course import Course
from synth.fold.intervals import NONE, QUICK, Items, Verdict, examine
from synth.fold.sectors import Ranges
from synth.fold.seeds import near_pairs, panel_pairs, seeds_of
from synth.fold.separation import ROUNDING
from synth.fold.solids import Solids, solids_of

FLOOR = 20e-6
"""m: solids that cannot be proven apart while none of them moves farther than this are in contact."""
OPEN_UP = 2e-3
"""m of motion below which a pair of bodies not yet proven is opened into its solids."""
FIRST_CUT, MANY_STAGES = 4, 32
"""Pieces into which a stage is cut before the halving begins, where there are not many short stages."""
NEAR = 5e-3
"""m: pairs whose boxes are closer than this at the two ends of the path are looked at there."""
KEPT = 0.95
"""No pair comes nearer than this share of the least distance told."""
NO_RANGES = Ranges(np.zeros((2, 0)), np.zeros((2, 0)), np.zeros(0), np.zeros(0))
METHOD = (
    "proof on the whole path: separating directions held over intervals against bounds on relative motion, halved "
    f"down to {FLOOR * 1e6:.0f} um of motion; no pair comes nearer than {KEPT:.2f} of the least distance told"
)


@dataclass(frozen=True, eq=False)
class Clearance:
    """Verdict on one candidate.

    clear: no two solids meet at any s. pair, s: which come nearest (or meet), and where.
    least_m: least exact distance found (the true least is at least KEPT times it), minus
    the depth where solids overlap, inf where there are no pairs. panel_gap: least stowed
    distance (m) of panels that no hinge joins or that a hinge folds by a half turn, 0
    where something meets. tests: pairs times intervals looked at.
    """

    clear: bool
    least_m: float
    pair: tuple[str, str]
    s: float
    reason: str
    panel_gap: float
    tests: int
    method: str = METHOD


def prove(
    design: Design,
    keep_out: Floats | None = None,
    names: tuple[str, ...] = (),
    course: Course | None = None,
) -> Clearance:
    """Clearance of a batch of one on its way from stowed to deployed.

    keep_out [K, 2, 3]: least and greatest corners (m) of boxes fixed to the root, names [K] theirs.
    course: the way; the schedule of the topology where not given.
    """
    boxes = np.zeros((0, 2, 3)) if keep_out is None else np.asarray(keep_out, dtype=np.float64).reshape(-1, 2, 3)
    solids = solids_of(design.topology, design.geometry, design.fittings, boxes, names)
    if course is None:
        course = Course.of(design.topology, design.geometry.axis[0], design.geometry.stowed_angle[0])
    return prove_solids(course, solids)


@dataclass
class _Least:
    """Least exact distance found so far, and where."""

    distance: float = np.inf
    pair: tuple[int, int] = (0, 0)
    s: float = 0.0

    def learn(self, items: Items, verdict: Verdict, goal: float) -> None:
        """Takes in the pairs that every test was made on: those not known to stay farther apart than goal."""
        exact = np.where(verdict.interval <= goal, verdict.station, np.inf)
        if len(exact) and exact.min() < self.distance:
            k = int(exact.argmin())
            self.distance, self.pair = float(exact[k]), (int(items.first[k]), int(items.second[k]))
            self.s = float(items.low[k] + items.high[k]) / 2.0


def prove_solids(course: Course, solids: Solids) -> Clearance:
    """The proof itself, for any set of upright prisms fixed to the panels of a course."""
    least, gap = _Least(), _Least()
    tests = 0
    for s, stage in ((0.0, 0), (1.0, course.stages - 1)):
        items, verdict = _still(course, solids, solids.tested, s, stage, least)
        tests += len(items)
        if not verdict.proven.all():
            return _met(solids, items, verdict, tests)
    _still(course, solids, panel_pairs(course, solids), 0.0, 0, gap)
    bodies = bodies_of(solids)
    cut = FIRST_CUT if course.stages < MANY_STAGES else 1
    seeds = seeds_of(course, solids, bodies, KEPT * least.distance)
    found, count = _halve(course, solids, seeds.table, seeds.one_line.cut(cut), least)
    tests += count
    if found is None:
        opened, count = _sieve(course, solids, bodies, seeds.many_lines.cut(cut), KEPT * least.distance)
        tests += count
        found, count = _halve(course, solids, NO_RANGES, opened, least)
        tests += count
    if found is not None:
        return _met(solids, *found, tests)
    pair = (solids.name[least.pair[0]], solids.name[least.pair[1]])
    return Clearance(True, least.distance, pair, least.s, "", gap.distance, tests)


def _still(course: Course, solids: Solids, wanted: Bools, s: float, stage: int, least: _Least) -> tuple[Items, Verdict]:
    """The near pairs at one station, enough of them to learn the least distance there."""
    reach = NEAR
    while True:
        first, second = near_pairs(course, solids, wanted, s, reach)
        at, none = np.full(len(first), s), np.full(len(first), -1)
        items = Items(first, second, np.full(len(first), stage), at, at, none, none)
        verdict = examine(course, solids, NO_RANGES, items, np.inf)
        if not verdict.proven.all() or not wanted.any():
            return items, verdict
        least.learn(items, verdict, np.inf)
        if least.distance <= reach:
            return items, verdict
        # boxes may be nearer than solids: look as far as the least distance found, or farther while there is none
        reach = least.distance if least.distance < np.inf else 4.0 * reach


def _halve(
    course: Course, solids: Solids, table: Ranges, items: Items, least: _Least
) -> tuple[tuple[Items, Verdict] | None, int]:
    """Halves intervals until all pairs are proven apart and none can come nearer than KEPT times the least distance.

    The first round with a meeting ends it. Also counts tests.
    """
    count = 0
    while len(items):
        goal = KEPT * least.distance
        verdict = examine(course, solids, table, items, goal)
        count += len(items)
        met = ~verdict.proven & ((verdict.station <= 0.0) | (verdict.travel < FLOOR))
        if met.any():
            return (items.take(met), verdict.take(met)), count
        least.learn(items, verdict, goal)
        wanted = KEPT * least.distance
        done = verdict.proven & ((verdict.interval > wanted) | (verdict.station > wanted + verdict.travel))
        items = items.take(~done).cut(2)
    return None, count


def _sieve(course: Course, solids: Solids, bodies: Solids, items: Items, goal: float) -> tuple[Items, int]:
    """Pairs of bodies over intervals, halved while that helps; what is left is opened into pairs of solids."""
    opened: list[Items] = []
    count = 0
    while len(items):
        verdict = examine(course, bodies, NO_RANGES, items, goal, QUICK)
        count += len(items)
        left = verdict.interval <= goal
        stuck = left & ((verdict.station <= goal) | (verdict.travel < OPEN_UP))
        opened.append(_open(course, solids, bodies, items.take(stuck), verdict.travel[stuck] + goal))
        items = items.take(left & ~stuck).cut(2)
    return Items.joined(opened), count


def _open(course: Course, solids: Solids, bodies: Solids, items: Items, reach: Floats) -> Items:
    """Pairs of solids of pairs of bodies, over the same intervals, that come within reach (m) in the middle: each
    solid of the other body's box, and their spheres of each other.

    reach: what is looked for and how far any point of one body moves against the other in half the interval, a bound
    that holds for all that the body's box holds.
    """
    both = solids.tested | solids.tested.T
    mine = [np.flatnonzero(solids.body == b) for b in range(bodies.count)]
    centre, radius = solids.spheres()
    s, at = np.unique((items.low + items.high) / 2.0, return_inverse=True)
    placed = course.placed(s)
    pose = placed[:, solids.panel]
    middle = np.einsum("snij,nj->sni", pose[..., :3], centre) + pose[..., 3]
    first, second, source = [], [], []
    order = np.lexsort((items.second, items.first))
    turns = np.flatnonzero(np.diff(items.first[order] * bodies.count + items.second[order])) + 1
    for k in np.split(order, turns) if len(order) else ():
        p, q = int(items.first[k[0]]), int(items.second[k[0]])
        near = []
        for own, other in ((p, q), (q, p)):
            away = _from_box(bodies, other, placed[at[k], bodies.panel[other]], middle[at[k]][:, mine[own]])
            near.append(away - radius[mine[own]] <= reach[k, None] + ROUNDING)
        row, i, j = np.nonzero(near[0][:, :, None] & near[1][:, None, :] & both[np.ix_(mine[p], mine[q])])
        i, j = mine[p][i], mine[q][j]
        apart = np.linalg.norm(middle[at[k[row]], i] - middle[at[k[row]], j], axis=-1) - radius[i] - radius[j]
        close = apart <= reach[k[row]] + ROUNDING
        i, j = i[close], j[close]
        # the larger first: most pairs are settled by its faces and the sphere round the other
        larger = radius[i] >= radius[j]
        first.append(np.where(larger, i, j))
        second.append(np.where(larger, j, i))
        source.append(k[row[close]])
    if not source:
        return NONE
    rest = items.take(np.concatenate(source))
    return Items(np.concatenate(first), np.concatenate(second), rest.stage, rest.low, rest.high, rest.mine, rest.yours)


def _from_box(bodies: Solids, body: int, pose: Floats, points: Floats) -> Floats:
    """Distances [n, m] of points [n, m, 3] from the upright box of a body at poses [n, 3, 4]; 0 inside."""
    box, k = bodies.shapes[0], int(bodies.place[body])
    local = (points - pose[:, None, :, 3]) @ pose[:, :, :3]
    square = np.maximum(np.maximum(local[..., 2] - box.high[k], box.low[k] - local[..., 2]), 0.0) ** 2
    for nx, ny, least, most in zip(box.nx[:, k], box.ny[:, k], box.least[:, k], box.most[:, k], strict=True):
        along = nx * local[..., 0] + ny * local[..., 1]
        square += np.maximum(np.maximum(along - most, least - along), 0.0) ** 2
    return np.asarray(np.sqrt(square))


def _met(solids: Solids, items: Items, verdict: Verdict, tests: int) -> Clearance:
    """The deepest of the meetings found."""
    open_ones = np.flatnonzero(~verdict.proven)
    k = int(open_ones[int(verdict.station[open_ones].argmin())])
    pair = (solids.name[int(items.first[k])], solids.name[int(items.second[k])])
    s, depth = float(items.low[k] + items.high[k]) / 2.0, -float(verdict.station[k])
    how = f"overlap by {depth * 1e3:.3g} mm" if depth > ROUNDING else "touch"
    return Clearance(False, -max(depth, 0.0), pair, s, f"{pair[0]} and {pair[1]} {how} at s = {s:.4f}", 0.0, tests)
