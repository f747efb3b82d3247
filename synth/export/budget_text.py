"""The error budget of a record as text: sources, datums, which joint, which term, what better joints buy."""

import math
from collections.abc import Mapping, Sequence
from typing import Any

from synth.export.engineering import table

MOST = 6
"""Joints told one by one."""
BETTER = 0.9
"""Misfits after the improvement that is asked about: ten per cent less."""


def budget_text(record: Mapping[str, Any]) -> str:
    """The accuracy section of a candidate. Records without a budget tell the sums only."""
    budget = record.get("budget")
    if budget is None:
        return _short(record["accuracy"])
    parts = record["accuracy"]
    whole = parts["joints_m2"] + parts["figure_m2"] + parts["steady_m2"]
    flat = float(record["metrics"]["in_plane_rms_m"]) ** 2
    text = f"Accuracy, datum: {budget['datum']} (in plane: best-fit shift and spin)\n"
    text += _sources(budget, whole, flat)
    text += "\nSteady sources add as fields, with their signs: their squares do not add up to the whole."
    text += "\n\nSurface rms by datum\n" + _datums(budget)
    text += "\n\nJoint misfits: which joint, which term\n" + _shares(budget, whole, flat)
    return text + "\n\n" + _locked(budget["locked_in"])


def _um(square: float) -> str:
    return f"{1e6 * math.sqrt(max(square, 0.0)):.3f}"


def _short(parts: Mapping[str, float]) -> str:
    whole = parts["joints_m2"] + parts["figure_m2"] + parts["steady_m2"]
    names = (("joints_m2", "joint misfits"), ("figure_m2", "panel figure"), ("steady_m2", "steady field"))
    rows = [[title, _um(parts[name])] for name, title in names] + [["surface rms", _um(whole)]]
    return "Accuracy, about the best-fit datum\n" + table(["source", "rms [um]"], rows)


def _sources(budget: Mapping[str, Any], whole: float, flat: float) -> str:
    heads = ["source", "surface\n[um]", "of square\n", "in plane\n[um]", "slope\n[urad]"]
    rows = []
    for s in budget["sources"]:
        share = f"{100 * s['surface_m2'] / whole:.1f} %" if whole > 0 else ""
        rows.append([s["source"], _um(s["surface_m2"]), share, _um(s["in_plane_m2"]), _um(s["slope_rad2"])])
    return table(heads, [*rows, ["whole", _um(whole), "", _um(flat), ""]])


def _datums(budget: Mapping[str, Any]) -> str:
    return table(["taken off", "rms [um]"], [[name, _um(square)] for name, square in budget["datums_m2"].items()])


def bought(whole: float, share: float) -> float:
    """How much an rms falls (m) when the errors behind `share` (m^2) of its square are ten per cent smaller."""
    return math.sqrt(whole) - math.sqrt(max(whole - (1.0 - BETTER**2) * share, 0.0))


def _shares(budget: Mapping[str, Any], whole: float, flat: float) -> str:
    heads = ["", "surface\n[um]", "in plane\n[um]", "10 % better:\nsurface [nm]", "10 % better:\nin plane [nm]"]

    def rows(key: str, items: Sequence[Mapping[str, Any]]) -> list[list[str]]:
        return [
            [i[key], _um(i["surface_m2"]), _um(i["in_plane_m2"]), f"-{1e9 * bought(whole, i['surface_m2']):.1f}",
             f"-{1e9 * bought(flat, i['in_plane_m2']):.1f}"]
            for i in items
        ]  # fmt: skip

    ranked = sorted(
        budget["joints"], key=lambda j: -j["surface_m2"] / (whole or 1.0) - j["in_plane_m2"] / (flat or 1.0)
    )
    told = rows("joint", ranked[:MOST])
    if len(ranked) > MOST:
        rest = {k: sum(j[k] for j in ranked[MOST:]) for k in ("surface_m2", "in_plane_m2")}
        told += rows("joint", [{"joint": f"{len(ranked) - MOST} other joints", **rest}])
    total = {k: sum(j[k] for j in budget["joints"]) for k in ("surface_m2", "in_plane_m2")}
    told += rows("joint", [{"joint": "all joints", **total}])
    return table(heads, told + rows("term", budget["terms"]))


def _locked(locked: Mapping[str, Any]) -> str:
    rows = [
        ["expected energy locked in by misfits", f"{1e3 * locked['energy_j']:.3f} mJ"],
        ["of it in hinges, in latches", f"{1e3 * locked['hinges_j']:.3f} mJ, {1e3 * locked['latches_j']:.3f} mJ"],
        ["greatest unit force, three sigma", f"{locked['peak_force_n']:.2f} N, {locked['peak_joint']}"],
        ["greatest unit force, steady field",
         f"{locked['steady_peak_force_n']:.2f} N, {locked['steady_peak_joint']}"],
    ]  # fmt: skip
    return "Strain locked in (more joints than the position needs)\n" + table(["what", "found"], rows, left=2)
