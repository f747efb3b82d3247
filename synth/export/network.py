"""The deployed panel-and-joint network for any finite-element program: CSV tables and a JSON with units; load cases."""

import json
import math
from pathlib import Path
from typing import Any

import numpy as np

from synth.export.csv_text import spread, write_table
from synth.export.inertia import plan_moments
from synth.export.parts import Record, fitting_prisms, panel_face
from synth.export.tables import FREEDOMS, XYZ

SCHEMA = "network/1"
UNITS = {"length": "m", "mass": "kg", "force": "N", "moment": "N m", "angle": "rad", "stiffness": "N/m, N m/rad",
         "plate stiffness": "N m", "curvature": "1/m", "acceleration": "m/s^2"}  # fmt: skip
GRAVITY = 9.80665
_RULES = (
    "Panels: thin plates over their outline at mid-plane, bending stiffness D (core shear taken in), rigid in plane.",
    "Springs: six-way, at 'at', in rows of 'axes' (along the edge, across it from i to j, z); side 1 less side 0.",
    "Feet: a panel's motion at a foot is the mean displacement and mean gradient over the pad's disc on the mid-plane, "
    "carried to 'at' by a rigid arm; the mount's second side is the spacecraft, fixed.",
    "Masses: those of joints at their feet in equal shares, of fittings at their centroids, of drives and restraints "
    "at the centroid of their panel; what sits on the mount does not move.",
    "Misfits: independent normal errors of a spring's free position, sigma in its own axes; equal cause: one draw.",
)


def network(record: Record) -> dict[str, Any]:
    """The network as one plain document: units, rules, panels, springs, masses, load cases."""
    nodes, springs, masses = _springs(record)
    return {
        "schema": SCHEMA, "candidate": record["id"], "units": UNITS, "frame": "deployed, z out of the receiving face",
        "rules": list(_RULES), "panels": _panels(record), "nodes": nodes, "springs": springs,
        "masses": masses + _lumps(record, len(masses)), "load_cases": load_cases(record),
    }  # fmt: skip


def write_network(record: Record, folder: Path) -> list[Path]:
    """network.json, and nodes, panels, outlines, springs, masses and load_cases as CSV; returns the files."""
    told = network(record)
    path = folder / "network.json"
    path.write_text(json.dumps(told, indent=1, allow_nan=False) + "\n", encoding="utf-8")
    panels = [{k: v for k, v in p.items() if k not in ("outline_m", "holes_m", "centroid_m")}
              | spread("centroid", p["centroid_m"], XYZ, "_m") for p in told["panels"]]  # fmt: skip
    outlines = [
        {"panel": p["panel"], "ring": n, "corner": k, "x_m": float(x), "y_m": float(y)}
        for p in told["panels"]
        for n, ring in enumerate([p["outline_m"], *p["holes_m"]])
        for k, (x, y) in enumerate(ring)
    ]
    flat = {"nodes": [_flat_node(n) for n in told["nodes"]], "panels": panels, "outlines": outlines,
            "springs": [_flat_spring(s) for s in told["springs"]], "masses": [_flat_node(m) for m in told["masses"]],
            "load_cases": [{k: _plain(v) for k, v in c.items()} for c in told["load_cases"]]}  # fmt: skip
    return [path, *(write_table(folder / f"{name}.csv", rows) for name, rows in flat.items())]


def _plain(value: Any) -> Any:
    return value if not isinstance(value, dict | list) else json.dumps(value)


def _panels(record: Record) -> list[dict[str, Any]]:
    rows = []
    for p in record["panels"]:
        area, centre, _ = plan_moments(panel_face(p))
        middle = (float(p["z_back"]) + float(p["z_front"])) / 2.0
        rows.append({
            "panel": p["id"], "receiving": p["receiving"], "area_m2": area, "mass_kg": float(p["mass_kg"]),
            "mass_per_area_kg_m2": float(p["mass_kg"]) / area, "thickness_m": float(p["z_front"] - p["z_back"]),
            "mid_plane_z_m": middle, "bending_stiffness_n_m": float(p["bending_stiffness_n_m"]),
            "poisson_ratio": float(p["poisson_ratio"]), "bow_1_per_m": float(p["bow_1_per_m"]),
            "bulk_strain": float(p.get("bulk_strain", 0.0)), "figure_rms_m": float(p["figure_rms_m"]),
            "material": p["material"], "section": p["section"], "centroid_m": [*centre.tolist(), middle],
            "outline_m": p["outline"], "holes_m": p.get("holes", []),
        })  # fmt: skip
    return rows


def _springs(record: Record) -> tuple[list[dict[str, Any]], list[dict[str, Any]], list[dict[str, Any]]]:
    """Nodes (feet on the mid-planes), springs between them, and the joints' shares of mass at the feet."""
    nodes: list[dict[str, Any]] = []
    springs: list[dict[str, Any]] = []
    masses: list[dict[str, Any]] = []
    groups = [(f"hinge {h['id']}", h, h["panels"]) for h in record["hinges"]]
    groups += [(f"latch {x['id']}", x, x["panels"]) for x in record["latches"]]
    groups.append(("mount", record["mount"], [0]))
    for name, joint, on in groups:
        share = 0.0
        if name != "mount" and joint["units"]:
            share = float(joint["mass_kg"]) / sum(len(u["feet"]) for u in joint["units"])
        for k, unit in enumerate(joint["units"]):
            feet = []
            for panel, foot in zip(on, unit["feet"], strict=True):
                p = record["panels"][panel]
                at = [float(foot[0]), float(foot[1]), (float(p["z_back"]) + float(p["z_front"])) / 2.0]
                feet.append(len(nodes))
                nodes.append(
                    {"node": len(nodes), "panel": panel, "at_m": at, "pad_radius_m": float(unit["pad_radius_m"])}
                )
                if share > 0.0:
                    masses.append({"mass": len(masses), "panel": panel, "at_m": at, "mass_kg": share, "of": name})
            springs.append({
                "spring": len(springs), "of": name, "unit": k, "panels": list(on), "nodes": feet,
                "fixed_to_spacecraft": name == "mount", "at_m": [float(v) for v in unit["at"]],
                "axes": unit["axes"], "stiffness": unit["stiffness"], "misfit_sigma": unit["misfit_sigma"],
                "free_offset": unit.get("free_offset") or [0.0] * 6, "cause": unit.get("cause") or f"{name} unit {k}",
            })  # fmt: skip
    return nodes, springs, masses


def _lumps(record: Record, first: int) -> list[dict[str, Any]]:
    """Fittings at their centroids; drives and restraints at the centroid of their panel."""
    found: list[dict[str, Any]] = []

    def add(panel: int, at: list[float], mass: float, of: str) -> None:
        found.append({"mass": first + len(found), "panel": panel, "at_m": at, "mass_kg": mass, "of": of})

    for f in fitting_prisms(record):
        _, centre, _ = plan_moments(f.face)
        add(f.panel, [*centre.tolist(), (f.low + f.high) / 2.0], f.mass, f.name)
    for kind in ("drives", "restraints"):
        for lump in record[kind]:
            if lump["panel"] is not None:
                p = record["panels"][lump["panel"]]
                _, centre, _ = plan_moments(panel_face(p))
                middle = (float(p["z_back"]) + float(p["z_front"])) / 2.0
                add(lump["panel"], [*centre.tolist(), middle], float(lump["mass_kg"]), f"{kind[:-1]} {lump['name']}")
    return found


def load_cases(record: Record) -> list[dict[str, Any]]:
    """Cases with what the record found for them, as checks; rms about the best-fit datum of the record."""
    rms = {k.removesuffix("_m2"): math.sqrt(v) for k, v in record["accuracy"].items()}
    metrics = record["metrics"]

    def case(name: str, state: str, load: str, check: str, value: float | None, unit: str) -> dict[str, Any]:
        return {"case": name, "state": state, "load": load, "check": check, "value": value, "unit": unit}

    return [
        case("modes", "deployed on its mount", "none", "lowest natural frequency", metrics["first_mode_hz"], "Hz"),
        case("misfits", "deployed on its mount", "every spring's free position drawn from its misfit sigma",
             "expected rms of z over receiving faces", rms["joints"], "m"),
        case("bow", "deployed on its mount", "free curvature bow_1_per_m of every panel, w = bow (x^2 + y^2) / 2",
             "rms of z over receiving faces", rms["bow"], "m"),
        case("gravity release", "deployed on its mount",
             f"weight times (1 - offload) along +z, {GRAVITY} m/s^2; offload as in the problem",
             "rms of z over receiving faces", rms["gravity"], "m"),
        case("unit gravity x", "deployed on its mount", f"{GRAVITY} m/s^2 along +x", "", None, ""),
        case("unit gravity y", "deployed on its mount", f"{GRAVITY} m/s^2 along +y", "", None, ""),
        case("unit gravity z", "deployed on its mount", f"{GRAVITY} m/s^2 along +z", "", None, ""),
        case("growth", "deployed on its mount", "in-plane strain bulk_strain of every panel", "", None, ""),
        case("launch", "stowed on its restraints", f"{GRAVITY} m/s^2 times the launch load factor along each axis",
             "lowest natural frequency", metrics.get("stowed_first_mode_hz"), "Hz"),
    ]  # fmt: skip


def _flat_node(node: dict[str, Any]) -> dict[str, Any]:
    rest = {k: v for k, v in node.items() if k != "at_m"}
    return rest | spread("at", node["at_m"], XYZ, "_m")


def _flat_spring(s: dict[str, Any]) -> dict[str, Any]:
    row: dict[str, Any] = {k: s[k] for k in ("spring", "of", "unit")}
    row |= {"node_i": s["nodes"][0], "node_j": s["nodes"][1] if len(s["nodes"]) > 1 else None,
            "panel_i": s["panels"][0], "panel_j": s["panels"][1] if len(s["panels"]) > 1 else None,
            "cause": s["cause"]}  # fmt: skip
    row |= spread("at", s["at_m"], XYZ, "_m")
    for name, axis in zip(("along", "across", "normal"), np.asarray(s["axes"], dtype=np.float64), strict=True):
        row |= spread(name, axis, XYZ, "")
    for name, unit in (("stiffness", ("_n_per_m", "_n_m_per_rad")), ("misfit_sigma", ("_m", "_rad")),
                       ("free_offset", ("_m", "_rad"))):  # fmt: skip
        row |= spread(name, s[name][:3], FREEDOMS[:3], unit[0]) | spread(name, s[name][3:], FREEDOMS[3:], unit[1])
    return row
