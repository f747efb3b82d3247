"""The rows of a front: against their records, among each other, and across nested envelopes."""

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np

from synth.recheck.asked import Asked, Room
from synth.recheck.finding import Notes
from synth.recheck.solid import Array

SAME = 1e-9
"""Relative: numbers of a row against those of its record."""

COLUMNS = {
    "stowed_volume": ("stowed_volume_m3", 1.0),
    "longest_stowed_side": ("longest_stowed_side_m", 1.0),
    "mass": ("mass_kg", 1.0),
    "surface_rms": ("surface_rms_m", 1.0),
    "in_plane_rms": ("in_plane_rms_m", 1.0),
    "blur": ("blur_rad", 1.0),
    "collecting_area": ("collecting_area_m2", -1.0),
    "first_mode": ("first_mode_hz", -1.0),
    "part_count": ("part_count", 1.0),
    "distinct_parts": ("distinct_parts", 1.0),
}
"""Objective to column and sign; all are then minimised."""


def check_front(
    rows: Sequence[Mapping[str, str]],
    records: Mapping[str, Mapping[str, Any]],
    asked: Asked | None,
    run: Mapping[str, Any],
    notes: Notes,
) -> None:
    """Rows equal records; feasible rows are verified, meet every requirement and do not dominate one another."""
    for name in ("id", "envelope", "family", "verified", "feasible"):
        if not notes.true(all(row.get(name) for row in rows), "front", f"column {name}", "filled", "missing"):
            return
    ids = [row["id"] for row in rows]
    for name in sorted({i for i in ids if ids.count(i) > 1}):
        notes.add("front", f"id {name}", "one row", f"{ids.count(name)} rows")
    for row in rows:
        record = records.get(row.get("id", ""))
        if notes.true(record is not None, "front", f"row {row.get('id')}", "a candidate record", "none") and record:
            _row(row, record, notes)
    if asked is None:
        return
    fronts: dict[str, Array] = {}
    for envelope in dict.fromkeys([*asked.rooms, *(row["envelope"] for row in rows)]):
        notes.true(envelope in asked.rooms, "front", f"envelope {envelope}", "one of the problem's", "unknown")
        mine = [row for row in rows if row["envelope"] == envelope]
        good = [row for row in mine if row["feasible"] == "true"]
        if len(good) < len(mine):
            notes.true(not good, "front", f"envelope {envelope}", "no infeasible rows beside feasible ones",
                       f"{len(mine) - len(good)} of {len(mine)}")  # fmt: skip
            notes.true(len(mine) <= 10, "front", f"envelope {envelope}", "at most ten infeasible rows", len(mine))
        fronts[envelope] = objective_table(good, asked)
        _non_dominated(good, fronts[envelope], envelope, notes)
    _nested(fronts, asked, notes)
    _run(rows, run, notes)


def _row(row: Mapping[str, str], record: Mapping[str, Any], notes: Notes) -> None:
    name = f"row {row['id']}"
    for key in ("envelope", "family"):
        notes.true(row[key] == record.get(key), "front", f"{name} {key}", record.get(key), row[key])
    try:
        verified = bool(record["verification"]["verified"])
        feasible = verified and all(r["ok"] for r in record["requirements"])
        metrics = record["metrics"]
    except (KeyError, TypeError):
        return  # the record's own findings say so
    for key, told in (("verified", verified), ("feasible", feasible)):
        notes.true(row[key] == str(told).lower(), "front", f"{name} {key}", str(told).lower(), row[key])
    for key, value in metrics.items():
        if not notes.true(key in row, "front", f"{name} {key}", "a column", "missing"):
            continue
        found = _number(row[key])
        same = abs(found - float(value)) <= SAME * max(abs(float(value)), 1e-12)
        notes.true(same, "front", f"{name} {key}", float(value), row[key], f"{SAME:g} of it")


def objective_table(rows: Sequence[Mapping[str, str]], asked: Asked) -> Array:
    """[rows, objectives], all minimised."""
    chosen = [COLUMNS[name] for name in asked.objectives if name in COLUMNS]
    table = [[sign * _number(row.get(column)) for column, sign in chosen] for row in rows]
    return np.asarray(table, dtype=np.float64).reshape(len(rows), len(chosen))


def _number(text: str | None) -> float:
    """Not a number where the text is none: such a row neither dominates nor is dominated, and is told elsewhere."""
    try:
        return float(text) if text is not None else math.nan
    except ValueError:
        return math.nan


def _non_dominated(rows: Sequence[Mapping[str, str]], table: Array, envelope: str, notes: Notes) -> None:
    for k in range(len(rows)):
        better = np.all(table <= table[k], axis=1) & np.any(table < table[k], axis=1)
        if better.any():
            by = rows[int(np.flatnonzero(better)[0])]["id"]
            notes.add("front", f"envelope {envelope}, row {rows[k]['id']}", "not dominated", f"dominated by {by}")


def _holds(outer: Room, inner: Room) -> bool:
    """Whether a box turned by right angles, or a cylinder, lies within another of its kind."""
    if outer.allowed is None or inner.allowed is None or outer.round != inner.round or outer.name == inner.name:
        return False
    a, b = np.asarray(outer.allowed), np.asarray(inner.allowed)
    return bool((b <= a).all() if outer.round else (np.sort(b) <= np.sort(a)).all())


def _nested(fronts: Mapping[str, Array], asked: Asked, notes: Notes) -> None:
    """What fits the smaller envelope fits the larger one, so the larger front is at least as good everywhere."""
    for outer in asked.rooms.values():
        for inner in asked.rooms.values():
            if not _holds(outer, inner) or not len(fronts[inner.name]):
                continue
            large, small = fronts[outer.name], fronts[inner.name]
            slack = SAME * np.abs(small)
            reached = np.any(np.all(large[None] <= (small + slack)[:, None], axis=2), axis=1)
            lost = int((~reached).sum())
            told = f"{lost} of {len(small)} points are not reached"
            notes.true(lost == 0, "nested envelopes", f"{outer.name} against {inner.name}", "never worse", told)


def _run(rows: Sequence[Mapping[str, str]], run: Mapping[str, Any], notes: Notes) -> None:
    """Counts on the front by envelope and family as run.json tells them."""
    notes.true(run.get("schema") == "run/1", "file", "run.json schema", "run/1", run.get("schema"))
    for envelope in run.get("envelopes", []):
        for family, told in envelope.get("families", {}).items():
            here = [r for r in rows if r["envelope"] == envelope["name"] and r["family"] == family]
            count = sum(r["feasible"] == "true" for r in here)
            if isinstance(told, dict) and "on_front" in told:
                notes.true(told["on_front"] == count, "front", f"{family} in {envelope['name']}: on_front of run.json",
                           count, told["on_front"])  # fmt: skip
