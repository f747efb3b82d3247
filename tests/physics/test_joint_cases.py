"""Reference cases of hinges, springs and contacts (structures_checks.toml: each with its source and flag)."""

import math
from pathlib import Path

import numpy as np

from synth.hinges import leaf
from synth.hinges.contact import ball_on_flat
from synth.hinges.lamina import LaminaModel
from synth.hinges.let_flexure import LetFlexure
from synth.hinges.let_inside import LetInside
from synth.hinges.tape_spring import TapeSpring
from synth.hinges.torsion import shear_modulus_of_section, torsion_constant
from tests.hinges.parts import from_catalogue
from tests.near import near
from tests.physics.structure_cases import STRUCK, all_cases, case


def test_torsion_of_a_rectangle() -> None:
    ratios = case("torsion.rect_constant").inputs["r"]
    c2 = [torsion_constant(r, 1.0) / r for r in ratios]
    c1 = [shear_modulus_of_section(r, 1.0) / r for r in ratios]
    case("torsion.rect_constant").holds(c2, c1)
    near(torsion_constant(0.001, 0.0005), torsion_constant(0.0005, 0.001), rel=1e-12)


def test_torsion_lies_beside_the_handbook_form() -> None:
    found = case("torsion.roark_approx")
    exact = [torsion_constant(r, 1.0) / r for r in found.inputs["r"]]
    near(exact, found.expected, rel=0.0019, why="the closed form is within 0.19 % of the series")


def let(kind: type[LaminaModel] = LetFlexure, **changed: float) -> LaminaModel:
    i = case("let.outside_stiffness").inputs
    return from_catalogue(
        kind,
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
    case("let.outside_stiffness").holds(
        joint.bar_stiffness(),
        joint.bridge_stiffness(),
        joint.row_stiffness(),
        let(LetInside).row_stiffness(),
    )


def test_let_stress() -> None:
    joint, angle = let(), math.radians(case("let.outside_stress").inputs["rotation_deg"])
    moment = joint.row_stiffness() * angle
    case("let.outside_stress").holds(moment, moment / 2.0, *joint.stresses(angle))


def test_let_yields_at_a_right_angle_in_one_row_and_rows_share_the_turn() -> None:
    near(let().stresses(math.pi / 2)[0], 749e6, rel=0.001, why="stated beside let.outside_stress to three digits")
    shear, bending = let().stresses(1.0)
    assert near(let(rows=5.0).stresses(5.0), (shear, bending), rel=1e-12)
    near(let(rows=5.0).fold_stiffness(), let().row_stiffness() / 5.0, rel=1e-12)
    near(let(rows=4.0).largest_angle(), 4.0 * let().largest_angle(), rel=1e-12)


def test_inside_and_outside_rows_are_their_springs_put_together() -> None:
    """Bars kT and bridges kB as chains: outside two of bar, bridge, bar side by side; inside pairs in a row."""
    for kind in (LetFlexure, LetInside):
        joint = let(kind)
        t, b = joint.bar_stiffness(), joint.bridge_stiffness()
        outside = 2.0 / (2.0 / t + 1.0 / b)
        inside = 1.0 / (2.0 / (2.0 * t) + 2.0 / (2.0 * b))
        near(joint.row_stiffness(), outside if kind is LetFlexure else inside, rel=1e-12)
        near(joint.numbers().stress_ratio(np.array(joint.largest_angle())), 1.0, rel=1e-9)


def test_short_pivot() -> None:
    i = case("slfp.stiffness").inputs
    case("slfp.stiffness").holds(
        leaf.short_pivot(i["E_pa"], i["w_m"], i["t_m"], i["l_m"]),
        leaf.pivot_stress(i["E_pa"], i["t_m"], i["l_m"], math.radians(i["theta_deg"])),
    )


def test_crossed_leaves() -> None:
    a = case("crossspring.stiffness").inputs["a"]
    case("crossspring.stiffness").holds(*[leaf.crossed_stiffness(x) for x in a])
    i = case("crossspring.limits").inputs
    angle = i["sigma_pa"] / leaf.crossed_stress(i["E_pa"], i["t_m"], i["L_m"], 0.5, 1.0)
    case("crossspring.limits").holds(angle, leaf.ZERO_SHIFT_CROSSING)


def test_crossed_leaves_stress_is_that_of_the_end_moments() -> None:
    """Stiffness of a beam whose end turns by theta and shifts by -a L theta: M = E I theta (4 - 6 a) / L."""
    beam = np.array([[4.0, -6.0], [2.0, -6.0]])
    for a in (0.0, 0.127322, 0.3, 0.5):
        moments = np.abs(beam @ [1.0, a])
        near(
            leaf.crossed_stress(2.0, 1.0, 1.0, a, 1.0), moments.max(), rel=1e-12, why="sigma = M t / (2 I), E t / 2 = 1"
        )


def tape() -> TapeSpring:
    i = case("tape.steady_moment").inputs
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
    case("tape.steady_moment").holds(t.bending_stiffness(), t.steady_moment(True), t.steady_moment(False))
    case("tape.fold_strain").holds(t.fold_strain(), t.fold_stress(True), t.fold_stress(False))


def test_a_tape_that_yields_says_by_how_much() -> None:
    weak = from_catalogue(TapeSpring, tape_strength=1e8)
    ratio = weak.numbers().stress_ratio(np.array([0.0, 0.1, np.pi]))
    near(ratio[1:], weak.fold_stress() * 1.25 / 1e8 * np.ones(2), rel=1e-12, why="folded or not, not how far")
    assert ratio[0] == 0.0 and ratio[1] > 1.0


def test_fold_of_a_film() -> None:
    found = case("fold.film_strain")
    t, radius = found.inputs["t_m"], found.inputs["R_m"]
    middle = [leaf.film_strain(a, b) for a, b in zip(t, radius, strict=True)]
    inner = [leaf.film_strain(a, b + a / 2.0) for a, b in zip(t, radius, strict=True)]
    found.holds(middle, inner)  # the inner radius is half a thickness less
    i = case("fold.min_radius").inputs
    case("fold.min_radius").holds(leaf.least_fold_radius(i["E_pa"], i["sigma_y_pa"], i["t_m"]))


def test_notch() -> None:
    i = case("notch.paros").inputs
    case("notch.paros").holds(leaf.notch_stiffness(i["E_pa"], i["b_m"], i["t_m"], i["R_m"]))


def test_ball_on_flat() -> None:
    i = case("coupling.hertz_ball").inputs
    c = ball_on_flat(i["R_m"], i["F_n"], i["E_pa"], i["nu"])
    case("coupling.hertz_ball").holds(c.modulus, c.approach, c.radius, c.pressure, c.stiffness)
    step = 1e-4 * i["F_n"]
    softer = ball_on_flat(i["R_m"], i["F_n"] - step, i["E_pa"], i["nu"]).approach
    stiffer = ball_on_flat(i["R_m"], i["F_n"] + step, i["E_pa"], i["nu"]).approach
    near(c.stiffness, 2.0 * step / (stiffer - softer), rel=1e-6, why="k is the slope of force over approach")


def test_every_case_of_joints_is_here_or_struck_out() -> None:
    text = Path(__file__).read_text(encoding="utf-8")
    starts = ("torsion.", "let.", "slfp.", "prbm.", "crossspring.", "tape.", "fold.", "notch.", "coupling.")
    mine = [k for k in all_cases() if k.startswith(starts)]
    assert len(mine) == 15
    for name in mine:
        assert (f'case("{name}")' in text) != (name in STRUCK), name
