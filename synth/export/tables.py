"""Tables that detailed design starts from: parts, joints, stages, mass properties. SI, units in the names."""

import math
from pathlib import Path
from typing import Any

import numpy as np

from synth.core.arrays import Floats, transform
from synth.export.csv_text import spread, write_table
from synth.export.inertia import MassProperties, body, held, of_prism, together, whole
from synth.export.kinds import Kind, kinds
from synth.export.linkage import axis_of, moved_by, poses, stage_of
from synth.export.parts import Record, fitting_prisms, hinge_sense, panel_prism

XYZ = ("x", "y", "z")
SIX = ("xx", "yy", "zz", "xy", "xz", "yz")
FREEDOMS = ("along", "across", "z", "about_along", "about_across", "about_z")
PEAK = 10.0 / math.sqrt(3.0)
"""Peak acceleration of the smoothest rest-to-rest turn (quintic): PEAK angle / time^2 (derived)."""
SIGMAS = 3.0


def write_tables(record: Record, folder: Path, seconds: float = 10.0) -> list[Path]:
    """parts.csv, joints.csv, stages.csv, mass_properties.csv; seconds: length of the whole deployment."""
    return [
        write_table(folder / "parts.csv", parts(record)),
        write_table(folder / "joints.csv", joints(record, seconds)),
        write_table(folder / "stages.csv", stages(record, seconds)),
        write_table(folder / "mass_properties.csv", mass_properties(record)),
    ]


def parts(record: Record) -> list[dict[str, Any]]:
    """A row a part: number, kind, mass, material, size; fittings of one panel and joint and equal mass in one row."""
    rows: list[dict[str, Any]] = []

    def row(part: str, count: int, each: float, where: str, what: str, size: tuple[float, ...] = ()) -> None:
        sides: list[float | None] = [float(v) for v in size] or [None] * 3
        rows.append({"part": part, "count": count, "mass_each_kg": each, "mass_kg": count * each, "where": where,
                     "description": what, "length_m": sides[0], "width_m": sides[1], "height_m": sides[2]})  # fmt: skip

    for kind in kinds(record):
        first = record["panels"][kind.members[0]]
        sides = tuple(sorted(np.ptp(kind.outline, axis=0), reverse=True))
        where = "panels " + " ".join(str(m) for m in kind.members)
        row(f"panel {kind.name}", len(kind.members), float(first["mass_kg"]), where,
            f"{kind.material} {kind.section}{_framed(kind)}", (*sides, kind.thickness))  # fmt: skip
    for name in ("hinges", "latches"):
        for joint in record[name]:
            row(f"{name[:-1] if name == 'hinges' else 'latch'} {joint['id']}", 1, float(joint["mass_kg"]),
                f"panels {joint['panels'][0]} {joint['panels'][1]}",
                f"{joint['kind']}, {len(joint['units'])} units")  # fmt: skip
    row("mount", 1, float(record["mount"]["mass_kg"]), "panel 0", f"{len(record['mount']['units'])} units")
    groups: dict[tuple[Any, ...], int] = {}
    for f in fitting_prisms(record):
        key = (f.panel, f.joint, f.mass, round(f.high - f.low, 9))
        groups[key] = groups.get(key, 0) + 1
    for (panel, joint, mass, height), count in groups.items():
        row(f"fitting of {joint or 'panel'}", count, mass, f"panel {panel}", "prism, see CAD", (0.0, 0.0, height))
        rows[-1]["length_m"] = rows[-1]["width_m"] = None
    for name in ("drives", "restraints"):
        for lump in record[name]:
            where = "spacecraft" if lump["panel"] is None else f"panel {lump['panel']}"
            row(f"{name[:-1]} {lump['name']}", 1, float(lump["mass_kg"]), where, "point mass at the panel's centroid")
    row("sum", 1, math.fsum(r["mass_kg"] for r in rows), "", "basic mass, without growth")
    metrics = record["metrics"]
    row("growth", 1, float(metrics["mass_kg"]) - float(metrics["basic_mass_kg"]), "", "growth allowance")
    return rows


def _framed(kind: Kind) -> str:
    """What a framed panel is bonded from; nothing for others."""
    if kind.sheet is None:
        return ""
    bars = f"{1e3 * kind.bar:.3f} x {1e3 * (kind.thickness - kind.sheet):.3f} mm"
    return f", sheet {1e3 * kind.sheet:.3f} mm before a frame of bars {bars}"


def joints(record: Record, seconds: float) -> list[dict[str, Any]]:
    """A row a hinge or latch: place, angle, stiffness of all its units, tolerance, torque that the motion alone needs.

    stiffness: per unit, as latched. tolerance: three sigma of a unit's free position. moved_inertia: about the axis, of
    what the hinge carries when only it turns, deployed state; inertial_torque = PEAK inertia angle / time^2 with the
    time of its stage. Torques of springs, friction and harness, margins of both standard forms and latch-up energy are
    those of the record's drive: nominal torques, margins the worse of cold and hot.
    """
    rows = []
    for name, title in (("hinges", "hinge"), ("latches", "latch")):
        for joint in record[name]:
            units = joint["units"]
            stiff = np.mean([u["stiffness"] for u in units], axis=0) if units else np.zeros(6)
            sigma = np.max([u["misfit_sigma"] for u in units], axis=0) if units else np.zeros(6)
            at = np.mean([u["at"] for u in units], axis=0) if units else np.zeros(3)
            row: dict[str, Any] = {"joint": f"{title} {joint['id']}", "kind": joint["kind"],
                                   "panel_i": joint["panels"][0], "panel_j": joint["panels"][1],
                                   "units": len(units), "mass_kg": float(joint["mass_kg"])}  # fmt: skip
            row |= _turning(record, joint, seconds) if title == "hinge" else dict.fromkeys(_TURNING)
            row |= spread("at", at, XYZ, "_m")
            row |= spread("stiffness", stiff[:3], FREEDOMS[:3], "_n_per_m")
            row |= spread("stiffness", stiff[3:], FREEDOMS[3:], "_n_m_per_rad")
            row |= spread("tolerance", SIGMAS * sigma[:3], FREEDOMS[:3], "_m")
            row |= spread("tolerance", SIGMAS * sigma[3:], FREEDOMS[3:], "_rad")
            rows.append(row)
    return rows


DRIVEN = (
    "least_supplied_torque_n_m",
    "friction_torque_n_m",
    "harness_torque_n_m",
    "ecss_torque_margin",
    "nasa_torque_margin",
    "one_spring_out_margin",
    "stored_energy_j",
    "free_end_rate_rad_s",
)
"""Columns of a hinge's drive; empty where the record tells none. Margins of loops stand in the record alone."""
_TURNING = ("fold", "stowed_angle_deg", "axis_length_m", "axis_height_m", "slack_m", "stage", "moved_inertia_kg_m2",
            "inertial_torque_n_m", *DRIVEN)  # fmt: skip


def _turning(record: Record, hinge: Record, seconds: float) -> dict[str, Any]:
    """Columns that only hinges have."""
    point, along = axis_of(hinge)
    ends = np.asarray(hinge["axis"], dtype=np.float64)
    carried = moved_by(record, hinge["id"])
    load = together([body(record, p) for p in sorted(carried)])
    inertia = float(along @ load.about(point) @ along) if carried else 0.0
    numbers = stage_of(record, hinge["id"])
    spans = [record["path"]["stages"][k]["s"] for k in numbers]
    time = seconds * sum(b - a for a, b in spans)
    angle = abs(float(hinge["stowed_angle_rad"]))
    values = (
        hinge_sense(record, hinge), math.degrees(float(hinge["stowed_angle_rad"])),
        float(np.linalg.norm(ends[1] - ends[0])), float(ends[:, 2].mean()), float(hinge["slack_m"]),
        " ".join(str(k) for k in numbers), inertia,
        PEAK * inertia * angle / time**2 if time > 0.0 else 0.0,
        *_driven(record, hinge["id"]),
    )  # fmt: skip
    return dict(zip(_TURNING, values, strict=True))


def _driven(record: Record, hinge: int) -> tuple[Any, ...]:
    """Values of DRIVEN for one hinge."""
    told = (record.get("drive") or {}).get("hinges", [])
    row = next((h for h in told if h["hinge"] == hinge), None)
    if row is None:
        return (None,) * len(DRIVEN)
    return (
        min(row["supplied_n_m"]), max(row["friction_n_m"]), max(row["harness_n_m"]), row.get("ecss_margin"),
        row.get("nasa_margin"), row.get("one_spring_out_margin"), row["stored_energy_j"], row["free_rate_rad_s"],
    )  # fmt: skip


def stages(record: Record, seconds: float) -> list[dict[str, Any]]:
    """A row a stage (numbered from 0, as in the record) and hinge: when it moves, from where to where."""
    s = np.asarray(record["path"]["s"], dtype=np.float64)
    angle = np.asarray(record["path"]["angles"], dtype=np.float64).reshape(len(s), -1)
    rows = []
    for k, stage in enumerate(record["path"]["stages"]):
        a, b = (float(v) for v in stage["s"])
        for h in stage["hinges"]:
            ends = [math.degrees(float(np.interp(v, s, angle[:, h]))) for v in (a, b)]
            i, j = record["hinges"][h]["panels"]
            rows.append({"stage": k, "s_from": a, "s_to": b, "time_from_s": seconds * a, "time_to_s": seconds * b,
                         "hinge": h, "panel_i": i, "panel_j": j, "angle_from_deg": ends[0],
                         "angle_to_deg": ends[1]})  # fmt: skip
    return rows


def mass_properties(record: Record) -> list[dict[str, Any]]:
    """Whole candidate stowed (root's frame and envelope's axes) and deployed, then every panel's body, deployed.

    Basic masses; growth is in a column of its own. Inertia about the centre of mass, the tensor's entries (products
    as they stand in the tensor: minus the integral of x y). Envelope axes: origin at the middle of the stowed box.
    """
    growth = float(record["metrics"]["mass_kg"]) / float(record["metrics"]["basic_mass_kg"])
    stowed, deployed = whole(record, 0), whole(record, -1)
    turn = np.asarray(record["stowed"]["rotation"], dtype=np.float64)
    middle = _box_middle(record, turn)
    found = [
        ("all, deployed", "root", deployed),
        ("all, stowed", "root", stowed),
        ("all, stowed", "envelope", stowed.moved(np.column_stack([turn, -middle]))),
        ("mount and what is on the spacecraft", "root", held(record)),
    ]
    found += [(f"panel {p['id']} with all on it, deployed", "root", body(record, p["id"])) for p in record["panels"]]
    found += [(f"panel {p['id']} alone, deployed", "root", of_prism(panel_prism(p))) for p in record["panels"]]
    return [_properties(name, frame, m, growth) for name, frame, m in found]


def _properties(name: str, frame: str, found: MassProperties, growth: float) -> dict[str, Any]:
    i = found.inertia
    six = (i[0, 0], i[1, 1], i[2, 2], i[0, 1], i[0, 2], i[1, 2])
    row: dict[str, Any] = {
        "body": name,
        "frame": frame,
        "mass_kg": found.mass,
        "mass_with_growth_kg": growth * found.mass,
    }
    return row | spread("centre", found.centre, XYZ, "_m") | spread("inertia", six, SIX, "_kg_m2")


def _box_middle(record: Record, turn: Floats) -> Floats:
    """Middle of the stowed solids in the envelope's axes."""
    at = poses(record)[0]
    points = []
    for solid in [*(panel_prism(p) for p in record["panels"]), *fitting_prisms(record)]:
        ring = np.asarray(solid.face.exterior.coords)
        for z in (solid.low, solid.high):
            points.append(transform(at[solid.panel], np.column_stack([ring, np.full(len(ring), z)])) @ turn.T)
    corners = np.concatenate(points)
    return np.asarray((corners.min(axis=0) + corners.max(axis=0)) / 2.0)
