"""Hinge formulas against published and re-derived cases (cases.toml: each with its source and flag)."""

import math
import tomllib
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from synth.hinges import leaf
from synth.hinges.contact import ball_on_flat
from synth.hinges.let_flexure import LetFlexure
from synth.hinges.tape_spring import TapeSpring
from synth.hinges.torsion import shear_modulus_of_section, torsion_constant
from synth.problem.catalogue import rows
from tests.near import near

CASES: dict[str, Any] = {
    case["id"]: case for case in tomllib.loads(Path(__file__).with_name("cases.toml").read_text())["case"]
}


def holds(name: str, *actual: Any) -> None:
    case = CASES[name]
    expected = case["expected"] if isinstance(case["expected"], list) else [case["expected"]]
    assert len(actual) == len(expected)
    for a, e in zip(actual, expected, strict=True):
        near(a, e, rel=case["tolerance_rel"], why=f"{name}: {case['source']} ({case['checked']})")


def from_catalogue(kind: type[Any], **changed: float) -> Any:
    """The first joint of this kind in the catalogue with some values replaced."""
    row = next(r for r in rows("joints") if r["kind"] == kind.name)
    given = {field: row["values"][key]["value"] for key, field in kind.keys().items()}
    return kind(**{**given, **changed})


def test_torsion_of_a_rectangle() -> None:
    ratios = CASES["torsion.rect_constant"]["inputs"]["r"]
    c2 = [torsion_constant(r, 1.0) / r for r in ratios]
    c1 = [shear_modulus_of_section(r, 1.0) / r for r in ratios]
    holds("torsion.rect_constant", c2, c1)
    near(torsion_constant(0.001, 0.0005), torsion_constant(0.0005, 0.001), rel=1e-12)


def test_torsion_lies_beside_the_handbook_form() -> None:
    case = CASES["torsion.roark_approx"]
    exact = [torsion_constant(r, 1.0) / r for r in case["inputs"]["r"]]
    near(exact, case["expected"], rel=0.0019, why="the closed form is within 0.19 % of the series")


def let(**changed: float) -> LetFlexure:
    i = CASES["let.outside_stiffness"]["inputs"]
    return from_catalogue(
        LetFlexure,
        **{
            "sheet_modulus": i["E_pa"],
            "sheet_shear_modulus": i["G_pa"],
            "sheet_thickness": i["sheet_m"],
            "bar_width": i["bar_width_m"],
            "bar_length": i["bar_length_m"],
            "bridge_width": i["bend_width_m"],
            "bridge_length": i["bend_length_m"],
            "rows": 1.0,
            **changed,
        },
    )


def test_let_stiffness() -> None:
    joint = let()
    holds(
        "let.outside_stiffness",
        joint.bar_stiffness(),
        joint.bridge_stiffness(),
        joint.row_stiffness(),
        joint.row_stiffness(inside=True),
    )


def test_let_stress() -> None:
    joint, angle = let(), math.radians(CASES["let.outside_stress"]["inputs"]["rotation_deg"])
    moment = joint.row_stiffness() * angle
    holds("let.outside_stress", moment, moment / 2.0, *joint.stresses(angle))


def test_let_yields_at_a_right_angle_in_one_row_and_rows_share_the_turn() -> None:
    near(let().stresses(math.pi / 2)[0], 749e6, rel=0.001, why="stated beside let.outside_stress to three digits")
    shear, bending = let().stresses(1.0)
    assert near(let(rows=5.0).stresses(5.0), (shear, bending), rel=1e-12)
    near(let(rows=5.0).fold_stiffness(), let().row_stiffness() / 5.0, rel=1e-12)
    near(let(rows=4.0, turn_room=9.0).largest_angle(), 4.0 * let(turn_room=9.0).largest_angle(), rel=1e-12)


def test_short_pivot() -> None:
    i = CASES["slfp.stiffness"]["inputs"]
    holds(
        "slfp.stiffness",
        leaf.short_pivot(i["E_pa"], i["w_m"], i["t_m"], i["l_m"]),
        leaf.pivot_stress(i["E_pa"], i["t_m"], i["l_m"], math.radians(i["theta_deg"])),
    )


def test_crossed_leaves() -> None:
    a = CASES["crossspring.stiffness"]["inputs"]["a"]
    near([leaf.crossed_stiffness(x) for x in a], CASES["crossspring.stiffness"]["expected"], rel=1e-9)
    i = CASES["crossspring.limits"]["inputs"]
    angle = i["sigma_pa"] / leaf.crossed_stress(i["E_pa"], i["t_m"], i["L_m"], 0.5, 1.0)
    holds("crossspring.limits", angle, leaf.ZERO_SHIFT_CROSSING)


def test_crossed_leaves_stress_is_that_of_the_end_moments() -> None:
    """Stiffness of a beam whose end turns by theta and shifts by -a L theta: M = E I theta (4 - 6 a) / L."""
    beam = np.array([[4.0, -6.0], [2.0, -6.0]])
    for a in (0.0, 0.127322, 0.3, 0.5):
        moments = np.abs(beam @ [1.0, a])
        near(
            leaf.crossed_stress(2.0, 1.0, 1.0, a, 1.0), moments.max(), rel=1e-12, why="sigma = M t / (2 I), E t / 2 = 1"
        )


def tape() -> TapeSpring:
    i = CASES["tape.steady_moment"]["inputs"]
    return from_catalogue(
        TapeSpring,
        tape_modulus=i["E_pa"],
        tape_poisson=i["nu"],
        tape_thickness=i["t_m"],
        tape_radius=i["R_m"],
        subtended_angle=i["subtended_angle_rad"],
    )


def test_tape_moment_and_strain() -> None:
    t = tape()
    holds("tape.steady_moment", t.bending_stiffness(), t.steady_moment(True), t.steady_moment(False))
    holds("tape.fold_strain", t.fold_strain(), t.fold_stress(True), t.fold_stress(False))


def test_tape_that_yields_is_refused() -> None:
    weak = from_catalogue(TapeSpring, tape_strength=1e8)
    with pytest.raises(ValueError, match="yields"):
        weak.joint("weak", "weak")


def test_fold_of_a_film() -> None:
    case = CASES["fold.film_strain"]
    t, radius = case["inputs"]["t_m"], case["inputs"]["R_m"]
    middle = [leaf.film_strain(a, b) for a, b in zip(t, radius, strict=True)]
    inner = [leaf.film_strain(a, b + a / 2.0) for a, b in zip(t, radius, strict=True)]
    near(middle, case["expected"][0], rel=case["tolerance_rel"])
    near(inner, case["expected"][1], rel=case["tolerance_rel"], why="the inner radius is half a thickness less")
    i = CASES["fold.min_radius"]["inputs"]
    holds("fold.min_radius", leaf.least_fold_radius(i["E_pa"], i["sigma_y_pa"], i["t_m"]))


def test_notch() -> None:
    i = CASES["notch.paros"]["inputs"]
    holds("notch.paros", leaf.notch_stiffness(i["E_pa"], i["b_m"], i["t_m"], i["R_m"]))


def test_ball_on_flat() -> None:
    i = CASES["coupling.hertz_ball"]["inputs"]
    c = ball_on_flat(i["R_m"], i["F_n"], i["E_pa"], i["nu"])
    holds("coupling.hertz_ball", c.modulus, c.approach, c.radius, c.pressure, c.stiffness)
    step = 1e-4 * i["F_n"]
    softer = ball_on_flat(i["R_m"], i["F_n"] - step, i["E_pa"], i["nu"]).approach
    stiffer = ball_on_flat(i["R_m"], i["F_n"] + step, i["E_pa"], i["nu"]).approach
    near(c.stiffness, 2.0 * step / (stiffer - softer), rel=1e-6, why="k is the slope of force over approach")
