"""Torque margins, energy and speed of a record's hinges worked out anew from the torques and masses it tells."""

import math
from collections.abc import Mapping
from typing import Any

import numpy as np

from synth.recheck.finding import Notes
from synth.recheck.launch import carried_masses
from synth.recheck.solid import Array

TOLD = 1e-4
"""Relative: torques and angles are told with six digits."""
ALONG = 0.05
"""Relative: a loop is looked at along the record's frames, between the told angles in straight lines."""
TERMS = ("supplied", "spring", "friction", "hysteresis", "harness", "inertia")


def check_drive(record: Mapping[str, Any], notes: Notes) -> None:
    """Angles, inertia, margins of both standard forms, energy, rates, and the metrics that follow."""
    told = record.get("drive")
    if told is None:
        return
    ids = [row["hinge"] for row in told["hinges"]]
    if not notes.true(ids == [h["id"] for h in record["hinges"]], "drive", "hinges", "every hinge in order", ids):
        return
    tied = any(h["slack_m"] > 0.0 for h in record["hinges"]) or len(ids) > len(record["panels"]) - 1
    inertia = moved_inertia(record)
    margins = []
    for row, hinge in zip(told["hinges"], record["hinges"], strict=True):
        if not _shape(row, hinge, notes):
            return
        _hinge(row, hinge, told, inertia[row["hinge"]], notes)
        if not tied and abs(hinge["stowed_angle_rad"]) > 1e-6:
            found = _margins(_torques(row), told)
            margins += found
            for name, value in zip(("ecss_margin", "nasa_margin"), found, strict=True):
                here = row.get(name)
                if notes.true(here is not None, "drive", f"hinge {row['hinge']} {name}", "told", here):
                    notes.near("drive", f"hinge {row['hinge']} {name}", value, float(here), TOLD * (2.0 + abs(value)))
    energy = [float(row["stored_energy_j"]) for row in told["hinges"]]
    if tied:
        found = _along(record, told)
        margins += found
        for name, value in zip(("ecss_margin", "nasa_margin"), found, strict=True):
            here = float((told.get("loop") or {}).get(name, math.nan))
            notes.near("drive", f"loop {name}", value, here, ALONG * (1.0 + abs(value)))
    worst = 1.0 + min(margins, default=99.0)
    near = (ALONG if tied else TOLD) * (2.0 + abs(worst))
    notes.near("drive", "torque_ratio", worst, float(record["metrics"]["torque_ratio"]), near)
    most = sum(energy) if tied else max(energy, default=0.0)
    notes.near("drive", "latch_energy_j", most, float(record["metrics"]["latch_energy_j"]), 1e-6 * max(1.0, most))


def _shape(row: Mapping[str, Any], hinge: Mapping[str, Any], notes: Notes) -> bool:
    angle = np.asarray(row["angle_rad"], dtype=np.float64)
    name = f"hinge {row['hinge']}"
    even = all(len(row[f"{t}_n_m"]) == len(angle) and min(row[f"{t}_n_m"]) >= 0.0 for t in TERMS)
    if not notes.true(even and len(angle) >= 2, "drive", name, "as many torques as angles, none negative", "not so"):
        return False
    stowed = abs(float(hinge["stowed_angle_rad"]))
    notes.near("drive", f"{name} first angle", stowed, float(angle[0]), TOLD * max(stowed, 1e-3))
    falls = bool((np.diff(angle) <= 1e-9).all()) and angle[-1] >= -1e-12
    return notes.true(falls, "drive", f"{name} angles", "falling to deployed", angle.tolist())


def _hinge(
    row: Mapping[str, Any], hinge: Mapping[str, Any], told: Mapping[str, Any], inertia: float, notes: Notes
) -> None:
    """Inertia, its torque, elastic energy and rates of one hinge."""
    name, stowed, time = f"hinge {row['hinge']}", abs(float(hinge["stowed_angle_rad"])), float(told["stage_seconds"])
    here = float(row["moved_inertia_kg_m2"])
    notes.near("drive", f"{name} moved inertia", inertia, here, 1e-6 * max(inertia, 1e-6))
    torque = 10.0 / math.sqrt(3.0) * here * stowed / time**2
    notes.near("drive", f"{name} inertia torque", torque, float(max(row["inertia_n_m"])), TOLD * max(torque, 1e-9))
    energy = float(row["stored_energy_j"])
    angle = np.asarray(row["angle_rad"], dtype=np.float64)
    given = np.asarray(row["supplied_n_m"], dtype=np.float64) - np.asarray(row["spring_n_m"], dtype=np.float64)
    steps = 0.5 * (given[1:] + given[:-1]) * -np.diff(angle)
    if angle[-1] <= 1e-9:  # springs alone: straight lines between the told angles
        whole = max(0.0, float(steps.sum()))
        notes.near("drive", f"{name} stored energy", whole, energy, 0.01 * max(whole, 1e-6))
    else:  # a tape: at least its steady fold, up to where it snaps
        least = float(steps[:-1].sum())
        notes.true(energy >= 0.99 * least, "drive", f"{name} stored energy", f"at least {least:.6g}", energy)
    rate = math.sqrt(2.0 * energy / max(here, 1e-12))
    notes.near("drive", f"{name} free rate", rate, float(row["free_rate_rad_s"]), 1e-6 * max(rate, 1e-6))
    slow = 1.875 * stowed / time
    notes.near("drive", f"{name} damped rate", slow, float(row["damped_rate_rad_s"]), 1e-6 * max(slow, 1e-6))


def _torques(row: Mapping[str, Any]) -> Array:
    """[6, S] in the order of TERMS."""
    return np.array([row[f"{t}_n_m"] for t in TERMS], dtype=np.float64)


def _margins(torque: Array, told: Mapping[str, Any]) -> list[float]:
    """[ECSS, NASA] least over angles, cold and hot, torques [6, S]."""
    cold, hot = told["cold"], told["hot"]
    factors = (
        np.array([1.0, 1.0, cold["friction"], cold["harness"], cold["harness"], 1.0]),
        np.array([hot["spring"], 1.0, 1.0, 1.0, 1.0, 1.0]),
    )
    ecss, nasa = [], []
    for factor in factors:
        given, spring, friction, lag, harness, moved = torque * factor[:, None]
        varying = friction + lag + harness
        ecss.append(0.8 * given / np.maximum(2.0 * (1.2 * spring + 3.0 * varying) + 1.25 * moved, 1e-12) - 1.0)
        nasa.append(given / np.maximum(1.5 * spring + 3.0 * varying + 1.25 * moved, 1e-12) - 1.0)
    return [float(np.min(ecss)), float(np.min(nasa))]


def _along(record: Mapping[str, Any], told: Mapping[str, Any]) -> list[float]:
    """Margins of all hinges as one mechanism: torques times rates, frame by frame."""
    angle = np.asarray(record["path"]["angles"], dtype=np.float64)
    rate = np.abs(np.gradient(angle, axis=0))
    total = np.zeros((len(TERMS), len(angle)))
    for row in told["hinges"]:
        h = row["hinge"]
        known = np.asarray(row["angle_rad"], dtype=np.float64)[::-1]
        for k, values in enumerate(_torques(row)):
            total[k] += np.interp(np.abs(angle[:, h]), known, values[::-1]) * rate[:, h]
    moves = rate.sum(axis=1) > 1e-6
    return _margins(total[:, moves], told) if moves.any() else [99.0, 99.0]


def moved_inertia(record: Mapping[str, Any]) -> dict[int, float]:
    """kg m^2 about each hinge line of what hangs on it, deployed; panels as even slabs with all they carry."""
    mass, panels = carried_masses(record), {p["id"]: p for p in record["panels"]}
    tree = record["hinges"][: len(panels) - 1]
    child = {h["id"]: int(h["panels"][1]) for h in record["hinges"]}
    below: dict[int, list[int]] = {p: [] for p in panels}
    for hinge in tree:
        below[int(hinge["panels"][0])].append(int(hinge["panels"][1]))
    found = {}
    for hinge in record["hinges"]:
        beyond, waiting = [], [child[hinge["id"]]]
        while waiting:
            p = waiting.pop()
            beyond.append(p)
            waiting += below[p] if hinge in tree else []
        found[hinge["id"]] = sum(mass[p] * _gyration(panels[p], hinge) for p in beyond)
    return found


def _gyration(panel: Mapping[str, Any], hinge: Mapping[str, Any]) -> float:
    """Mean squared distance of a slab from a hinge line in a plane z = const, m^2."""
    first, second = (np.asarray(e, dtype=np.float64) for e in hinge["axis"])
    along = (second - first)[:2] / np.linalg.norm((second - first)[:2])
    ring = np.asarray(panel["outline"], dtype=np.float64)
    d = (ring - first[:2]) @ np.array([-along[1], along[0]])
    after = np.roll(d, -1)
    # triangles from one inner point; over a triangle the mean of a product is (sum of squares + sum of products) / 6
    origin = ring.mean(axis=0)
    p, q = ring - origin, np.roll(ring, -1, axis=0) - origin
    weight = p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]
    base = float((origin - first[:2]) @ np.array([-along[1], along[0]]))
    square = float((weight * (d * d + after * after + base * base + d * after + base * (d + after))).sum()) / 12.0
    across = square / (0.5 * float(weight.sum()))
    middle, half = 0.5 * (panel["z_back"] + panel["z_front"]), 0.5 * (panel["z_front"] - panel["z_back"])
    return float(across + (middle - 0.5 * (first[2] + second[2])) ** 2 + half * half / 3.0)
