"""Exchange rates: what a little more of one thing buys of another.

The rate between two amounts X1 < X2 of a resource is the chord

    rate = (y(X1) - y(X2)) / (X2 - X1),

y(X) the least of the other objective that is reached with at most X: zero or more, in units of y for a unit of the
resource; the finite difference that two runs with the limits X1 and X2 would show.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from synth.core.arrays import Bools, Floats
from synth.fronts.entry import Entry
from synth.fronts.indicators import knee
from synth.fronts.nested import inside
from synth.fronts.staircase import staircase, stations
from synth.problem.limits import JUDGED, limit_units, limit_value
from synth.problem.objective import Objective

RESOURCES = ("stowed_volume", "longest_stowed_side", "mass", "part_count", "distinct_parts")
"""Objectives that count as something one spends."""
STEPS = 4
FREE, KNEE = "free", "knee"
"""What the other objectives may be: anything on the front, or at most what they are at the knee."""
SAME = 1e-9


@dataclass(frozen=True)
class Along:
    """One chord along the front of one entry. x and y in SI as minimised; others: FREE or KNEE."""

    entry: str
    resource: str
    resource_unit: str
    sought: bool
    objective: str
    objective_unit: str
    others: str
    x: tuple[float, float]
    y: tuple[float, float]
    rate: float


@dataclass(frozen=True)
class Between:
    """What a step from one entry to one that is allowed more buys. amount: the resource in each, SI.

    given: None for the least of the objective anywhere on the fronts, KNEE for the least with every other objective
    no worse than at the knee of the first, else (metric, value): the least with at most that much of it.
    """

    entries: tuple[str, str]
    resource: str
    resource_unit: str
    amount: tuple[float, float]
    objective: str
    objective_unit: str
    given: str | tuple[str, float] | None
    y: tuple[float, float]
    rate: float


def along(entry: Entry, objectives: Sequence[Objective], steps: int = STEPS) -> list[Along]:
    """Chords along one front, `steps` of equal width for each resource and other objective."""
    if len(entry.front.rows) < 2:
        return []
    points = entry.points(objectives)
    at_knee = points[knee(points)]
    found: list[Along] = []
    for x, values, unit, sought in _spent(entry, objectives):
        for j, y in enumerate(objectives):
            if y.metric == x:
                continue
            rest = [k for k, o in enumerate(objectives) if o.metric not in (x, y.metric)]
            for others in (FREE, KNEE) if rest else (FREE,):
                good = np.ones(len(points), dtype=bool)
                if others == KNEE:
                    good = (points[:, rest] <= at_knee[rest]).all(axis=1)
                for ends, least in _chords(values[good], points[good, j], steps):
                    rate = (least[0] - least[1]) / (ends[1] - ends[0])
                    found.append(Along(entry.label, x, unit, sought, y.metric, y.unit, others, ends, least, rate))
    return found


def _spent(entry: Entry, objectives: Sequence[Objective]) -> list[tuple[str, Floats, str, bool]]:
    """Resources of a front: metric, values [n], unit, whether it was an objective (a side is told in any case)."""
    found = [
        (o.metric, np.array([r.metrics[o.metric] for r in entry.front.rows]), o.unit, True)
        for o in objectives
        if o.name in RESOURCES
    ]
    side = "longest_stowed_side_m"
    if all(m != side for m, *_ in found) and side in entry.front.columns:
        found.append((side, np.array([r.metrics[side] for r in entry.front.rows]), "m", False))
    return found


def _chords(x: Floats, y: Floats, steps: int) -> list[tuple[tuple[float, float], tuple[float, float]]]:
    stairs = staircase(x, y)
    if len(stairs.x) < 2:
        return []
    ends = stations(float(stairs.x[0]), float(stairs.x[-1]), steps)
    least = [stairs.at(float(v)) for v in ends]
    return [((float(ends[k]), float(ends[k + 1])), (least[k], least[k + 1])) for k in range(len(ends) - 1)]


def resource_step(a: Entry, b: Entry) -> tuple[str, str, float, float] | None:
    """(resource, unit, amount of a, amount of b) where b asks the same as a but allows more of one thing; else None.

    More room of the same kind with the same limits: one side ("envelope.side", where only one differs), the diameter,
    the height, or else the volume. The same room: a limit that only judges, looser in b. Amounts are as the files
    give them, so that b's may be the smaller number (a least area).
    """
    differing = [f for f in limit_units() if not _equal(limit_value(a.problem, f), limit_value(b.problem, f))]
    if not _same_question(a, b):
        return None
    if not differing:
        return _room_step(a, b)
    if len(differing) > 1 or a.envelope.kind != b.envelope.kind or not np.allclose(_sides(a), _sides(b), SAME):
        return None
    name = differing[0]
    before, after = limit_value(a.problem, name), limit_value(b.problem, name)
    if name not in JUDGED or before is None or after is None or JUDGED[name] * (after - before) <= 0.0:
        return None
    return name, limit_units()[name], before, after


def _same_question(a: Entry, b: Entry) -> bool:
    def rest(e: Entry) -> tuple[object, ...]:
        p = e.problem
        return p.aperture.optic, p.accuracy.refocus, p.choices, p.keep_out, p.search.objectives

    return rest(a) == rest(b)


def _equal(a: float | None, b: float | None) -> bool:
    return a == b or (a is not None and b is not None and abs(a - b) <= SAME * max(abs(a), abs(b)))


def _sides(e: Entry) -> Floats:
    return np.sort(e.envelope.allowed) if e.envelope.kind == "box" else e.envelope.allowed[1:]


def _room_step(a: Entry, b: Entry) -> tuple[str, str, float, float] | None:
    within = inside([a.envelope.kind, b.envelope.kind], [a.envelope.allowed, b.envelope.allowed])
    if not within[0, 1] or within[1, 0]:
        return None
    before, after = _sides(a), _sides(b)
    unlike = np.flatnonzero(np.abs(after - before) > SAME * after)
    if len(unlike) != 1:
        return "envelope.volume", "m^3", a.envelope.allowed_volume, b.envelope.allowed_volume
    k = int(unlike[0])
    name = "envelope.side" if a.envelope.kind == "box" else ("envelope.diameter", "envelope.height")[k]
    return name, "m", float(before[k]), float(after[k])


def steps_up(entries: Sequence[Entry]) -> list[tuple[int, int]]:
    """Pairs (a, b) where b allows more than a of one thing and no third lies between them."""
    count = len(entries)
    up: Bools = np.zeros((count, count), dtype=bool)
    for a in range(count):
        for b in range(count):
            up[a, b] = a != b and resource_step(entries[a], entries[b]) is not None
    between = (up[:, :, None] & up[None]).any(axis=1)
    return [(int(a), int(b)) for a, b in np.argwhere(up & ~between)]


def between(a: Entry, b: Entry, objectives: Sequence[Objective], steps: int = STEPS) -> list[Between]:
    """What b's greater allowance buys against a: least anywhere, least at a's knee, and along both fronts.

    Room tells its volume beside the one side that differs. Nothing where either front is empty.
    """
    step = resource_step(a, b)
    if step is None or not a.front.rows or not b.front.rows:
        return []
    kinds = [step]
    if step[0].startswith("envelope.") and step[0] != "envelope.volume":
        kinds.append(("envelope.volume", "m^3", a.envelope.allowed_volume, b.envelope.allowed_volume))
    found: list[Between] = []
    for j, y in enumerate(objectives):
        for given, least in _pairs(a.points(objectives), b.points(objectives), j, objectives, steps):
            for name, unit, before, after in kinds:
                rate = (least[0] - least[1]) / abs(after - before)
                found.append(Between((a.label, b.label), name, unit, (before, after), y.metric, y.unit, given, least,
                                     rate))  # fmt: skip
    return found


Given = str | tuple[str, float] | None


def _pairs(p: Floats, q: Floats, j: int, objectives: Sequence[Objective], steps: int) -> list[
        tuple[Given, tuple[float, float]]]:  # fmt: skip
    """Least of objective j on two fronts under the same conditions."""
    found: list[tuple[Given, tuple[float, float]]] = [(None, (float(p[:, j].min()), float(q[:, j].min())))]
    rest = [k for k in range(len(objectives)) if k != j]
    at_knee = p[knee(p)]
    held = [float(f[(f[:, rest] <= at_knee[rest]).all(axis=1), j].min(initial=np.inf)) for f in (p, q)]
    if np.isfinite(held).all():
        found.append((KNEE, (held[0], held[1])))
    for k in rest:
        mine, theirs = staircase(p[:, k], p[:, j]), staircase(q[:, k], q[:, j])
        first = max(float(mine.x[0]), float(theirs.x[0]))
        for level in stations(first, max(float(mine.x[-1]), float(theirs.x[-1])), steps):
            o = objectives[k]
            found.append(((o.metric, float(level) * o.sign), (mine.at(float(level)), theirs.at(float(level)))))
    return found
