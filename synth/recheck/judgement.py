"""Requirement rows and the figures of the deployed network, worked out anew."""

import math
from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import shapely

from synth.recheck.asked import Asked
from synth.recheck.finding import Notes
from synth.recheck.network import Found, solve_network
from synth.recheck.optics import blur_of

ARITHMETIC = 1e-9
FIGURES = 0.05
"""Relative: how far rms and frequency may lie from the independent solution."""
SMALL_SHARE = 1e-3
"""A part of the mean square below this share of the whole is not compared by ratio."""

METRIC_OF = {
    "mass.limit": "mass_kg",
    "aperture.min_collecting_area": "collecting_area_m2",
    "accuracy.surface_rms_limit": "surface_rms_m",
    "accuracy.in_plane_rms_limit": "in_plane_rms_m",
    "accuracy.blur_limit": "blur_rad",
    "aperture.field_of_view": "blur_rad",
    "structure.deployed_first_mode_min": "first_mode_hz",
    "structure.stowed_first_mode_min": "stowed_first_mode_hz",
    "structure.launch_stress": "launch_stress_ratio",
    "structure.launch_contact_limit": "launch_contact_ratio",
    "structure.hinge_stress": "hinge_stress_ratio",
    "structure.torque_ratio_min": "torque_ratio",
    "structure.panel_gap": "panel_gap_m",
    "structure.edge_gap": "edge_gap_m",
}
_LEAST = ("structure.panel_gap", "structure.edge_gap")
"""Requirements to reach whose names do not say so."""


def check_requirements(record: Mapping[str, Any], asked: Asked | None, notes: Notes) -> None:
    """Margins and their signs, values against metrics, limits against the problem, none left out."""
    rows = {row["name"]: row for row in record["requirements"]}
    for name, row in rows.items():
        value, limit, margin = (float(row[k]) for k in ("value", "limit", "margin"))
        sense = row["direction"]
        if not notes.true(sense in ("max", "min"), "requirements", f"{name} direction", "max or min", sense):
            continue
        least = name in _LEAST or name.rsplit(".", 1)[-1].startswith("min_") or name.endswith("_min")
        wanted = "min" if least else "max"
        notes.true(sense == wanted, "requirements", f"{name} direction", wanted, sense)
        room = limit - value if sense == "max" else value - limit
        right = room / (abs(limit) or 1.0)
        notes.near("margin", name, right, margin, ARITHMETIC * max(1.0, abs(right)))
        notes.true(row["ok"] == (margin >= 0.0), "margin", f"{name} ok", margin >= 0.0, row["ok"])
        metric = METRIC_OF.get(name)
        if metric and metric in record["metrics"]:
            told = float(record["metrics"][metric])
            notes.near("requirement value", f"{name} against {metric}", told, value, ARITHMETIC * max(1e-6, abs(told)))
        if asked and name in asked.limits:
            told = asked.limits[name]
            notes.near("requirement limit", name, told, limit, ARITHMETIC * abs(told))
    notes.true("envelope.fit" in rows, "requirements", "envelope.fit", "always there", "missing")
    fit = rows.get("envelope.fit")
    if fit:
        notes.near("requirement limit", "envelope.fit", 1.0, float(fit["limit"]), 0.0)
    if asked:
        for name in sorted(set(asked.limits) - set(rows)):
            notes.add("requirements", name, "judged, as the problem limits it", "missing")
    _panel_sides(record, rows, notes)


def _panel_sides(record: Mapping[str, Any], rows: Mapping[str, Any], notes: Notes) -> None:
    """Least short and greatest long side over the smallest enclosing rectangles of the panels."""
    boxes = [np.asarray(shapely.Polygon(p["outline"]).minimum_rotated_rectangle.exterior.coords)
             for p in record["panels"]]  # fmt: skip
    sides = [np.sort(np.linalg.norm(np.diff(b, axis=0), axis=1)[:2]) for b in boxes]
    for name, found in (
        ("aperture.min_panel_width", min(float(s[0]) for s in sides)),
        ("aperture.max_panel_length", max(float(s[1]) for s in sides)),
    ):
        if name in rows:
            notes.near("panel sides", name, found, float(rows[name]["value"]), 1e-6)


def check_verification(record: Mapping[str, Any], notes: Notes) -> None:
    """What the record says of its own verification holds together."""
    told = record["verification"]
    slack = max([0.0, *(float(h["slack_m"]) for h in record["hinges"])])
    close = float(told["closure_residual_m"])
    notes.true(close <= 1e-9 + slack, "verification", "closure_residual_m", "at most 1e-9 and the slack", close)
    if told["verified"]:
        notes.true(told["least_clearance_m"] >= 0.0, "verification", "least_clearance_m of a verified candidate",
                   "not negative", told["least_clearance_m"])  # fmt: skip
        settled = told.get("order_sensitivity", {})
        for name in ("surface_rms", "first_mode"):
            change = abs(float(settled.get(name, math.inf)))
            notes.true(change < 0.02, "verification", f"order_sensitivity.{name}", "under 0.02", change)
    degree = told["plate_degree"]
    notes.true(degree >= 6, "verification", "plate_degree", "at least 6", degree)


def check_sums(record: Mapping[str, Any], notes: Notes) -> None:
    """surface_rms^2 = joints + figure + steady; the steady parts bound the steady whole; in-plane rms."""
    parts, metrics = record["accuracy"], record["metrics"]
    whole = math.sqrt(parts["joints_m2"] + parts["figure_m2"] + parts["steady_m2"])
    notes.near("surface rms", "surface_rms_m against its parts", whole, metrics["surface_rms_m"], 1e-6 * whole)
    least = math.sqrt(parts["in_plane_joints_m2"])
    fine = metrics["in_plane_rms_m"] >= least * (1.0 - 1e-6)
    notes.true(fine, "in-plane rms", "in_plane_rms_m", f"at least {least:.6g}", metrics["in_plane_rms_m"], "1e-6 of it")


def _modes(record: Mapping[str, Any], asked: Asked, degree: int, first: Sequence[float], notes: Notes) -> None:
    """Frequencies told: the first at the record's degree, later ones with two more. These are worked out only where
    they are not near already at the record's degree, which is nearly always enough."""
    told = [float(m["frequency_hz"]) for m in record.get("modes", [])]
    right = list(first)
    if any(abs(t - r) > FIGURES * r for t, r in zip(told[1:], right[1:], strict=False)):
        right[1:] = solve_network(record, degree + 2, asked.gravity_release, asked.refocus).modes[1:]
    for k, (mode, wanted) in enumerate(zip(told, right, strict=False), start=1):
        notes.near("modes", f"frequency of mode {k}", wanted, mode, FIGURES * wanted)


def check_network(record: Mapping[str, Any], asked: Asked, notes: Notes) -> None:
    """rms and first mode against a full solution of the network at the record's plate degree."""
    degree = int(record["verification"]["plate_degree"])
    try:
        found = solve_network(record, degree, asked.gravity_release, asked.refocus)
    except (RuntimeError, np.linalg.LinAlgError) as fault:
        notes.add("network", "deployed network", "every panel held by the mount", f"no solution: {fault}")
        return
    parts, metrics = record["accuracy"], record["metrics"]
    total = found.joints + found.figure + found.steady
    flat = found.in_plane_joints + found.in_plane_steady
    for name, expected, told, whole in (
        ("surface_rms_m", total, metrics["surface_rms_m"] ** 2, total),
        ("in_plane_rms_m", flat, metrics["in_plane_rms_m"] ** 2, flat),
        ("accuracy.joints_m2", found.joints, parts["joints_m2"], total),
        ("accuracy.figure_m2", found.figure, parts["figure_m2"], total),
        ("accuracy.bow_m2", found.bow, parts["bow_m2"], total),
        ("accuracy.gravity_m2", found.gravity, parts["gravity_m2"], total),
        ("accuracy.steady_m2", found.steady, parts["steady_m2"], total),
        ("accuracy.in_plane_joints_m2", found.in_plane_joints, parts["in_plane_joints_m2"], flat),
    ):
        off = abs(math.sqrt(expected) - math.sqrt(told))
        near = FIGURES * math.sqrt(expected) + math.sqrt(SMALL_SHARE**2 * whole)
        notes.true(off <= near, "accuracy", f"root of {name}", math.sqrt(expected), math.sqrt(told), near)
    notes.near("first mode", "first_mode_hz", found.first_mode, metrics["first_mode_hz"], FIGURES * found.first_mode)
    _modes(record, asked, degree, found.modes, notes)
    if "blur_rad" in metrics:
        blur = blur_of(found, asked)
        notes.near("blur", "blur_rad", blur, metrics["blur_rad"], FIGURES * blur)
    if record.get("budget") is not None:
        _budget(record["budget"], found, total, flat, notes)


def _budget(told: Mapping[str, Any], found: Found, total: float, flat: float, notes: Notes) -> None:
    """Shares of joints, datums and locked-in energy; joints and terms each add up to the misfits."""
    joints = {row["joint"]: row for row in told["joints"]}
    for name, (surface, in_plane, slope) in found.shares.items():
        if not notes.true(name in joints, "budget", f"joint {name}", "told", "missing"):
            continue
        row = joints[name]
        wholes = (total, flat, found.slope_joints + found.slope_steady)
        for key, right, whole in zip(
            ("surface_m2", "in_plane_m2", "slope_rad2"), (surface, in_plane, slope), wholes, strict=True
        ):
            off = abs(math.sqrt(right) - math.sqrt(row[key]))
            near = FIGURES * math.sqrt(right) + math.sqrt(SMALL_SHARE**2 * whole)
            notes.true(off <= near, "budget", f"root of {key} of {name}", math.sqrt(right), math.sqrt(row[key]), near)
    sums = {s["source"]: s for s in told["sources"]}["joint misfits"]
    keys = ("surface_m2", "in_plane_m2", "slope_rad2")
    for part in ("joints", "terms"):
        for key in keys:
            notes.near(
                "budget",
                f"sum of {key} over {part}",
                sums[key],
                math.fsum(r[key] for r in told[part]),
                1e-6 * sums[key],
            )
    for (name, square), right in zip(told["datums_m2"].items(), found.datums, strict=True):
        notes.near("budget", f"rms, {name}", math.sqrt(right), math.sqrt(square), FIGURES * math.sqrt(right))
    notes.near("budget", "locked-in energy", found.locked, told["locked_in"]["energy_j"], FIGURES * found.locked)
