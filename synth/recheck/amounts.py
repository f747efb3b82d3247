"""Outlines, masses, areas, stowed size, counts: each worked out from the record alone."""

import math
from collections.abc import Mapping
from typing import Any

import numpy as np
import shapely

from synth.recheck.asked import Asked
from synth.recheck.circle import least_diameter
from synth.recheck.clearance import record_solids, told_as_missed
from synth.recheck.finding import Notes
from synth.recheck.motion import carried
from synth.recheck.parts import CLOSE, WIDE, distinct_outlines
from synth.recheck.solid import polygon

EDGE = 1e-7
"""Deployed distances of outlines (m)."""
SIZE = 1e-6
AREA = 1e-6
ARITHMETIC = 1e-9


def check_layout(record: Mapping[str, Any], asked: Asked | None, notes: Notes) -> bool:
    """Outlines simple and counter-clockwise, prisms, fronts, feet, deployed gaps. Returns whether outlines hold."""
    before = len(notes.found)
    for panel in record["panels"]:
        _outline(panel["outline"], f"panel {panel['id']}", notes)
        for k, hole in enumerate(panel.get("holes", [])):
            inside = polygon(panel["outline"]).buffer(EDGE).contains(polygon(hole))
            notes.true(inside, "outline", f"hole {k} of panel {panel['id']}", "inside the outline", "outside")
        for k, window in enumerate(panel.get("windows") or []):
            _outline(window, f"window {k} of panel {panel['id']}", notes)
        _prism(panel, f"panel {panel['id']}", notes)
        z = panel["z_front"]
        notes.true(z <= 0.0, "front", f"panel {panel['id']} z_front", "not above 0", z)
        if panel["receiving"]:
            notes.near("front", f"receiving panel {panel['id']} z_front", 0.0, float(z), 1e-12)
    for k, fitting in enumerate(record["fittings"]):
        _outline(fitting["outline"], f"fitting {k}", notes)
        _prism(fitting, f"fitting {k}", notes)
    if len(notes.found) > before:
        return False
    _deployed_gaps(record, asked, notes)
    _feet(record, notes)
    _windows(record, notes)
    return True


def _outline(corners: Any, name: str, notes: Notes) -> None:
    ring = np.asarray(corners, dtype=np.float64)
    shape = shapely.Polygon(ring)
    if not notes.true(shape.is_valid and shape.area > 0, "outline", name, "a simple polygon", "crosses itself"):
        return
    notes.true(shapely.LinearRing(ring).is_ccw, "outline", name, "counter-clockwise", "clockwise")
    short = np.linalg.norm(ring - np.roll(ring, 1, axis=0), axis=1).min()
    notes.true(short > 1e-9, "outline", name, "no repeated corners", float(short))


def _prism(part: Mapping[str, Any], name: str, notes: Notes) -> None:
    height = part["z_front"] - part["z_back"]
    notes.true(height > 0.0, "prism", name, "z_back below z_front", height)
    notes.true(part["mass_kg"] >= 0.0, "mass", name, "not negative", part["mass_kg"])


def _deployed_gaps(record: Mapping[str, Any], asked: Asked | None, notes: Notes) -> None:
    """Outlines of panels that share some z lie at least the edge gap apart."""
    gap = asked.edge_gap if asked and not told_as_missed(record, "structure.edge_gap") else 0.0
    panels = record["panels"]
    shapes = [polygon(p["outline"], p.get("holes", [])) for p in panels]
    tree = shapely.STRtree(shapes)
    first, second = tree.query(shapes, predicate="dwithin", distance=gap + EDGE)
    for i, j in zip(first.tolist(), second.tolist(), strict=True):
        a, b = panels[i], panels[j]
        if i >= j or min(a["z_front"], b["z_front"]) - max(a["z_back"], b["z_back"]) <= EDGE:
            continue
        overlap = shapes[i].intersection(shapes[j]).area
        if notes.true(overlap <= EDGE**2, "overlap", f"panels {i} and {j} deployed", "apart", f"{overlap:.3g} m2"):
            found = shapes[i].distance(shapes[j])
            notes.true(found >= gap - EDGE, "edge gap", f"panels {i} and {j}", f"at least {gap:.6g}", found, EDGE)


def _feet(record: Mapping[str, Any], notes: Notes) -> None:
    """Feet inside the outlines of their panels; axes of units right-handed and upright; springs not negative."""
    shapes = [polygon(p["outline"], p.get("holes", [])).buffer(EDGE) for p in record["panels"]]
    for name, panels, unit in named_units(record):
        feet = unit["feet"]
        sides = panels if len(feet) == len(panels) else panels * len(feet)
        notes.true(len(feet) in (len(panels), 2), "feet", name, f"{len(panels)} feet", len(feet))
        for foot, panel in zip(feet, sides, strict=False):
            inside = shapely.contains_xy(shapes[panel], *foot)
            notes.true(bool(inside), "feet", f"{name} on panel {panel}", "inside its outline", foot)
        axes = np.asarray(unit["axes"], dtype=np.float64)
        off = float(np.abs(axes @ axes.T - np.eye(3)).max())
        notes.true(off <= 1e-6 and np.linalg.det(axes) > 0, "axes", name, "right-handed, orthonormal", off, 1e-6)
        notes.true(min(unit["stiffness"]) >= 0.0, "stiffness", name, "not negative", min(unit["stiffness"]))
        notes.true(min(unit["misfit_sigma"]) >= 0.0, "misfit", name, "not negative", min(unit["misfit_sigma"]))


def named_units(record: Mapping[str, Any]) -> list[tuple[str, list[int], Mapping[str, Any]]]:
    """(name, panels, unit) of every unit: hinges, latches, then the mount with panel 0 alone."""
    found = []
    for kind, joints in (("hinge", record["hinges"]), ("latch", record["latches"])):
        for joint in joints:
            found += [(f"{kind} {joint['id']} unit {k}", joint["panels"], u) for k, u in enumerate(joint["units"])]
    return found + [(f"mount unit {k}", [0], u) for k, u in enumerate(record["mount"]["units"])]


def _windows(record: Mapping[str, Any], notes: Notes) -> None:
    for panel in record["panels"]:
        shape = polygon(panel["outline"], panel.get("holes", [])).buffer(EDGE)
        for k, window in enumerate(panel.get("windows") or []):
            inside = shape.contains(polygon(window))
            notes.true(inside, "window", f"window {k} of panel {panel['id']}", "inside its face", "outside")


def collecting_area(record: Mapping[str, Any], asked: Asked) -> float:
    """Windows of receiving faces within the clear circle less what covers them (m^2).

    The circle is a polygon of 16384 sides with the circle's own area, so it is right to 1e-7 of it.
    """
    sides = 16384
    step = 2.0 * math.pi / sides
    radius = asked.clear_diameter / 2.0 * math.sqrt(step / math.sin(step))
    angle = (np.arange(sides) + 0.5) * step
    circle = shapely.Polygon(np.stack([radius * np.cos(angle), radius * np.sin(angle)], axis=-1))
    shapely.prepare(circle)
    covers = [polygon(f["outline"]) for f in record["fittings"] if asked.transmissive or f["z_front"] > 1e-12]
    if asked.transmissive:
        covers += [polygon(p["outline"], p.get("holes", [])) for p in record["panels"] if not p["receiving"]]
    tree = shapely.STRtree(covers) if covers else None
    total = 0.0
    for panel in record["panels"]:
        if not panel["receiving"]:
            continue
        face = polygon(panel["outline"], panel.get("holes", []))
        windows = panel.get("windows")
        clear = face if windows is None else shapely.union_all([polygon(w) for w in windows]).intersection(face)
        if not circle.contains_properly(clear):
            clear = clear.intersection(circle)
        if tree is not None:
            over = [covers[k] for k in sorted(tree.query(clear, predicate="intersects").tolist())]
            clear = clear.difference(shapely.union_all(over)) if over else clear
        total += float(clear.area)
    return total


def stowed_corners(record: Mapping[str, Any]) -> Any:
    """Corners of all solids in the envelope's axes [N, 3]."""
    solids = record_solids(record)
    poses = np.asarray(record["path"]["poses"][0], dtype=np.float64)[solids.panel]
    return carried(poses, solids.corners).reshape(-1, 3) @ np.asarray(record["stowed"]["rotation"]).T


def check_stowed(record: Mapping[str, Any], asked: Asked | None, notes: Notes) -> None:
    """Rotation proper, size of all solids, volume, longest side, packing efficiency, fit."""
    rotation = np.asarray(record["stowed"]["rotation"], dtype=np.float64)
    off = float(np.abs(rotation @ rotation.T - np.eye(3)).max())
    proper = off <= 1e-9 and np.linalg.det(rotation) > 0
    notes.true(proper, "stowed rotation", "stowed.rotation", "a proper rotation", f"off by {off:.3g}", 1e-9)
    room = asked.rooms.get(record["envelope"]) if asked else None
    points = stowed_corners(record)
    size = np.ptp(points, axis=0)
    told = np.asarray(record["stowed"]["size_m"], dtype=np.float64)
    # without the problem file a record does not say whether its envelope is round: it must be one of the two
    span = least_diameter(points[:, :2])
    sized = np.array([span, span, size[2]])
    round_envelope = room.round if room else bool(np.abs(told - sized).max() < np.abs(told - size).max())
    size = sized if round_envelope else size
    for k, axis in enumerate("xyz"):
        notes.near("stowed size", f"side {axis}", float(size[k]), float(told[k]), SIZE)
    volume = float(np.prod(told)) * (math.pi / 4.0 if round_envelope else 1.0)
    metrics = record["metrics"]
    notes.near("stowed volume", "stowed_volume_m3", volume, metrics["stowed_volume_m3"], ARITHMETIC)
    notes.near("longest side", "longest_stowed_side_m", float(told.max()), metrics["longest_stowed_side_m"], SIZE)
    solid = sum(polygon(p["outline"], p.get("holes", [])).area * (p["z_front"] - p["z_back"]) for p in record["panels"])
    notes.near("packing", "packing_efficiency", float(solid / volume), metrics["packing_efficiency"], 1e-6)
    if room is None or room.allowed is None:
        return
    ratio = float((told / np.asarray(room.allowed)).max())
    row = next((r for r in record["requirements"] if r["name"] == "envelope.fit"), None)
    if notes.true(row is not None, "requirements", "envelope.fit", "always there", "missing") and row:
        notes.near("envelope fit", "envelope.fit", ratio, float(row["value"]), 1e-6)
    fits = ratio <= 1.0 + 1e-9
    notes.true(record["verification"]["fits"] == fits, "envelope fit", "verification.fits", fits, not fits)
    if not fits and not room.round and (np.sort(told) <= np.sort(room.allowed)).all():
        notes.add("stowed rotation", "the same box turned by right angles fits", list(room.allowed), told.tolist())


def check_counts(record: Mapping[str, Any], asked: Asked | None, notes: Notes) -> None:
    """Part count; number of panels; collecting area."""
    count = len(record["panels"]) + len(record["hinges"]) + len(record["latches"])
    notes.near("part count", "part_count", float(count), float(record["metrics"]["part_count"]), 0.0)
    if "distinct_parts" in record["metrics"]:
        outlines = [p["outline"] for p in record["panels"]]
        least, greatest = (distinct_outlines(outlines, alike) for alike in (WIDE, CLOSE))
        told = float(record["metrics"]["distinct_parts"])
        notes.true(least <= told <= greatest, "distinct parts", "distinct_parts", f"{least} to {greatest}", told)
    if asked is None:
        return
    most = asked.max_panels
    if most is not None:
        notes.true(len(record["panels"]) <= most, "max panels", "panels", f"at most {most}", len(record["panels"]))
    area = collecting_area(record, asked)
    notes.near("collecting area", "collecting_area_m2", area, record["metrics"]["collecting_area_m2"], AREA)
