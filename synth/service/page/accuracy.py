"""The error budget of one candidate for a chart: what adds up, each source alone, which joints and terms matter."""

import math
from collections.abc import Mapping, Sequence
from typing import Any

from synth.export.budget_text import MOST, bought

Record = Mapping[str, Any]


def accuracy_view(record: Record) -> dict[str, Any]:
    """surface and in_plane: parts whose mean squares add up to the whole. sources, joints, terms, datums, locked_in:
    of the record's budget, rms in m and rad; empty for records without one."""
    parts = record["accuracy"]
    flat = float(record["metrics"]["in_plane_rms_m"]) ** 2
    joints = min(float(parts["in_plane_joints_m2"]), flat)
    field = "bow, growth, gravity release and the like, one field"
    surface = [
        ("joints", "Joint misfits", "random", parts["joints_m2"]),
        ("figure", "Panel figure", "as made", parts["figure_m2"]),
        ("steady", "Steady field", field, parts["steady_m2"]),
    ]
    in_plane = [("joints", "Joint misfits", "random", joints), ("steady", "Steady field", field, flat - joints)]
    whole = math.fsum(p[3] for p in surface)
    return {
        "surface": _stack(surface, _limit(record, "accuracy.surface_rms_limit")),
        "in_plane": _stack(in_plane, _limit(record, "accuracy.in_plane_rms_limit")),
        **_budget(record.get("budget"), whole, flat),
    }


def _limit(record: Record, name: str) -> float | None:
    return next((float(r["limit"]) for r in record["requirements"] if r["name"] == name), None)


def _root(square: float) -> float:
    return math.sqrt(max(float(square), 0.0))


def _stack(parts: Sequence[tuple[str, str, str, float]], limit: float | None) -> dict[str, Any]:
    whole = math.fsum(p[3] for p in parts)
    return {
        "rms_m": _root(whole),
        "limit_m": limit,
        "sources": [
            {"key": k, "title": t, "note": n, "rms_m": _root(v), "share": v / whole if whole > 0.0 else 0.0}
            for k, t, n, v in parts
        ],
    }


def _budget(budget: Record | None, whole: float, flat: float) -> dict[str, Any]:
    if budget is None:
        return {"datum": "", "datums": [], "sources": [], "joints": [], "joints_left": 0, "terms": [], "locked_in": []}
    ranked = sorted(
        budget["joints"], key=lambda j: -j["surface_m2"] / (whole or 1.0) - j["in_plane_m2"] / (flat or 1.0)
    )
    locked = budget["locked_in"]
    random, steady = (f"{locked[f'{k}peak_force_n']:.2f} N, {locked[f'{k}peak_joint']}" for k in ("", "steady_"))
    return {
        "datum": budget["datum"],
        "datums": [{"name": name, "rms_m": _root(v)} for name, v in budget["datums_m2"].items()],
        "sources": [_line(s, "source", whole, flat) for s in budget["sources"]],
        "joints": [_line(j, "joint", whole, flat) for j in ranked[:MOST]],
        "joints_left": max(0, len(ranked) - MOST),
        "terms": [_line(t, "term", whole, flat) for t in budget["terms"]],
        "locked_in": [
            {"what": "Energy locked in by misfits, expected", "found": f"{1e3 * locked['energy_j']:.3f} mJ"},
            {"what": "Greatest unit force, three sigma", "found": random},
            {"what": "Greatest unit force, steady field", "found": steady},
        ],
    }


def _line(share: Record, key: str, whole: float, flat: float) -> dict[str, Any]:
    """One source, joint or term: its rms alone, its share of the square, and what ten per cent less of it buys (m)."""
    return {
        "name": share[key],
        "surface_m": _root(share["surface_m2"]),
        "share": float(share["surface_m2"]) / whole if whole > 0.0 else 0.0,
        "in_plane_m": _root(share["in_plane_m2"]),
        "slope_rad": _root(share["slope_rad2"]),
        "bought_surface_m": bought(whole, share["surface_m2"]),
        "bought_in_plane_m": bought(flat, share["in_plane_m2"]),
    }
