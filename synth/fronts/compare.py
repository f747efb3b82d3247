"""Fronts of several envelopes and runs against each other, as one document."""

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from typing import Any

import numpy as np

from synth.core.arrays import Floats
from synth.core.errors import InputError
from synth.fronts.attainment import levels
from synth.fronts.binding import BINDS, binding, nearest_requirement
from synth.fronts.differences import differences
from synth.fronts.entry import Entry, common_objectives, row_values
from synth.fronts.exchange import along, between, steps_up
from synth.fronts.front import Row
from synth.fronts.indicators import dominance_share, hypervolume_share, knee, knee_depth, least, nondominated
from synth.fronts.staircase import staircase
from synth.fronts.winners import family_shares, winners
from synth.problem.limits import limit_units, limit_value
from synth.problem.objective import Objective

SCHEMA = "comparison/1"
BEYOND = 0.1
"""The common reference point lies this share of the fronts' own range beyond their worst values."""


def compare(entries: Sequence[Entry]) -> dict[str, Any]:
    """Everything that a comparison tells, as plain values (SI; maximised objectives as tabled, not negated).

    Raises InputError where there is nothing to compare or fewer than two objectives are common to all runs.
    """
    if not entries:
        raise InputError("compare: needs at least one run folder")
    objectives = common_objectives(entries)
    if len(objectives) < 2:
        sought = "; ".join(dict.fromkeys(", ".join(e.problem.search.objectives) for e in entries))
        raise InputError(f"compare: the runs must have two objectives in common; they sought: {sought}")
    entries = [_in_common(e, objectives) for e in entries]
    low, high = common_box(entries, objectives)
    shown = [e for e in entries if e.front.rows]
    pairs = steps_up(entries)
    return {
        "schema": SCHEMA,
        "title": entries[0].problem.title,
        "objectives": [{**asdict(o), "better": "less" if o.sign > 0 else "more"} for o in objectives],
        "entries": [_entry(e, entries, objectives, low, high) for e in entries],
        "differences": [asdict(d) for d in differences(entries)],
        "hypervolume_box": {"ideal": _listed(low, objectives), "reference": _listed(high, objectives)},
        "dominated": _dominance(shown, objectives),
        "attainment": _attainment(shown, objectives),
        "exchange": {
            "along": [asdict(c) for e in entries for c in along(e, objectives)],
            "between": [asdict(c) for a, b in pairs for c in between(entries[a], entries[b], objectives)],
        },
        "steps_up": [[entries[a].label, entries[b].label] for a, b in pairs],
        "binding": [asdict(b) for e in entries for b in binding(e, objectives)],
        "binds_at": BINDS,
        "winners": [asdict(w) for e in entries for w in winners(e, objectives)],
        "rows": [_row(e, r) for e in entries for r in e.front.rows],
        "cautions": _cautions(entries, objectives),
    }


def _in_common(entry: Entry, objectives: Sequence[Objective]) -> Entry:
    """The entry with the rows that are not dominated in the common objectives (all of them where it sought no more)."""
    if len(objectives) == len(entry.problem.search.objectives) or not entry.front.rows:
        return entry
    flags = nondominated(entry.points(objectives))
    rows = tuple(r for r, stays in zip(entry.front.rows, flags, strict=True) if stays)
    return Entry(**{**vars(entry), "front": type(entry.front)(entry.front.columns, rows)})


def common_box(entries: Sequence[Entry], objectives: Sequence[Objective]) -> tuple[Floats, Floats]:
    """Ideal and reference point [M] of all fronts together: the least of every objective, and the worst plus a tenth
    of the range between. Where an objective has no range its reference lies a tenth of its size away (1 for zero)."""
    points = [e.points(objectives) for e in entries if e.front.rows]
    if not points:
        return np.full(len(objectives), np.nan), np.full(len(objectives), np.nan)
    whole = np.concatenate(points)
    low, worst = whole.min(axis=0), whole.max(axis=0)
    size = np.where(low != 0.0, np.abs(low), 1.0)
    return low, worst + BEYOND * np.where(worst > low, worst - low, size)


def _entry(e: Entry, entries: Sequence[Entry], objectives: Sequence[Objective], low: Floats, high: Floats) -> dict[
        str, Any]:  # fmt: skip
    found: dict[str, Any] = {
        "label": e.label,
        "folder": e.folder,
        "run": e.run.get("id", ""),
        "state": e.run.get("state", ""),
        "evaluations": e.run.get("evaluations", 0),
        "seed": e.run.get("seed", 0),
        "envelope": e.envelope.name,
        "kind": e.envelope.kind,
        "outside_m": [float(v) for v in e.envelope.outside],
        "clearance_m": e.envelope.clearance,
        "allowed_volume_m3": e.envelope.allowed_volume,
        "limits": {f: limit_value(e.problem, f) for f in limit_units()},
        "rows": len(e.front.rows),
        "families": {},
        "hypervolume": 0.0,
        "hypervolume_in_limits": None,
        "knee": None,
        "least": {},
    }
    if not e.front.rows:
        return found
    points = e.points(objectives)
    box = _limits_box(entries, objectives)
    shares = family_shares(e, objectives, low, high)
    at_knee = e.front.rows[knee(points)]
    found |= {
        "hypervolume": hypervolume_share(points, low, high),
        "hypervolume_in_limits": None if box is None else hypervolume_share(points, *box),
        "families": {f: {"rows": _count(e, f), "hypervolume": share} for f, share in shares.items()},
        "knee": {**_point(at_knee, objectives), "depth": knee_depth(points)},
        "least": {
            o.metric: _point(e.front.rows[int(k)], objectives) for o, k in zip(objectives, least(points), strict=True)
        },
    }
    return found


def _limits_box(entries: Sequence[Entry], objectives: Sequence[Objective]) -> tuple[Floats, Floats] | None:
    """The box that holds every run's own box: least ideal and greatest reference point."""
    boxes = [box for box in (e.box(objectives) for e in entries) if box is not None]
    if not boxes:
        return None
    return np.min([b[0] for b in boxes], axis=0), np.max([b[1] for b in boxes], axis=0)


def _count(e: Entry, family: str) -> int:
    return sum(r.family == family for r in e.front.rows)


def _point(row: Row, objectives: Sequence[Objective]) -> dict[str, Any]:
    return {"id": row.id, "family": row.family, "values": row_values(row, objectives)}


def _listed(corner: Floats, objectives: Sequence[Objective]) -> dict[str, float | None]:
    """A corner of a box by metric, as tabled."""
    return {o.metric: float(v) * o.sign if np.isfinite(v) else None for o, v in zip(objectives, corner, strict=True)}


def _dominance(shown: Sequence[Entry], objectives: Sequence[Objective]) -> list[dict[str, Any]]:
    """For every ordered pair: share of the other's rows that this front beats, and matches or beats."""
    found = []
    for a in shown:
        for b in shown:
            if a is not b:
                p, q = a.points(objectives), b.points(objectives)
                met = (p[:, None] <= q[None]).all(axis=2).any(axis=0)
                share = dominance_share(p, q)
                found.append({"by": a.label, "of": b.label, "dominated": share, "met": float(met.mean())})
    return found


def _attainment(shown: Sequence[Entry], objectives: Sequence[Objective]) -> list[dict[str, Any]]:
    """Surfaces that one, half and every front attains, in each pair of objectives."""
    if len(shown) < 2:
        return []
    found = []
    for a in range(len(objectives)):
        for b in range(a + 1, len(objectives)):
            fronts = []
            for e in shown:
                points = e.points(objectives)
                fronts.append(points[staircase(points[:, a], points[:, b]).rows][:, [a, b]])
            signs = np.array([objectives[a].sign, objectives[b].sign])
            surfaces = {name: (p * signs).tolist() for name, p in levels(fronts).items()}
            found.append({"x": objectives[a].metric, "y": objectives[b].metric, "surfaces": surfaces})
    return found


def _row(e: Entry, row: Row) -> dict[str, Any]:
    detail = e.details.get(row.id)
    margins: Mapping[str, float] = {} if detail is None else detail.margins
    name, margin = nearest_requirement(dict(margins)) if margins else (None, None)
    return {
        "entry": e.label,
        "id": row.id,
        "family": row.family,
        "panel_count": row.metrics.get("panel_count"),
        "thickness_m": None if detail is None else detail.thickness,
        "nearest_requirement": name,
        "nearest_margin": margin,
        "metrics": dict(row.metrics),
    }


def _cautions(entries: Sequence[Entry], objectives: Sequence[Objective]) -> list[str]:
    """What a reader has to know before acting on the numbers."""
    told = [
        "Preliminary design: models of early design stages with catalogue properties; confirm by detailed analysis"
        " and test before anything is cut.",
        "A front is what a search of limited length found: a gap between two fronts is a lower bound on what is"
        " possible, and small differences may be chance. Another seed shows how large chance is.",
    ]
    empty = [e.label for e in entries if not e.front.rows]
    if empty:
        told.append(f"Nothing feasible was found in: {', '.join(empty)}. These have no part in the figures.")
    short = [e.label for e in entries if e.run.get("state") != "done"]
    if short:
        told.append(f"Not finished: {', '.join(short)}. Their fronts may still get better.")
    left = {o for e in entries for o in e.problem.search.objectives} - {o.name for o in objectives}
    if left:
        told.append(f"Objectives that not every run sought are left out: {', '.join(sorted(left))}.")
    if len({e.run.get("evaluations") for e in entries}) > 1:
        told.append("The runs put forward different numbers of candidates: longer searches have the better fronts.")
    return told
