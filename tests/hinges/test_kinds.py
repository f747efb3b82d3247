"""Laws that every kind of joint and every catalogue entry keeps, and each kind's own closed forms."""

import math
from typing import Any

import numpy as np
import pytest

from synth.hinges import all_kinds
from synth.hinges.bipod_mount import BipodMount
from synth.hinges.cross_spring import CrossSpring
from synth.hinges.kinematic import six_ways, three_bipods, three_vees
from synth.hinges.let_flexure import LetFlexure
from synth.hinges.magnet_seat import MagnetSeat
from synth.hinges.model import JointModel
from synth.hinges.pin_spring import PinSpring
from synth.problem.catalogue import joint_of, joints, materials, of_role, rows
from tests.hinges.parts import from_catalogue
from tests.near import near

JOINTS = sorted(n for n, k in joints().items() if k.role != "membrane")


def model(name: str) -> JointModel:
    (row,) = [r for r in rows("joints") if r["id"] == name]
    kind = all_kinds()[row["kind"]]
    return kind(**{field: row["values"][key]["value"] for key, field in kind.keys().items()})


def test_every_kind_is_found_and_used_by_the_catalogue() -> None:
    assert set(all_kinds()) == {
        "bipod_mount", "cross_spring", "hook_latch", "let_flexure", "let_inside", "magnet_seat", "membrane",
        "pin_spring", "rolling_contact", "short_flexure", "tape_spring",
    }  # fmt: skip
    assert {row["kind"] for row in rows("joints")} == set(all_kinds())
    assert of_role("latch") and of_role("mount") and len(of_role("hinge")) >= 4


@pytest.mark.parametrize("name", JOINTS)
def test_joint_is_real_hardware(name: str) -> None:
    joint = joints()[name]
    assert all(math.isfinite(v) and v > 0.0 for v in (*joint.stiffness, *joint.sigma, joint.mass, joint.pad_radius))
    assert all(1e5 <= k <= 1e8 for k in joint.stiffness[:3]), "N/m"
    assert all(0.05e-6 <= s <= 10e-6 for s in joint.sigma[:3]), "m, published: 0.1 to 10 um"
    most = 500e-6 if joint.name == "hook_spring" else 200e-6
    assert all(5e-6 <= s <= most for s in joint.sigma[3:]), "rad, published: tens of urad; hooks are coarser"
    if joint.role == "hinge":
        assert joint.largest_angle > math.pi, "a stack needs half a turn"
        assert 1.4e-3 <= joint.knuckle <= 4e-3 and 0.012 <= joint.width <= 0.030
        assert joint.least_gap >= 2.0 * joint.knuckle * (1.0 - 1e-12)


@pytest.mark.parametrize("name", JOINTS)
def test_docstring_and_parameters_are_told(name: str) -> None:
    kind = type(model(name))
    assert kind.__doc__ and kind.joint.__module__
    assert all(p.doc for p in kind.parameters().values())


def test_values_taken_from_the_material_catalogue_are_its() -> None:
    keys = {"modulus_pa": "youngs_modulus", "poisson": "poisson_ratio", "density_kg_m3": "density"}
    seen = 0
    for row in rows("joints"):
        for key, value in row["values"].items():
            if not value["source"].startswith("materials.toml, "):
                continue
            material = materials()[value["source"].split(", ")[1]]
            attribute = next((a for ending, a in keys.items() if key.endswith(ending)), "strength")
            near(value["value"], getattr(material, attribute), rel=1e-9, why=f"{row['id']}.{key}")
            seen += 1
    assert seen > 10


def test_strength_of_a_shear_modulus_is_that_of_an_isotropic_sheet() -> None:
    titanium = materials()["ti_6al_4v"]
    wanted = titanium.youngs_modulus / (2.0 * (1.0 + titanium.poisson_ratio))
    flexure = model("let_titanium")
    assert isinstance(flexure, LetFlexure)
    near(flexure.sheet_shear_modulus, wanted, rel=1e-3, why="rounded to three digits")


def test_pin_play_of_five_micrometres_over_fifty_millimetres() -> None:
    pin = from_catalogue(PinSpring, clearance=5e-6, bearing_span=0.05)
    near(pin.play_tilt(), 100e-6, rel=1e-9, why="derived, stated in the notes on pins with clearance")
    near(pin.joint("p", "p").sigma[4], 100e-6 / math.sqrt(3.0), rel=1e-9, why="uniform within the play")


def test_pin_stiffness_by_hand() -> None:
    pin = from_catalogue(PinSpring)
    joint = pin.joint("p", "p")
    near(joint.stiffness[1], 2.0 * 6e6, rel=1e-12, why="two bearings")
    near(joint.stiffness[5], 6e6 * 0.018**2 / 2.0, rel=1e-12, why="two bearings at -/+ b/2")
    assert joint.stiffness[2] < joint.stiffness[1], "the leaves give along z"
    stiff = from_catalogue(PinSpring, leaf_thickness=0.2)
    near(stiff.joint("p", "p").stiffness[2], 12e6, rel=1e-3, why="a thick leaf leaves the bearings alone")
    force, lever = pin.stop_force, pin.stop_lever
    near(joint.sigma[3], pin.stop_repeatability / lever, rel=1e-12)
    assert force > 0.0


def test_cross_spring_turns_as_far_as_its_leaves_bear() -> None:
    spring = from_catalogue(CrossSpring)
    angle = 2.0 * 1.1e9 / 1.25 * 0.009 / (1.31e11 * 3.5e-5)
    near(spring.stress(angle) * spring.strength_factor, spring.leaf_strength, rel=1e-9, why="2 sigma L / (E t)")
    near(spring.numbers().stress_ratio(np.array([angle, angle / 2.0])), [1.0, 0.5], rel=1e-9)
    near(spring.pivot_stiffness(), 2.0 * 1.31e11 * 0.012 * 3.5e-5**3 / 12.0 / 0.009, rel=1e-9, why="2 E I / L")
    stiffness = spring.joint("c", "c").stiffness
    near(stiffness[1], 1.31e11 * 0.012 * 3.5e-5 / 0.009, rel=1e-9, why="two sets, each E A / L at 45 degrees")
    near(stiffness[4], stiffness[1] * 0.024**2 / 12.0, rel=1e-9, why="spread over the width")


def test_six_ways_of_a_symmetric_hexapod() -> None:
    """Six struts lean 45 degrees: z takes half of 6 k, each in-plane way a quarter (derived)."""
    points, directions = three_bipods(0.05, 0.04, math.pi / 4.0)
    stiffness, sigma = six_ways(points, directions, 1e6, 1e-6)
    near(stiffness[2], 6e6 * 0.5, rel=1e-9)
    near(stiffness[5], 6e6 * 0.5 * 0.05**2, rel=1e-9)
    near(sigma[2], 1e-6 / math.sqrt(3.0), rel=1e-9, why="six errors of cos 45 over 3")
    near(stiffness[0], stiffness[1], rel=1e-9, why="three bipods are isotropic")
    near(stiffness[3], stiffness[4], rel=1e-9)


def test_misfit_of_a_seat_by_sampling() -> None:
    """Draws of the six contact errors, solved one at a time, scatter as the closed form says."""
    seat = from_catalogue(MagnetSeat)
    points, normals = three_vees(seat.seat_span, seat.seat_height)
    _, sigma = seat.seat()
    wrench = np.concatenate([normals, np.cross(points, normals)], axis=-1)
    rng = np.random.default_rng(7)
    errors = rng.normal(0.0, seat.seat_repeatability, (200_000, 6))
    moves = np.linalg.solve(wrench, errors.T).T
    near(moves.std(axis=0), sigma, rel=0.008, why="standard error 1 / sqrt(2 n) = 0.16 %, five of it")


def test_seat_stiffness_is_the_give_under_a_unit_load() -> None:
    seat = from_catalogue(MagnetSeat)
    points, normals = three_vees(seat.seat_span, seat.seat_height)
    near(np.linalg.norm(normals, axis=-1), np.ones(6), rel=1e-12)
    stiffness, _ = seat.seat()
    k, wrench = seat.contact().stiffness, np.concatenate([normals, np.cross(points, normals)], axis=-1)
    for way in range(6):
        load = np.eye(6)[way]
        forces = np.linalg.solve(wrench.T, load)
        give = np.sum(forces**2) / k
        near(1.0 / give, stiffness[way], rel=1e-9, why="Castigliano: six statically determinate contacts")


def test_contacts_that_leave_a_motion_free_are_refused() -> None:
    points, normals = three_vees(0.02, 0.005)
    with pytest.raises(ValueError, match="free"):
        six_ways(points[:5], normals[:5], 1e6, 1e-6)


def test_strut_of_a_mount() -> None:
    mount = from_catalogue(BipodMount, end_share=1.0)
    near(mount.strut_stiffness(), 1.138e11 * math.pi * 0.004**2 / 4.0 / 0.040, rel=1e-9, why="E A / L")


def broken(**changed: Any) -> dict[str, Any]:
    (row,) = [r for r in rows("joints") if r["id"] == "magnet_vee"]
    return {**row, **changed}


def test_catalogue_entries_that_cannot_be_are_told() -> None:
    values = dict(broken()["values"])
    with pytest.raises(ValueError, match="unknown kind 'glue'"):
        joint_of(broken(kind="glue"))
    with pytest.raises(ValueError, match="missing or not of its kind"):
        joint_of(broken(values={k: v for k, v in values.items() if k != "mass_kg"}))
    with pytest.raises(ValueError, match="mass must be above zero"):
        joint_of(broken(values={**values, "mass_kg": {"value": -1.0, "flag": "chosen", "source": ""}}))
