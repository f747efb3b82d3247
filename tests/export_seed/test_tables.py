"""Tables and the network against the record, the simulator and the recheck's own network."""

import csv
import json
import math
from pathlib import Path
from typing import Any

import mujoco
import numpy as np
import pytest
import trimesh

from synth.export.inertia import of_prism, whole
from synth.export.mjcf import write_mjcf
from synth.export.network import write_network
from synth.export.parts import panel_prism, prism_mesh
from synth.export.tables import write_tables
from synth.recheck.network import solve_network
from tests.export_seed.records import RECORDS
from tests.near import near


def rows(path: Path) -> list[dict[str, str]]:
    with path.open(newline="") as file:
        return list(csv.DictReader(file))


def test_parts_add_up_to_the_basic_mass(tmp_path: Path) -> None:
    record = RECORDS["strips"]()
    write_tables(record, tmp_path)
    found = rows(tmp_path / "parts.csv")
    total = {r["part"]: float(r["mass_kg"]) for r in found}
    near(math.fsum(v for k, v in ((r["part"], float(r["mass_kg"])) for r in found) if k not in ("sum", "growth")),
         record["metrics"]["basic_mass_kg"], rel=1e-9)  # fmt: skip
    near(total["sum"], record["metrics"]["basic_mass_kg"], rel=1e-9)
    near(total["sum"] + total["growth"], record["metrics"]["mass_kg"], rel=1e-9)
    assert sum(int(r["count"]) for r in found if r["part"].startswith("panel ")) == 3
    near([float(v) for r in found if r["part"] == "panel A1" for v in (r["length_m"], r["width_m"], r["height_m"])],
         [0.6, 0.2, 0.004], rel=1e-9)  # fmt: skip


def test_joints_and_stages_tell_angles_times_and_torques(tmp_path: Path) -> None:
    record = RECORDS["strips"]()
    write_tables(record, tmp_path, 20.0)
    first, second = rows(tmp_path / "joints.csv")
    assert (first["fold"], second["fold"]) == ("valley", "mountain")
    near([float(first["stowed_angle_deg"]), float(second["stowed_angle_deg"])], [180.0, -180.0], rel=1e-9)
    near(float(second["stiffness_about_along_n_m_per_rad"]), 20.0, rel=1e-9)
    near(float(second["tolerance_about_along_rad"]), 6e-4, rel=1e-9, why="three sigma of 0.2 mrad")
    # outer strip about hinge 1: uniform plate, its two leaves, half a hinge; the arm from the axis by hand
    inertia = float(second["moved_inertia_kg_m2"])
    lift = 0.0025  # from mid-plane to an axis half a layer gap behind the back
    plate = 1.3 * ((0.2**2 + 0.004**2) / 12 + 0.101**2 + lift**2)
    foot = 0.03 * (0.011**2 + lift**2)
    near(inertia, plate + foot, rel=2e-3, why="leaves of 4 g at the axis left out")
    near(float(second["inertial_torque_n_m"]), 10 / math.sqrt(3) * inertia * math.pi / 20.0**2, rel=1e-9)
    stages = rows(tmp_path / "stages.csv")
    assert [r["hinge"] for r in stages] == ["0", "1"]
    near([float(r["time_to_s"]) for r in stages], [20.0, 20.0], rel=1e-9)
    near([float(r["angle_from_deg"]) for r in stages], [180.0, -180.0], rel=1e-9)


@pytest.mark.parametrize("which", ["strips", "vertex"])
def test_mass_properties_agree_with_the_simulator(which: str, tmp_path: Path) -> None:
    record = RECORDS[which]()
    write_tables(record, tmp_path)
    write_mjcf(record, tmp_path)
    m = mujoco.MjModel.from_xml_path(str(tmp_path / "mechanism.xml"))
    d = mujoco.MjData(m)
    told = {(r["body"], r["frame"]): r for r in rows(tmp_path / "mass_properties.csv")}
    for body, key in (("all, stowed", 0), ("all, deployed", m.nkey - 1)):
        mujoco.mj_resetDataKeyframe(m, d, key)
        mujoco.mj_forward(m, d)
        row = told[body, "root"]
        near(float(row["mass_kg"]), float(m.body_mass.sum()), rel=1e-9)
        centre = np.array([float(row[f"centre_{a}_m"]) for a in "xyz"])
        near(centre, d.subtree_com[0], abs=1e-9)
        inertia = np.zeros((3, 3))
        for b in range(1, m.nbody):
            turn = d.ximat[b].reshape(3, 3)
            r = d.xipos[b] - d.subtree_com[0]
            inertia += turn @ np.diag(m.body_inertia[b]) @ turn.T
            inertia += m.body_mass[b] * (r @ r * np.eye(3) - np.outer(r, r))
        six = [float(row[f"inertia_{e}_kg_m2"]) for e in ("xx", "yy", "zz", "xy", "xz", "yz")]
        near(six, inertia[[0, 1, 2, 0, 0, 1], [0, 1, 2, 1, 2, 2]], abs=1e-9 * float(np.trace(inertia)))


def test_a_plate_with_a_hole_has_the_inertia_of_its_mesh() -> None:
    record = RECORDS["hole"]()
    prism = panel_prism(record["panels"][1])
    mesh = trimesh.Trimesh(*prism_mesh(prism))
    assert mesh.is_watertight
    found = of_prism(prism)
    density = prism.mass / mesh.volume
    near(found.centre, mesh.center_mass, abs=1e-12)
    near(found.inertia, density * mesh.moment_inertia, abs=1e-12)


def test_stowed_mass_lies_in_the_envelope_s_axes(tmp_path: Path) -> None:
    record = RECORDS["strips"]()
    write_tables(record, tmp_path)
    row = next(r for r in rows(tmp_path / "mass_properties.csv") if r["frame"] == "envelope")
    size = record["stowed"]["size_m"]
    centre = [float(row[f"centre_{a}_m"]) for a in "xyz"]
    assert all(abs(c) < 0.5 * s for c, s in zip(centre, size, strict=True))
    # strips from z = -0.004 to 0 (root), two more above or below: the middle of the stack is that of its solids
    root = whole(record, 0).centre
    x = [0.001 + 1e-4, -0.202]  # panel 0 lies about x = -0.202, leaves stick out alike on both sides
    near(centre[0], root[0] - x[1], abs=1e-6)


def rebuilt(folder: Path) -> dict[str, Any]:
    """A record of the network's JSON alone, enough for the recheck's solver."""
    told = json.loads((folder / "network.json").read_text())
    joints: dict[str, dict[str, Any]] = {}
    for s in told["springs"]:
        joint = joints.setdefault(s["of"], {"panels": s["panels"], "units": [], "mass_kg": 0.0})
        joint["units"].append({
            "at": s["at_m"], "axes": s["axes"], "stiffness": s["stiffness"], "misfit_sigma": s["misfit_sigma"],
            "free_offset": s["free_offset"], "cause": s["cause"],
            "feet": [told["nodes"][n]["at_m"][:2] for n in s["nodes"]],
            "pad_radius_m": told["nodes"][s["nodes"][0]]["pad_radius_m"],
        })  # fmt: skip
    lumps: list[dict[str, Any]] = []
    fittings: list[dict[str, Any]] = []
    for m in told["masses"]:
        if m["of"] in joints:
            joints[m["of"]]["mass_kg"] += m["mass_kg"]
        elif m["of"].startswith("fitting"):
            x, y, z = m["at_m"]
            square = [[x - 1e-5, y - 1e-5], [x + 1e-5, y - 1e-5], [x + 1e-5, y + 1e-5], [x - 1e-5, y + 1e-5]]
            fittings.append({"panel": m["panel"], "joint": None, "outline": square, "z_back": z - 1e-5,
                             "z_front": z + 1e-5, "mass_kg": m["mass_kg"]})  # fmt: skip
        else:
            lumps.append({"name": m["of"], "panel": m["panel"], "mass_kg": m["mass_kg"]})
    panels = [
        {"id": p["panel"], "receiving": p["receiving"], "outline": p["outline_m"], "holes": p["holes_m"],
         "z_back": p["mid_plane_z_m"] - p["thickness_m"] / 2, "z_front": p["mid_plane_z_m"] + p["thickness_m"] / 2,
         "mass_kg": p["mass_kg"], "bulk_strain": p["bulk_strain"], "poisson_ratio": p["poisson_ratio"],
         "bending_stiffness_n_m": p["bending_stiffness_n_m"], "bow_1_per_m": p["bow_1_per_m"],
         "figure_rms_m": p["figure_rms_m"]}
        for p in told["panels"]
    ]  # fmt: skip
    hinges = [{"id": k, **j} for k, (n, j) in enumerate(joints.items()) if n.startswith("hinge")]
    return {"panels": panels, "hinges": hinges, "latches": [], "mount": {"panel": 0, **joints["mount"]},
            "fittings": fittings, "drives": lumps, "restraints": []}  # fmt: skip


def test_the_network_alone_gives_the_record_s_figures(tmp_path: Path) -> None:
    record = RECORDS["strips"]()
    write_network(record, tmp_path)
    found = solve_network(rebuilt(tmp_path), 6, 9.80665 * 0.001, False)
    near(found.first_mode, record["metrics"]["first_mode_hz"], rel=2e-3, why="the record's strips are rigid")
    near(found.joints, record["accuracy"]["joints_m2"], rel=2e-3, why="the record's strips are rigid")
    cases = {c["case"]: c for c in json.loads((tmp_path / "network.json").read_text())["load_cases"]}
    near(cases["misfits"]["value"] ** 2, found.joints, rel=2e-3)
    near(cases["modes"]["value"], found.first_mode, rel=2e-3)


def test_csv_and_json_of_the_network_hold_the_same_numbers(tmp_path: Path) -> None:
    record = RECORDS["hole"]()
    write_network(record, tmp_path)
    told = json.loads((tmp_path / "network.json").read_text())
    springs = rows(tmp_path / "springs.csv")
    assert len(springs) == len(told["springs"]) == 3
    for row, s in zip(springs, told["springs"], strict=True):
        near(float(row["stiffness_about_along_n_m_per_rad"]), s["stiffness"][3], rel=1e-9)
        near([float(row[f"along_{a}"]) for a in "xyz"], s["axes"][0], abs=1e-12)
        assert row["node_i"] == str(s["nodes"][0])
    masses = math.fsum(float(r["mass_kg"]) for r in rows(tmp_path / "masses.csv"))
    panels = math.fsum(float(r["mass_kg"]) for r in rows(tmp_path / "panels.csv"))
    near(masses + panels + record["mount"]["mass_kg"], record["metrics"]["basic_mass_kg"], rel=1e-9)
    outlines = rows(tmp_path / "outlines.csv")
    assert sum(r["panel"] == "1" and r["ring"] == "1" for r in outlines) == 3
    assert {r["case"] for r in rows(tmp_path / "load_cases.csv")} == {c["case"] for c in told["load_cases"]}
