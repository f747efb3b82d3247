"""Why an accuracy requirement is missed by everything that a search found, and what would be needed."""

import math
from collections.abc import Callable, Mapping, Sequence
from typing import Any

from synth.core.units import show

PUBLISHED = (1.4e-6, 26.4e-6)
"""Deployment repeatability of precision mechanisms, m a metre of structure, 99 % (seen: Heald and Peterson, AIAA
2004-1602). A normal error of rms s stays within 2.58 s in 99 % of deployments."""
WITHIN_99 = 2.576
_REQUIREMENTS = {
    "accuracy.surface_rms_limit": "surface_m2",
    "accuracy.in_plane_rms_limit": "in_plane_m2",
    "accuracy.blur_limit": "",
    "aperture.field_of_view": "",
}
_REMEDIES = {
    "panel figure": "panels lapped flatter, or smaller ones",
    "thermal bow": "a panel material that grows less, a smaller difference through the thickness (under a given heat "
    "flux thickness does not help), or the bow measured and taken out by refocusing",
    "thermal growth": "joints and panels of one growth, or a bulk temperature held closer to that of assembly",
    "moisture": "panels dried before assembly, or of a material that takes up no moisture",
    "hinge creep": "less time or temperature when stowed, or joints that seat against stops",
    "gravity release": "an offload closer to the whole weight, thicker panels, or flatness measured both ways up",
}
_SEATS = "kinematic seats (they repeat to 0.1-1 um), loop-closing latches, or fewer and bigger panels"


def needs(records: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    """For each accuracy requirement that every record misses: requirement, blocking source, told (a sentence or two).

    Told of the record that comes nearest to it.
    """
    found = []
    for name, measure in _REQUIREMENTS.items():
        rows = [(r, q) for r in records for q in r["requirements"] if q["name"] == name]
        if not rows or any(q["ok"] for _, q in rows):
            continue
        record, asked = max(rows, key=lambda pair: pair[1]["margin"])
        if record.get("budget") is not None:
            found.append(_told(record, asked, measure or _of_blur(record)))
    return found


def _of_blur(record: Mapping[str, Any]) -> str:
    """The measure that makes most of the blur."""
    optics = record.get("optics") or {}
    return "in_plane_m2" if optics.get("blur_in_plane_rad", 0.0) > optics.get("blur_slope_rad", 0.0) else "slope_rad2"


def _told(record: Mapping[str, Any], asked: Mapping[str, Any], measure: str) -> dict[str, Any]:
    budget = record["budget"]
    say = _urad if measure == "slope_rad2" else _um
    worst = max(budget["sources"], key=lambda s: float(s[measure]))
    text = (
        f"nearest is {record['id']} with {show(asked['value'], asked['unit'])} against "
        f"{show(asked['limit'], asked['unit'])}; most of it comes from {worst['source']} ({say(worst[measure])})"
    )
    if worst["source"] == "joint misfits":
        text += _joints(record, asked, measure, say)
    else:
        text += f". Needed: {_REMEDIES[worst['source']]}"
    return {"requirement": asked["name"], "blocking": worst["source"], "candidate": record["id"], "told": text}


def _um(square: float) -> str:
    return f"{1e6 * math.sqrt(square):.3g} um rms"


def _urad(square: float) -> str:
    return f"{1e6 * math.sqrt(square):.3g} urad rms of slope"


def _joints(record: Mapping[str, Any], asked: Mapping[str, Any], measure: str, say: Callable[[float], str]) -> str:
    """Which joint and term, how much better joints would have to be, and whether passive ones can be."""
    budget = record["budget"]
    joint = max(budget["joints"], key=lambda j: float(j[measure]))
    term = max(budget["terms"], key=lambda t: float(t[measure]))
    text = f", first of all {term['term']}, most in {joint['joint']} ({say(joint[measure])})"
    misfits = sum(float(j[measure]) for j in budget["joints"])
    # of a blur only the share of its square is known here
    whole = float(asked["value"]) ** 2
    if measure == "slope_rad2" or asked["unit"] == "rad":
        total = max(sum(float(s[measure]) for s in budget["sources"]), 1e-300)
        misfits = whole * misfits / total
    rest = max(whole - misfits, 0.0)
    room = float(asked["limit"]) ** 2 - rest
    if room > 0.0:
        text += f". Joints would have to repeat {math.sqrt(misfits / room):.2g} times better"
    else:
        text += f". Even perfect joints would leave {show(math.sqrt(rest), asked['unit'])}"
    if asked["unit"] != "m":
        return f"{text}. Needed: {_SEATS}"
    span = _span(record)
    rate = WITHIN_99 * float(asked["limit"]) / span
    text += f". Over {show(span, 'm')} the limit is {1e6 * rate:.2g} um a metre at 99 %"
    low, high = (1e6 * v for v in PUBLISHED)
    if rate < PUBLISHED[0]:
        return (
            f"{text}: passive deployments are published at {low:g} to {high:g} (Heald and Peterson 2004), none holds "
            f"this. Needed: active alignment after deployment; {_SEATS} come nearer but do not reach it"
        )
    return f"{text}; passive deployments are published at {low:g} to {high:g}. Needed: {_SEATS}, else active alignment"


def _span(record: Mapping[str, Any]) -> float:
    """Longest distance between two corners of receiving faces, m."""
    corners = [tuple(c) for p in record["panels"] if p["receiving"] for c in p["outline"]]
    return max(math.dist(a, b) for a in corners for b in corners)
