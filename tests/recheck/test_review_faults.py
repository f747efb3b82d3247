"""Planted faults in what a record tells for a review: mass growth, distinct parts, launch, drive, modes."""

import copy
import json
import tomllib
from collections.abc import Callable
from functools import cache
from typing import Any

import pytest

from synth.recheck.asked import Asked, asked_of
from synth.recheck.parts import distinct_outlines
from synth.recheck.whole import recheck_record
from synth.record.draft import unpacked
from tests.recheck import accordion as made
from tests.samples import text, verified

Record = dict[str, Any]
PROBLEM: dict[str, Any] = {
    "aperture": {"clear_diameter": made.CLEAR_DIAMETER},
    "mass": {"limit": 7.0, "growth_allowance": made.GROWTH},
}


def asked(**mass: Any) -> Asked:
    return asked_of({**PROBLEM, "mass": {"limit": 7.0, **(mass or {"growth_allowance": made.GROWTH})}})


def told(record: Record, problem: Asked) -> set[str]:
    return {f.what for f in recheck_record(record, problem, network=False) if f.check in ("mass", "distinct parts")}


def _row(record: Record, part: str) -> Record:
    found: Record = next(r for r in record["mass_growth"] if r["part"] == part)
    return found


def grown(record: Record, shares: dict[str, float]) -> Record:
    """The record with other growth shares, summed anew."""
    for name, share in shares.items():
        row = _row(record, name)
        row["growth"], row["mass_kg"] = share, row["basic_kg"] * (1.0 + share)
    record["metrics"]["mass_kg"] = sum(r["mass_kg"] for r in record["mass_growth"])
    record["requirements"][1] = made.requirement("mass.limit", "max", record["metrics"]["mass_kg"], 7.0, "kg")
    return record


def other_share(record: Record) -> None:
    grown(record, {"hinges": 0.5 * made.GROWTH})


def wrong_product(record: Record) -> None:
    _row(record, "mount")["mass_kg"] *= 1.01


def moved_between_parts(record: Record) -> None:
    _row(record, "panels")["basic_kg"] -= 0.01
    _row(record, "hinges")["basic_kg"] += 0.01


def part_left_out(record: Record) -> None:
    record["mass_growth"] = [r for r in record["mass_growth"] if r["part"] != "latches"]


def another_shape(record: Record) -> None:
    record["metrics"]["distinct_parts"] = 2


FAULTS = ((other_share, "growth share of hinges"), (wrong_product, "growth of mount"),
          (moved_between_parts, "basic mass of panels"), (part_left_out, "parts of mass_growth"),
          (another_shape, "distinct_parts"))  # fmt: skip


@pytest.mark.parametrize(("plant", "what"), [pytest.param(p, w, id=p.__name__) for p, w in FAULTS])
def test_planted_fault_is_told(plant: Callable[[Record], None], what: str) -> None:
    record = made.accordion("bay")
    assert not told(record, asked())
    plant(record)
    assert what in told(record, asked())


LAYOUT = {"panels": 0.15, "hinges": 0.15, "latches": 0.15, "mount": 0.15, "fittings": 0.15, "drives": 0.15,
          "harness": 0.30, "restraints": 0.15}  # fmt: skip


def test_growth_by_maturity_is_held_against_the_table() -> None:
    problem = asked(maturity="layout")
    assert not told(grown(made.accordion("bay"), LAYOUT), problem)
    assert not told(grown(made.accordion("bay"), {**LAYOUT, "panels": 0.19}), problem)  # a solid composite
    assert "growth share of panels" in told(grown(made.accordion("bay"), {**LAYOUT, "panels": 0.18}), problem)
    assert "growth share of harness" in told(grown(made.accordion("bay"), {**LAYOUT, "harness": 0.15}), problem)
    assert "growth share of mount" in told(grown(made.accordion("bay"), LAYOUT), asked(maturity="released"))


def test_a_mirror_image_is_another_part() -> None:
    """Two mirrored leaning strips are two parts; turned half round they are one."""
    record = made.accordion("bay")
    lean = [[0.0, 0.0], [0.1, 0.0], [0.15, 0.3], [0.05, 0.3]]
    mirrored = [[-x, y] for x, y in lean][::-1]
    half = [[-x, -y] for x, y in lean]
    middle = [lean[0], [0.04, 0.0], *lean[1:]]
    assert distinct_outlines([lean, half, middle]) == 1 and distinct_outlines([lean, mirrored]) == 2
    assert distinct_outlines([p["outline"] for p in record["panels"]]) == 1


@cache
def real() -> Record:
    """A record as the program makes it, of a tree whose springs drive; its problem is the sample's."""
    for family in ("segment_stack", "accordion", "map_fold", "wing", "fan", "petal", "slat_roll"):
        found: Record = json.loads(json.dumps(unpacked(verified(family)[2].extra)[0]))
        if found["metrics"]["torque_ratio"] > 0.2 and len(found["panels"]) > 2:
            return {**found, "id": "box-1"}
    raise AssertionError("none of the sample's trees is driven")


def _checks(record: Record, network: bool = False) -> set[str]:
    return {f.check for f in recheck_record(record, asked_of(tomllib.loads(text())), network=network)}


def spoiled(*where: str | int, by: float = 1.06) -> Record:
    """The real record with one number at a path made larger; "greatest": of a list."""
    record = copy.deepcopy(real())
    at: Any = record
    for key in where[:-1]:
        at = at[key]
    at[at.index(max(at)) if where[-1] == "greatest" else where[-1]] *= by
    return record


LAUNCH = (("metrics", "stowed_first_mode_hz"), ("metrics", "launch_deflection_m"), ("metrics", "restraint_preload_n"),
          ("metrics", "launch_contact_ratio"), ("launch", "pad_normal_n_per_m"), ("launch", "panels", 1, "carried_kg"),
          ("launch", "panels", 2, "hold_downs", 0, 0))  # fmt: skip
DRIVE = (("drive", "hinges", 0, "moved_inertia_kg_m2"), ("drive", "hinges", 0, "ecss_margin"),
         ("drive", "hinges", 1, "nasa_margin"), ("drive", "hinges", 1, "stored_energy_j"),
         ("drive", "hinges", 0, "free_rate_rad_s"), ("drive", "hinges", 0, "damped_rate_rad_s"),
         ("drive", "hinges", 0, "angle_rad", 0), ("drive", "hinges", 0, "supplied_n_m", -1),
         ("drive", "stage_seconds"), ("drive", "cold", "harness"), ("metrics", "torque_ratio"),
         ("metrics", "latch_energy_j"))  # fmt: skip
MODES = (("modes", 0, "frequency_hz"), ("modes", 1, "moving", "greatest"), ("modes", 2, "joints", 0, "share"))


def test_the_real_record_passes() -> None:
    assert _checks(real(), network=True) == set()


@pytest.mark.parametrize("where", LAUNCH, ids=str)
def test_spoiled_launch_figures_are_told(where: tuple[str | int, ...]) -> None:
    by = {"pad_normal_n_per_m": 0.003}.get(str(where[-1]), 3.0 if where[0] == "launch" else 1.06)
    assert "launch" in _checks(spoiled(*where, by=by)), where


def test_spoiled_stress_is_told() -> None:
    assert "launch" in _checks(spoiled("metrics", "launch_stress_ratio", by=1.2))


@pytest.mark.parametrize("where", DRIVE, ids=str)
def test_spoiled_torques_are_told(where: tuple[str | int, ...]) -> None:
    assert "drive" in _checks(spoiled(*where)), where


@pytest.mark.parametrize("where", MODES, ids=str)
def test_spoiled_modes_are_told(where: tuple[str | int, ...]) -> None:
    assert "modes" in _checks(spoiled(*where, by=1.5)), where


def test_a_wrong_second_mode_is_told() -> None:
    record = copy.deepcopy(real())
    for mode in record["modes"][1:]:
        mode["frequency_hz"] *= 1.2
    assert _checks(record, network=True) == {"modes"}


def test_a_shape_of_another_size_is_told() -> None:
    record = copy.deepcopy(real())
    record["modes"][0]["corners"] = [[[0.5 * x for x in c] for c in p] for p in record["modes"][0]["corners"]]
    assert _checks(record) == {"modes"}
