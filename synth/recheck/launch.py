"""The stowed stack of a record worked out anew: carried masses, first mode, deflection, stress, preload."""

import math
from collections.abc import Mapping
from typing import Any

import numpy as np
import shapely

from synth.recheck.finding import Notes
from synth.recheck.plate import Plate, plate
from synth.recheck.solid import Array, polygon

STANDARD_GRAVITY = 9.80665
DEGREE = 6
FIGURES = 0.05
"""Relative: first mode and deflection; both models are plates of this degree on the same springs."""
STRESS = 0.10
"""Relative: peak moments near hold-downs depend on where one looks."""


def check_launch(record: Mapping[str, Any], notes: Notes) -> None:
    """Figures of the stowed stack from the hold-downs that the record tells."""
    told = record.get("launch")
    if told is None:
        return
    rows = told["panels"]
    ids = [r["panel"] for r in rows]
    if not notes.true(ids == [p["id"] for p in record["panels"]], "launch", "panels held", "every panel", ids):
        return
    carried = carried_masses(record)
    for panel, row in zip(record["panels"], rows, strict=True):
        name = f"panel {panel['id']}"
        right, mass = carried[panel["id"]], float(row["carried_kg"])
        notes.near("launch", f"mass carried by {name}", right, mass, 1e-9 * max(1.0, right))
        inside = shapely.contains_xy(polygon(panel["outline"]), *np.asarray(row["hold_downs"]).T)
        notes.true(bool(np.all(inside)) and len(row["hold_downs"]) >= 3, "launch", f"hold-downs of {name}",
                   "three or more inside its outline", row["hold_downs"])  # fmt: skip
    _figures(record, told, carried, notes)


def carried_masses(record: Mapping[str, Any]) -> dict[int, float]:
    """kg of each panel with its fittings, half of each of its joints, its drives and restraints."""
    mass = {p["id"]: float(p["mass_kg"]) for p in record["panels"]}
    for joint in [*record["hinges"], *record["latches"]]:
        for panel in joint["panels"]:
            mass[panel] += 0.5 * float(joint["mass_kg"])
    for part in [*record["fittings"], *record["drives"], *record["restraints"]]:
        if part["panel"] is not None:
            mass[part["panel"]] += float(part["mass_kg"])
    return mass


def _figures(record: Mapping[str, Any], told: Mapping[str, Any], carried: Mapping[int, float], notes: Notes) -> None:
    metrics, load = record["metrics"], STANDARD_GRAVITY * float(told["load_g"])
    slow, sag, moment = 0.0, 0.0, 0.0
    for panel, row in zip(record["panels"], told["panels"], strict=True):
        one = _held(panel, row, float(told["pad_normal_n_per_m"]), carried[panel["id"]], load)
        slow, sag, moment = max(slow, one[0]), max(sag, one[1]), max(moment, one[2])
    points = int(told["stack_points"])
    masses = np.array([carried[p["id"]] for p in record["panels"]])
    layer = np.array([float(r["layer"]) for r in told["panels"]])
    normal, lateral = points * float(told["pad_normal_n_per_m"]), points * float(told["pad_lateral_n_per_m"])
    if told["stacked"]:
        chain = np.sqrt(np.outer(masses, masses)) * np.minimum.outer(layer, layer)
        slow += max(0.0, float(np.linalg.eigvalsh(chain - np.diag(masses))[-1]) / normal)
        slow = max(slow, float(np.linalg.eigvalsh(chain)[-1]) / lateral)
        pile = float(masses.sum())
    else:
        pile = float(masses.max())
        slow = max(slow, pile / lateral)
    first = 1.0 / (2.0 * math.pi * math.sqrt(slow))
    framed = any(p.get("windows") is not None for p in record["panels"])
    told_first = float(metrics["stowed_first_mode_hz"])
    if not framed or told_first > first:  # a sheet in its frame may be softer than the whole panel on its pads
        notes.near("launch", "stowed_first_mode_hz", first, told_first, FIGURES * first)
    preload = load * pile / points
    notes.near("launch", "restraint_preload_n", preload, metrics["restraint_preload_n"], 1e-6 * max(1.0, preload))
    notes.near("launch", "launch_deflection_m", sag, metrics["launch_deflection_m"], FIGURES * sag + 1e-9)
    ratio = moment * float(told["stress_per_moment_1_per_m2"]) / float(told["allowable_pa"])
    told_ratio = float(metrics["launch_stress_ratio"])
    if not framed or told_ratio < ratio:
        notes.near("launch", "launch_stress_ratio", ratio, told_ratio, STRESS * ratio + 1e-9)
    gap = max(float(metrics["panel_gap_m"]), 1e-6)
    share = float(metrics["launch_deflection_m"]) / gap
    notes.near("launch", "launch_contact_ratio", share, metrics["launch_contact_ratio"], 1e-6 * max(1.0, share))


def _held(panel: Mapping[str, Any], row: Mapping[str, Any], pad: float, mass: float, load: float) -> tuple[float, ...]:
    """(1 / omega^2, greatest deflection, greatest principal moment) of a plate on its pads under load (m/s^2)."""
    p = plate(panel, DEGREE)
    points = np.asarray(row["hold_downs"], dtype=np.float64)
    mean, _ = p.over_discs(points, np.full(len(points), float(row["pad_radius_m"])))
    stiffness = p.bending + pad * mean.T @ mean
    slow = mass * float(np.linalg.eigvalsh(np.linalg.inv(stiffness))[-1])
    shape = np.linalg.solve(stiffness, mass * load * (p.weights @ p.shape))
    where = _places(panel, points, p)
    sag = float(np.abs(p.at(where)[0] @ shape).max())
    xx, yy, xy = (b @ shape for b in p.bends(where))
    d, nu = float(panel["bending_stiffness_n_m"]), float(panel["poisson_ratio"])
    mean_moment, differ = 0.5 * (1.0 + nu) * (xx + yy), 0.5 * (1.0 - nu) * (xx - yy)
    principal = d * (np.abs(mean_moment) + np.hypot(differ, (1.0 - nu) * xy))
    return slow, sag, float(principal.max())


def _places(panel: Mapping[str, Any], points: Array, p: Plate) -> Array:
    """Where deflection and moment are looked at: the supports, the centre, rays to corners and middles of sides."""
    ring = np.asarray(panel["outline"], dtype=np.float64)
    ends = np.concatenate([ring, 0.5 * (ring + np.roll(ring, -1, axis=0))])
    rays = [p.centre + share * (ends - p.centre) for share in (0.25, 0.5, 0.75, 0.95, 1.0)]
    return np.concatenate([p.centre[None], points, *rays])
