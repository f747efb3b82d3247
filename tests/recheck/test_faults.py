"""Every planted fault is told, under the name of the rule that it breaks; the record as made passes."""

import tomllib
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from synth.recheck import Finding, recheck_record
from synth.recheck.asked import asked_of
from tests.recheck import accordion as made

ASKED = asked_of(tomllib.loads(made.PROBLEM))
Record = dict[str, Any]
FAULTS: list[tuple[str, str, Callable[[Record], None]]] = []


def fault(check: str) -> Callable[[Callable[[Record], None]], Callable[[Record], None]]:
    def keep(plant: Callable[[Record], None]) -> Callable[[Record], None]:
        FAULTS.append((plant.__name__, check, plant))
        return plant

    return keep


def test_the_record_made_by_hand_passes() -> None:
    assert recheck_record(made.accordion("bay"), ASKED) == []
    assert recheck_record(made.accordion("locker"), ASKED) == []


def test_without_the_problem_file_it_passes_too() -> None:
    assert recheck_record(made.accordion()) == []


@fault("schema")
def other_schema(r: Record) -> None:
    r["schema"] = "candidate/2"


@fault("schema")
def missing_field(r: Record) -> None:
    del r["panels"][1]["poisson_ratio"]


@fault("schema")
def text_for_a_number(r: Record) -> None:
    r["hinges"][0]["mass_kg"] = "0.06"


@fault("schema")
def not_a_number(r: Record) -> None:
    r["panels"][0]["bow_1_per_m"] = float("nan")


@fault("schema")
def ragged_poses(r: Record) -> None:
    del r["path"]["poses"][3][1]


@fault("schema")
def missing_metric(r: Record) -> None:
    del r["metrics"]["packing_efficiency"]


@fault("ids")
def ids_out_of_order(r: Record) -> None:
    r["panels"][0], r["panels"][1] = r["panels"][1], r["panels"][0]


@fault("ids")
def fitting_of_no_joint(r: Record) -> None:
    r["fittings"][0]["joint"] = "hinge 7"


@fault("ids")
def hinge_to_no_panel(r: Record) -> None:
    r["hinges"][1]["panels"] = [1, 9]


@fault("outline")
def clockwise_outline(r: Record) -> None:
    r["panels"][2]["outline"].reverse()


@fault("outline")
def outline_crosses_itself(r: Record) -> None:
    o = r["panels"][2]["outline"]
    o[1], o[2] = o[2], o[1]


@fault("outline")
def repeated_corner(r: Record) -> None:
    r["panels"][2]["outline"].append(r["panels"][2]["outline"][-1])


@fault("front")
def receiving_face_behind_the_plane(r: Record) -> None:
    r["panels"][1]["z_front"] = -1e-6


@fault("front")
def panel_stands_proud(r: Record) -> None:
    r["panels"][1].update(z_front=1e-4, receiving=False)


@fault("prism")
def inside_out_prism(r: Record) -> None:
    r["fittings"][0]["z_back"] = 0.01


@fault("overlap")
def panels_overlap_deployed(r: Record) -> None:
    for corner in r["panels"][1]["outline"]:
        if corner[0] > 0:
            corner[0] += made.E + 1e-4


@fault("edge gap")
def thin_edge_gap(r: Record) -> None:
    for corner in r["panels"][1]["outline"]:
        if corner[0] > 0:
            corner[0] += 6e-4


@fault("feet")
def foot_outside_its_panel(r: Record) -> None:
    r["hinges"][0]["units"][0]["feet"][1][0] -= 0.011


@fault("axes")
def left_handed_axes(r: Record) -> None:
    r["hinges"][0]["units"][0]["axes"][0] = [0.0, 1.0, 0.0]


@fault("window")
def window_outside_its_face(r: Record) -> None:
    r["panels"][0]["windows"] = [made.rectangle(-0.35, -0.15, -0.1, 0.1)]


@fault("collecting area")
def window_smaller_than_told(r: Record) -> None:
    r["panels"][1]["windows"] = [made.rectangle(-0.09, 0.09, -0.2, 0.2)]


@fault("collecting area")
def fitting_shades_the_face(r: Record) -> None:
    r["fittings"].append({"panel": 1, "joint": None, "outline": made.rectangle(-0.01, 0.01, -0.01, 0.01),
                          "z_back": 0.0, "z_front": 1e-4, "mass_kg": 0.0})  # fmt: skip


@fault("collecting area")
def area_off_by_two_square_millimetres(r: Record) -> None:
    r["metrics"]["collecting_area_m2"] += 2e-6


@fault("path")
def stations_not_rising(r: Record) -> None:
    r["path"]["s"][5] = r["path"]["s"][4]


@fault("path")
def path_ends_early(r: Record) -> None:
    r["path"]["s"][-1] = 0.999


@fault("path")
def too_many_frames(r: Record) -> None:
    s = np.linspace(0.0, 1.0, 201)
    r["path"].update(s=s.tolist(), poses=[made.poses_at(float(x)) for x in s],
                     angles=[list(made.angles_at(float(x))) for x in s])  # fmt: skip


@fault("pose rigid")
def stretched_pose(r: Record) -> None:
    for row in r["path"]["poses"][7][2]:
        row[0] *= 1.0 + 1e-7


@fault("pose rigid")
def mirrored_pose(r: Record) -> None:
    r["path"]["poses"][7][2][1][1] = -1.0


@fault("root")
def root_moves(r: Record) -> None:
    r["path"]["poses"][7][0][2][3] = 1e-8


@fault("deployed")
def last_frame_not_deployed(r: Record) -> None:
    r["path"]["poses"][-1][2][2][3] = 1e-8


@fault("attachment")
def moved_pose(r: Record) -> None:
    r["path"]["poses"][12][2][0][3] += 2e-9


@fault("attachment")
def moved_hinge_axis(r: Record) -> None:
    for point in r["hinges"][1]["axis"]:
        point[2] += 1e-6


@fault("angles")
def angle_against_poses(r: Record) -> None:
    r["path"]["angles"][9][0] += 1e-6


@fault("angles")
def wrong_stowed_angle(r: Record) -> None:
    r["hinges"][1]["stowed_angle_rad"] += 1e-6


@fault("angles")
def hinge_axis_turned_round(r: Record) -> None:
    r["hinges"][0]["axis"].reverse()


@fault("stages")
def hinge_moves_outside_its_stage(r: Record) -> None:
    r["path"]["stages"][0]["s"] = [0.5, 1.0]


@fault("stages")
def hinge_in_no_stage(r: Record) -> None:
    r["path"]["stages"][0]["hinges"] = [0]


@fault("tree")
def panel_hangs_on_nothing(r: Record) -> None:
    r["hinges"][1]["panels"] = [1, 0]
    r["hinges"][1]["slack_m"] = 10.0


@fault("interference")
def fitting_meets_another_panel(r: Record) -> None:
    # panel 0 carries a post that panel 2 is laid over, stowed at z from 6 to 10 mm, beside panel 1
    r["fittings"].append({"panel": 0, "joint": None, "outline": made.rectangle(-0.3035, -0.3025, 0.0, 0.02),
                          "z_back": -0.004, "z_front": 0.0061, "mass_kg": 0.0})  # fmt: skip
    for corner in r["panels"][2]["outline"]:
        if corner[0] > made.PITCH:
            corner[0] += 0.002


@fault("interference")
def panels_collide_between_frames(r: Record) -> None:
    """Only the first and the last frame are written, and both are clear; the strips pass through each other's gap."""
    path = r["path"]
    a, b = (complex(*p) for p in made.axes_of_hinges())
    path.update(s=[0.0, 0.5, 1.0], poses=[], angles=[])
    # hinge 1 opens first, by a full half turn towards the back: panel 2 sweeps through the bus and panel 0
    for first, second in ((np.pi, -np.pi), (np.pi, 0.0), (0.0, 0.0)):
        t1 = np.exp(1j * first)
        t2 = t1 * np.exp(1j * second)
        s1 = a - t1 * a
        s2 = t1 * (b - np.exp(1j * second) * b) + s1
        path["poses"].append([made.pose(1 + 0j, 0j), made.pose(t1, s1), made.pose(t2, s2)])
        path["angles"].append([first, second])
    r["fittings"].append({"panel": 0, "joint": None, "outline": made.rectangle(-0.31, -0.305, -0.29, -0.28),
                          "z_back": -0.004, "z_front": 0.05, "mass_kg": 0.0})  # fmt: skip


@fault("interference")
def keep_out_is_entered(r: Record) -> None:
    r["fittings"].append({"panel": 0, "joint": None, "outline": made.rectangle(-0.2, -0.19, 0.0, 0.01),
                          "z_back": -0.0205, "z_front": -0.004, "mass_kg": 0.0})  # fmt: skip


@fault("panel gap")
def thin_panel_gap(r: Record) -> None:
    r["hinges"][0]["axis"][0][2] = r["hinges"][0]["axis"][1][2] = 3.5e-4
    a, b = complex(-made.PITCH / 2, 3.5e-4), complex(*made.axes_of_hinges()[1])
    poses = []
    for first, second in r["path"]["angles"]:
        t1 = np.exp(1j * first)
        s1 = a - t1 * a
        t2 = t1 * np.exp(1j * second)
        poses.append([made.pose(1 + 0j, 0j), made.pose(t1, s1),
                      made.pose(t2, t1 * (b - np.exp(1j * second) * b) + s1)])  # fmt: skip
    r["path"]["poses"] = poses


@fault("mass")
def heavier_part(r: Record) -> None:
    r["fittings"][2]["mass_kg"] += 1e-8


@fault("mass")
def growth_left_out(r: Record) -> None:
    r["metrics"]["mass_kg"] = r["metrics"]["basic_mass_kg"]
    r["requirements"][1] = made.requirement("mass.limit", "max", r["metrics"]["mass_kg"], 7.0, "kg")


@fault("mass")
def negative_mass(r: Record) -> None:
    r["panels"][0]["mass_kg"] = -1.3


@fault("stowed rotation")
def mirrored_rotation(r: Record) -> None:
    r["stowed"]["rotation"][1][1] = -1.0


@fault("stowed rotation")
def orientation_that_does_not_fit_though_one_does(r: Record) -> None:
    r["stowed"]["rotation"] = [[0.0, 1.0, 0.0], [-1.0, 0.0, 0.0], [0.0, 0.0, 1.0]]
    r["stowed"]["size_m"] = [r["stowed"]["size_m"][k] for k in (1, 0, 2)]


@fault("stowed size")
def size_without_fittings(r: Record) -> None:
    r["stowed"]["size_m"][0] = made.W


@fault("stowed volume")
def wrong_volume(r: Record) -> None:
    r["metrics"]["stowed_volume_m3"] *= 1.01


@fault("longest side")
def wrong_longest_side(r: Record) -> None:
    r["metrics"]["longest_stowed_side_m"] *= 0.99


@fault("packing")
def wrong_packing(r: Record) -> None:
    r["metrics"]["packing_efficiency"] *= 1.01


@fault("envelope fit")
def wrong_fit(r: Record) -> None:
    fit = r["requirements"][0]["value"]
    r["requirements"][0] = made.requirement("envelope.fit", "max", fit * 0.99, 1.0, "1")


@fault("envelope fit")
def wrong_fits_flag(r: Record) -> None:
    r["verification"]["fits"] = False


@fault("part count")
def wrong_part_count(r: Record) -> None:
    r["metrics"]["part_count"] = 6


@fault("margin")
def wrong_margin_sign(r: Record) -> None:
    r["requirements"][1]["margin"] *= -1.0


@fault("margin")
def wrong_ok(r: Record) -> None:
    r["requirements"][2]["ok"] = False


@fault("requirements")
def wrong_direction(r: Record) -> None:
    row = r["requirements"][3]
    r["requirements"][3] = made.requirement(row["name"], "max", row["value"], row["limit"], row["unit"])


@fault("requirements")
def requirement_left_out(r: Record) -> None:
    del r["requirements"][2]


@fault("requirements")
def fit_left_out(r: Record) -> None:
    del r["requirements"][0]


@fault("requirement limit")
def eased_limit(r: Record) -> None:
    r["requirements"][1] = made.requirement("mass.limit", "max", r["metrics"]["mass_kg"], 8.0, "kg")


@fault("requirement value")
def value_not_the_metric(r: Record) -> None:
    r["requirements"][1] = made.requirement("mass.limit", "max", 5.0, 7.0, "kg")


@fault("surface rms")
def rms_not_the_sum_of_its_parts(r: Record) -> None:
    r["metrics"]["surface_rms_m"] *= 1.01


@fault("accuracy")
def wrong_joint_errors(r: Record) -> None:
    r["accuracy"]["joints_m2"] *= 1.2
    _resum(r)


@fault("accuracy")
def softer_hinge_than_the_figures_stand_for(r: Record) -> None:
    r["hinges"][0]["units"][0]["stiffness"][3] *= 0.7


@fault("accuracy")
def wrong_bow(r: Record) -> None:
    r["accuracy"]["bow_m2"] *= 1.3


@fault("accuracy")
def wrong_in_plane(r: Record) -> None:
    r["metrics"]["in_plane_rms_m"] *= 1.1


@fault("in-plane rms")
def in_plane_below_its_joints(r: Record) -> None:
    r["metrics"]["in_plane_rms_m"] *= 0.9


@fault("accuracy")
def shared_cause_kept_quiet(r: Record) -> None:
    for hinge in r["hinges"]:
        hinge["units"][0]["cause"] = "one drill jig"


@fault("accuracy")
def free_offset_left_out(r: Record) -> None:
    r["hinges"][0]["units"][0]["free_offset"] = [0.0, 0.0, 0.0, 1e-4, 0.0, 0.0]


@fault("first mode")
def wrong_first_mode(r: Record) -> None:
    r["metrics"]["first_mode_hz"] *= 1.07
    row = r["requirements"][4]
    r["requirements"][4] = made.requirement(row["name"], "min", r["metrics"]["first_mode_hz"], 0.5, "Hz")


@fault("network")
def panel_held_by_nothing(r: Record) -> None:
    r["hinges"][1]["units"][0]["stiffness"] = [0.0] * 6


@fault("verification")
def unsettled_degree(r: Record) -> None:
    r["verification"]["order_sensitivity"]["first_mode"] = 0.03


@fault("verification")
def low_degree(r: Record) -> None:
    r["verification"]["plate_degree"] = 5


@fault("verification")
def open_loop(r: Record) -> None:
    r["verification"]["closure_residual_m"] = 1e-6


@fault("freedoms")
def a_drive_fewer_than_the_stage_needs(r: Record) -> None:
    r["path"]["stages"][0] |= {"freedoms": 1, "redundant_constraints": 0}


@fault("freedoms")
def a_tree_with_redundant_constraints(r: Record) -> None:
    r["path"]["stages"][0] |= {"freedoms": 2, "redundant_constraints": 1}


@fault("least clearance")
def a_least_clearance_that_is_not_there(r: Record) -> None:
    r["verification"] |= {"least_clearance_between": ["panel 1", "panel 2"], "least_clearance_s": 0.0}


@fault("least clearance")
def a_least_clearance_of_no_solid(r: Record) -> None:
    r["verification"] |= {"least_clearance_between": ["panel 1", "panel 7"], "least_clearance_s": 0.0}


def _resum(r: Record) -> None:
    parts = r["accuracy"]
    rms = float(np.sqrt(parts["joints_m2"] + parts["figure_m2"] + parts["steady_m2"]))
    r["metrics"]["surface_rms_m"] = rms
    r["requirements"][2] = made.requirement("accuracy.surface_rms_limit", "max", rms, 1e-4, "m")


@pytest.mark.parametrize(("check", "plant"), [pytest.param(c, p, id=n) for n, c, p in FAULTS])
def test_planted_fault_is_told(check: str, plant: Callable[[Record], None]) -> None:
    record = made.accordion("bay")
    plant(record)
    found: list[Finding] = recheck_record(record, ASKED, network=check in ("accuracy", "first mode", "network"))
    assert check in {f.check for f in found}, "\n".join(str(f) for f in found)


def test_freedoms_and_least_clearance_told_rightly_pass() -> None:
    """Two hinges of a tree turn together: two freedoms. Stowed strips lie the layer gap apart."""
    record = made.accordion("bay")
    record["path"]["stages"][0] |= {"freedoms": 2, "redundant_constraints": 0}
    told = {"least_clearance_between": ["panel 1", "panel 2"], "least_clearance_s": 0.0, "least_clearance_m": made.G}
    record["verification"] |= told
    assert recheck_record(record, ASKED, network=False) == []


def test_a_record_that_owns_up_to_interference_is_not_at_fault_for_it() -> None:
    record = made.accordion("bay")
    panels_collide_between_frames(record)
    record["verification"]["verified"] = False
    assert "interference" not in {f.check for f in recheck_record(record, ASKED, network=False)}


def test_a_collision_between_clear_frames_is_found_between_them() -> None:
    record = made.accordion("bay")
    panels_collide_between_frames(record)
    told = [f.what for f in recheck_record(record, ASKED, network=False) if f.check == "interference"]
    assert told
    stations = {float(what.rsplit(" ", 1)[1]) for what in told}
    assert stations.isdisjoint({0.0, 0.5, 1.0})


def test_enough_faults_are_planted() -> None:
    assert len(FAULTS) >= 60
