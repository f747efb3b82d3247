"""Quantities in words and signs for the page: titles, units as they are printed, how a metric is shown."""

import re
from typing import Any

from synth.core.units import show
from synth.export.engineering import shown
from synth.metrics import METRICS

_FULL = {
    "longest_stowed_side_m": "longest stowed side",
    "collecting_area_m2": "collecting area",
    "surface_rms_m": "surface error rms",
    "in_plane_rms_m": "in-plane error rms",
    "stowed_first_mode_hz": "stowed first mode",
    "packing_efficiency": "packing efficiency",
    "fit_ratio": "envelope fit",
    "launch_stress_ratio": "launch stress ratio",
    "least_panel_width_m": "least panel width",
    "mass_kg": "mass with growth",
}
_REQUIREMENTS = {
    "envelope.fit": "Fits the envelope",
    "mass.limit": "Mass with growth",
    "accuracy.surface_rms_limit": "Surface error rms",
    "accuracy.in_plane_rms_limit": "In-plane error rms",
    "accuracy.blur_limit": "Blur",
    "aperture.min_collecting_area": "Collecting area",
    "aperture.min_panel_width": "Panel width",
    "aperture.max_panel_length": "Panel length",
    "structure.deployed_first_mode_min": "First mode, deployed",
    "structure.stowed_first_mode_min": "First mode, stowed",
    "aperture.field_of_view": "Blur within the field of view",
    "structure.launch_stress": "Launch stress over allowable",
    "structure.hinge_stress": "Hinge stress over allowable",
    "structure.launch_contact_limit": "Deflection at launch over the gap",
    "structure.torque_ratio_min": "Torque ratio of the drive",
    "structure.panel_gap": "Gap between stowed panels",
    "structure.edge_gap": "Gap between deployed edges",
}


def sign(text: str) -> str:
    """Unit signs as they are printed: m², µm, µrad."""
    return re.sub(r"\bu(m|rad)\b", r"µ\1", text).replace("^2", "²").replace("^3", "³")


def told(value: float, unit: str) -> str:
    """An SI value as text with its printed unit."""
    return sign(show(value, unit))


def metric(name: str) -> dict[str, Any]:
    """How a metric is shown (value times scale, in unit, with decimals), which way is better and what it means."""
    how = shown(name)
    known = METRICS.get(name)
    return {
        "name": name,
        "title": _FULL.get(name, how.title),
        "unit": sign(how.unit),
        "scale": how.scale,
        "decimals": how.decimals,
        "better": known.better if known else "",
        "about": " ".join(known.doc.split()) if known else "",
    }


def requirement_title(name: str) -> str:
    """A requirement's field in words."""
    return _REQUIREMENTS.get(name) or name.rsplit(".", 1)[-1].replace("_", " ").capitalize()


def requirement(told_by_record: dict[str, Any]) -> dict[str, Any]:
    """A requirement of a record for reading: title, value and limit as text, margin, whether it is met."""
    name, unit = str(told_by_record["name"]), str(told_by_record["unit"])
    return {
        "field": name,
        "title": requirement_title(name),
        "direction": told_by_record["direction"],
        "value": told(float(told_by_record["value"]), unit),
        "limit": told(float(told_by_record["limit"]), unit),
        "margin": float(told_by_record["margin"]),
        "ok": bool(told_by_record["ok"]),
    }
