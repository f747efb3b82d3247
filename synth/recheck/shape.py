"""Whether a record has every field of the contract, each of the right kind and size."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from synth.recheck.finding import Notes

# numbers: a shape such as "3 4", letters for any size, "" for one number; words: text, flag, index, words?
_UNIT = {"at": "3", "axes": "3 3", "stiffness": "6", "misfit_sigma": "6", "feet": "n 2", "pad_radius_m": ""}
_ENTRIES: dict[str, dict[str, str]] = {
    "panels": {
        "id": "index", "receiving": "flag", "outline": "n 2", "z_back": "", "z_front": "", "mass_kg": "",
        "bending_stiffness_n_m": "", "poisson_ratio": "", "bow_1_per_m": "", "figure_rms_m": "", "material": "text",
        "section": "text",
    },
    "hinges": {
        "id": "index", "panels": "2", "axis": "2 3", "stowed_angle_rad": "", "kind": "text", "slack_m": "",
        "mass_kg": "",
    },
    "latches": {"id": "index", "panels": "2", "kind": "text", "mass_kg": ""},
    "fittings": {"panel": "index", "joint": "text?", "outline": "n 2", "z_back": "", "z_front": "", "mass_kg": ""},
    "drives": {"name": "text", "panel": "index?", "mass_kg": ""},
    "restraints": {"name": "text", "panel": "index?", "mass_kg": ""},
    "requirements": {
        "name": "text", "direction": "text", "value": "", "limit": "", "unit": "text", "margin": "", "ok": "flag",
    },
}  # fmt: skip
_PARTS: dict[str, dict[str, str]] = {
    "path": {"s": "s", "poses": "s p 3 4", "angles": "s h"},
    "stowed": {"rotation": "3 3", "size_m": "3"},
    "accuracy": {
        "joints_m2": "", "figure_m2": "", "bow_m2": "", "gravity_m2": "", "steady_m2": "", "in_plane_joints_m2": "",
    },
    "verification": {
        "verified": "flag", "closure_residual_m": "", "least_clearance_m": "", "clearance_method": "text",
        "fits": "flag", "plate_degree": "index",
    },
}  # fmt: skip
METRICS = (
    "collecting_area_m2", "stowed_volume_m3", "longest_stowed_side_m", "mass_kg", "basic_mass_kg", "surface_rms_m",
    "in_plane_rms_m", "first_mode_hz", "packing_efficiency", "part_count",
)  # fmt: skip


def well_formed(record: Mapping[str, Any], notes: Notes) -> bool:
    """Adds a finding for each missing or misshapen field; returns whether the record can be read on."""
    before = len(notes.found)
    if record.get("schema") != "candidate/1":
        notes.add("schema", "schema", "candidate/1", repr(record.get("schema")))
        return False
    for name in ("id", "family", "envelope", "problem_digest"):
        _fits(record.get(name), "text", name, notes)
    for name in ("genes", "metrics"):
        notes.true(isinstance(record.get(name), dict), "schema", name, "an object", type(record.get(name)).__name__)
    for name, wanted in _ENTRIES.items():
        entries = record.get(name)
        if not notes.true(isinstance(entries, list), "schema", name, "a list", type(entries).__name__):
            continue
        for k, entry in enumerate(entries or []):
            _object(entry, wanted, f"{name}[{k}]", notes)
            if name in ("hinges", "latches"):
                _units(entry, f"{name}[{k}]", notes)
    for name, wanted in _PARTS.items():
        _object(record.get(name), wanted, name, notes)
    mount = record.get("mount")
    _object(mount, {"panel": "index", "mass_kg": ""}, "mount", notes)
    _units(mount, "mount", notes)
    if len(notes.found) == before:
        _together(record, notes)
    return len(notes.found) == before


def _object(entry: Any, wanted: Mapping[str, str], place: str, notes: Notes) -> None:
    if not notes.true(isinstance(entry, dict), "schema", place, "an object", type(entry).__name__):
        return
    for name, kind in wanted.items():
        if name not in entry:
            notes.add("schema", f"{place}.{name}", "given", "missing")
        else:
            _fits(entry[name], kind, f"{place}.{name}", notes)


def _units(joint: Any, place: str, notes: Notes) -> None:
    units = joint.get("units") if isinstance(joint, dict) else None
    if notes.true(isinstance(units, list) and bool(units), "schema", f"{place}.units", "a list", type(units).__name__):
        for k, unit in enumerate(units or []):
            _object(unit, _UNIT, f"{place}.units[{k}]", notes)
            if isinstance(unit, dict) and unit.get("free_offset") is not None:
                _fits(unit["free_offset"], "6", f"{place}.units[{k}].free_offset", notes)


def _fits(value: Any, kind: str, place: str, notes: Notes) -> None:
    if kind.endswith("?") and value is None:
        return
    kind = kind.rstrip("?")
    words = {"text": str, "flag": bool, "index": int}
    if kind in words:
        fine = isinstance(value, words[kind])
        if kind == "index":
            fine = isinstance(value, int) and not isinstance(value, bool) and value >= 0
        notes.true(fine, "schema", place, kind, repr(value)[:40])
        return
    try:
        array = np.asarray(value)
    except ValueError:
        array = np.asarray("ragged")
    wanted = kind.split()
    fine = array.dtype.kind in "iuf" and array.ndim == len(wanted)
    fine = fine and all(not w.isdigit() or n == int(w) for w, n in zip(wanted, array.shape, strict=True))
    fine = fine and bool(np.isfinite(array).all())
    notes.true(fine, "schema", place, f"finite numbers [{kind}]", f"{array.dtype} {list(array.shape)}")


def _together(record: Mapping[str, Any], notes: Notes) -> None:
    """Ids, references, and sizes that must agree."""
    panels, hinges, path = record["panels"], record["hinges"], record["path"]
    for name in ("panels", "hinges", "latches"):
        ids = [entry["id"] for entry in record[name]]
        notes.true(ids == list(range(len(ids))), "ids", name, "0, 1, 2, ... in order", str(ids)[:60])
    count, frames = len(panels), len(path["s"])
    notes.true(count > 0, "schema", "panels", "at least one", count)
    notes.true(record["mount"]["panel"] == 0, "ids", "mount.panel", 0, record["mount"]["panel"])
    for name in ("hinges", "latches"):
        for joint in record[name]:
            i, j = joint["panels"]
            fine = i != j and min(i, j) >= 0 and max(i, j) < count and i == int(i) and j == int(j)
            notes.true(fine, "ids", f"{name}[{joint['id']}].panels", f"two panels below {count}", [i, j])
    for k, fitting in enumerate(record["fittings"]):
        joint = fitting["joint"]
        known = joint is None or _known_joint(joint, record)
        notes.true(known, "ids", f"fittings[{k}].joint", "a hinge or latch of the record", joint)
        notes.true(fitting["panel"] < count, "ids", f"fittings[{k}].panel", f"below {count}", fitting["panel"])
    for name in ("drives", "restraints"):
        for k, lump in enumerate(record[name]):
            fine = lump["panel"] is None or lump["panel"] < count
            notes.true(fine, "ids", f"{name}[{k}].panel", f"below {count}", lump["panel"])
    poses, angles = np.shape(path["poses"]), np.shape(path["angles"])
    notes.true(poses[:2] == (frames, count), "schema", "path.poses", [frames, count, 3, 4], list(poses))
    angle_shape = (frames, len(hinges))
    notes.true(angles == angle_shape, "schema", "path.angles", list(angle_shape), list(angles))
    for name in METRICS:
        _fits(record["metrics"].get(name), "", f"metrics.{name}", notes)


def _known_joint(joint: str, record: Mapping[str, Any]) -> bool:
    kind, _, number = joint.partition(" ")
    lists = {"hinge": "hinges", "latch": "latches"}
    return kind in lists and number.isdigit() and int(number) < len(record[lists[kind]])
