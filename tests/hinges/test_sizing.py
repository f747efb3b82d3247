"""Flexures sized by the search: numbers follow the sizes, what yields fails by so much, other hinges feel nothing."""

import numpy as np
import pytest

from synth.cell import cell_from, space
from synth.evaluate import evaluate, lay_out
from synth.hinges.kind import numbers_of
from synth.ledger import judge
from synth.problem.catalogue import joints
from tests.near import near
from tests.samples import problem

SIZED = ("cross_becu", "tape_becu", "let_titanium", "let_inside_titanium", "short_becu")
SIZES = {"build.flexure_thickness": 1.5, "build.flexure_length": 0.8}


def test_what_flexes_is_what_is_sized() -> None:
    assert [n for n, k in joints().items() if k.sized] == [n for n in (*SIZED, "rolling_becu") if joints()[n].sized]
    assert all(joints()[name].sized and joints()[name].flexes for name in SIZED)


def test_numbers_of_a_mixed_batch_are_those_of_one_at_a_time() -> None:
    kinds = tuple(joints()[n] for n in ("pin_bearing", *SIZED))
    rng = np.random.default_rng(3)
    index = rng.integers(0, len(kinds), 40)
    thick, long = rng.uniform(0.5, 2.0, 40), rng.uniform(0.5, 2.0, 40)
    many = numbers_of(kinds, index, thick, long)
    for b in range(40):
        kind = kinds[index[b]]
        one = kind.model.resized(thick[b], long[b]).numbers() if kind.sized else kind.numbers
        for name in ("stiffness", "sigma", "mass", "knuckle", "width", "least_gap", "turn_stress", "fold_stress"):
            near(getattr(many, name)[b], getattr(one, name), rel=1e-12, why=f"{kind.name} {name}")
        for name in ("flexure_rate", "fold_moment", "peak_moment", "peak_angle", "drive_torque"):
            near(getattr(many.turn, name)[b], getattr(one.turn, name), rel=1e-12, why=f"{kind.name} {name}")


@pytest.mark.parametrize("name", SIZED)
def test_thicker_is_stiffer_to_turn_and_more_stressed(name: str) -> None:
    kind, half_turn = joints()[name], np.full(1, np.pi)
    plain, thick, long = (kind.model.resized(np.array([t]), np.array([n])).numbers()
                          for t, n in ((1.0, 1.0), (1.3, 1.0), (1.0, 1.3)))  # fmt: skip
    stress = [float(k.stress_ratio(half_turn)[0]) for k in (plain, thick, long)]
    assert stress[1] > stress[0] > stress[2] > 0.0
    torque = [float((k.turn.spring(half_turn) + k.turn.restoring(half_turn))[0]) for k in (plain, thick, long)]
    assert torque[1] > torque[0]
    near(plain.stress_ratio(half_turn), kind.numbers.stress_ratio(np.array(np.pi)), rel=1e-12, why="1 and 1: as drawn")


def test_stress_of_leaves_and_tapes_by_hand() -> None:
    """sigma = E t theta / (2 l) for a short leaf; E / (1 - nu^2) t / (2 R) (1 + nu) for a tape."""
    leaf = joints()["short_becu"].model.resized(np.array([1.5]), np.array([0.8])).numbers()
    by_hand = 1.31e11 * 1.5 * 2.5e-5 * np.pi / (2.0 * 0.8 * 0.007) * 1.25 / 1.1e9
    near(leaf.stress_ratio(np.full(1, np.pi)), by_hand, rel=1e-9)
    tape = joints()["tape_becu"].model.resized(np.array([1.5]), np.array([0.8])).numbers()
    by_hand = 1.31e11 / 0.91 * 1.5 * 3e-5 / (2.0 * 0.8 * 0.0033) * 1.3 * 1.25 / 1.1e9
    near(tape.stress_ratio(np.full(1, 0.5)), by_hand, rel=1e-9)


def test_a_flexure_that_would_yield_is_infeasible_by_how_much() -> None:
    asked = problem(choices={"hinge_kinds": ["short_becu"], "variables": {"build.edge_gap": ["20 mm", "30 mm"]}})
    found = {}
    for thickness in (1.0, 1.9):
        cell, row = cell_from(asked, "accordion", {"strips": 3, "build.flexure_thickness": thickness})
        columns = space(asked, cell).columns(row)
        evaluation = evaluate(asked, cell, columns)
        assert evaluation.status.ok.all()
        ledger = judge(asked, evaluation)
        (place,) = [k for k, r in enumerate(ledger.requirements) if r.name == "structure.hinge_stress"]
        found[thickness] = float(ledger.margins[0, 0, place])
    ratio = 1.31e11 * 2.5e-5 * np.pi / (2.0 * 0.007) * 1.25 / 1.1e9
    near([found[1.0], found[1.9]], [1.0 - ratio, 1.0 - 1.9 * ratio], rel=1e-9, why="half turns")
    assert found[1.9] < 0.0 < found[1.0]


def test_only_hinges_that_flex_carry_their_sizes() -> None:
    asked = problem(choices={"hinge_kinds": ["pin_bearing", "cross_becu"]})
    for hinge, there in (("pin_bearing", False), ("cross_becu", True)):
        cell, row = cell_from(asked, "accordion", {"strips": 3, "build.hinge": hinge, **SIZES})
        genes = space(asked, cell).genes(row[0])
        assert ("build.flexure_length" in genes) == there
    pins = problem(choices={"hinge_kinds": ["pin_bearing"]})
    cell, row = cell_from(pins, "accordion", {"strips": 3})
    assert not [a for a in space(pins, cell).axes if "flexure" in a.name]
    # and nothing in a design with pins depends on them
    cell, row = cell_from(asked, "accordion", {"strips": 3, "build.hinge": "pin_bearing"})
    names = [a.name for a in space(asked, cell).axes]
    other = row.copy()
    other[:, [names.index(f"build.flexure_{k}") for k in ("thickness", "length")]] = 0.9
    one, two = (lay_out(asked, cell, space(asked, cell).columns(x))[0] for x in (row, other))
    assert np.array_equal(one.units.stiffness, two.units.stiffness)
    assert np.array_equal(one.fittings.outline, two.fittings.outline)
