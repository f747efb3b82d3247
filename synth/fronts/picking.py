"""A few different candidates of a front: the best by a wish, spread over families and topologies."""

from collections.abc import Mapping, Sequence

import numpy as np

from synth.core.arrays import Floats
from synth.core.errors import InputError, nearest
from synth.fronts.front import Row
from synth.metrics import METRICS
from synth.problem.objective import OBJECTIVES, Objective

TOPOLOGY = ("panel_count", "part_count", "distinct_parts")
"""Metrics that tell topologies of one family apart."""


def picked(rows: Sequence[Row], objectives: Sequence[Objective], by: str, count: int) -> list[Row]:
    """At most `count` rows, all of different designs, the best first by `by`.

    by: "knee" (least sum of the objectives, each scaled to its range among the rows), an objective or metric,
    or weights as "mass=2,surface_rms=1" on scaled values. Round one takes the best of every family, round two
    topologies not yet there, then whatever is best. Feasible rows only, where there are any; ties go by id.
    Raises InputError for an unknown name or weight.
    """
    live = [r for r in rows if r.feasible] or list(rows)
    scores = _scores(live, objectives, by)
    order = [live[k] for k in np.lexsort((np.array([r.id for r in live]), np.round(scores, 12)))] if live else []
    best: dict[str, Row] = {}
    for row in order:  # one design may stand in several envelopes
        best.setdefault(f"{row.family} {_design(row)}", row)
    waiting, found = list(best.values()), list[Row]()
    for tells in (lambda r: (r.family,), _topology, lambda r: (r.id,)):
        seen = {tells(r) for r in found}
        for row in list(waiting):
            if len(found) < count and tells(row) not in seen:
                seen.add(tells(row))
                found.append(row)
                waiting.remove(row)
    place = {r.id: k for k, r in enumerate(order)}
    return sorted(found, key=lambda r: place[r.id])


def _design(row: Row) -> str:
    """The part of an id that stands for the design."""
    return row.id.rsplit("-", 1)[-1]


def _topology(row: Row) -> tuple[object, ...]:
    return (row.family, *(row.metrics.get(m) for m in TOPOLOGY))


def _signs(wish: Mapping[str, float]) -> list[tuple[str, float]]:
    """(metric, weight, negative where more is better) of names of objectives or metrics."""
    known = {**{o.name: (o.metric, o.sign) for o in OBJECTIVES.values()},
             **{m: (m, 1 if told.better == "lower" else -1) for m, told in METRICS.items()}}  # fmt: skip
    found = []
    for name, weight in wish.items():
        if name not in known:
            some = ", ".join(OBJECTIVES)
            raise InputError(f"by: must be knee, an objective ({some}), a metric, or weights NAME=NUMBER,...; "
                             f"got '{name}'.{nearest(name, known)}")  # fmt: skip
        found.append((known[name][0], known[name][1] * weight))
    return found


def wishes(by: str, objectives: Sequence[Objective]) -> dict[str, float]:
    """Weights by name. Raises InputError."""
    if by == "knee":
        return {o.name: 1.0 for o in objectives}
    if "=" not in by:
        return {by: 1.0}
    found = {}
    for pair in by.split(","):
        name, _, text = pair.partition("=")
        try:
            found[name.strip()] = float(text)
        except ValueError:
            raise InputError(f"by: a weight must be a number such as mass=2; got '{pair.strip()}'") from None
        if not 0.0 <= found[name.strip()] < float("inf"):
            raise InputError(f"by: a weight must be at least 0; got '{pair.strip()}'")
    return found


def _scores(rows: Sequence[Row], objectives: Sequence[Objective], by: str) -> Floats:
    """[n]: weighted sum of values, each scaled to its range among the rows."""
    total = np.zeros(len(rows))
    for metric, weight in _signs(wishes(by, objectives)):
        values = np.array([r.metrics[metric] for r in rows], dtype=np.float64)
        low, high = float(values.min(initial=np.inf)), float(values.max(initial=-np.inf))
        total += weight * (values - low) / (high - low if high > low else 1.0)
    return total
