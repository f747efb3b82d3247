"""Steady offsets, common causes, growth, blur and the error budget of a real record, worked out anew and spoilt."""

import copy
import json
import tomllib
from collections.abc import Callable
from functools import cache
from typing import Any

import pytest

from synth.cell import cell_from
from synth.problem import Problem
from synth.recheck import recheck_record
from synth.recheck.asked import Asked, asked_of
from synth.record.draft import unpacked
from synth.search.evaluator import work
from synth.search.types import Task
from tests.near import near
from tests.samples import problem, text

SECTIONS: dict[str, Any] = {
    "accuracy": {"common_cause": "edge", "in_plane_rms_limit": "5 mm"},
    "environment": {
        "bulk_temperature_change": "15 K",
        "through_thickness_difference": 0.0,
        "heat_flux": "60 W/m^2",
        "moisture_strain": -2e-5,
        "hinge_creep": "200 urad",
    },
}
VALUES = {"strips": 4, "latches": "none", "thickness": "8 mm", "material": "cfrp_qi_m55j", "edge_gap": "8 mm"}


def record_of(asked: Problem, family: str = "accordion", **values: Any) -> dict[str, Any]:
    cell, row = cell_from(asked, family, values or VALUES)
    scores = work(asked, Task(cell, row, "verify"))
    assert scores.extra is not None, scores.reason
    made = unpacked(scores.extra)[0]
    return dict(json.loads(json.dumps({**made, "id": "box-1"})))


@cache
def whole() -> tuple[dict[str, Any], Asked]:
    return record_of(problem(**SECTIONS)), asked_of(tomllib.loads(text(**SECTIONS)))


def test_record_carries_offsets_causes_and_growth() -> None:
    """Across the edge aluminium leaves grow by 23.6e-6 x 15 K over the feet's distance; creep is towards the fold."""
    record, asked = whole()
    assert [str(f) for f in recheck_record(record, asked)] == []
    near(record["panels"][0]["bulk_strain"], -1.5e-7 * 15.0 - 2e-5, rel=1e-9)
    near(record["panels"][0]["bow_1_per_m"], 1.5e-7 * 60.0 / 1.0, rel=1e-9)  # 1 W/(m K) through a laminate
    for hinge in record["hinges"]:
        for unit in hinge["units"]:
            (x0, y0), (x1, y1) = unit["feet"]
            near(unit["free_offset"][1], 2.36e-5 * 15.0 * ((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5, rel=1e-6)
            near(unit["free_offset"][3], 200e-6 if hinge["stowed_angle_rad"] > 0 else -200e-6, rel=1e-9)
            assert unit["cause"] == f"hinge {hinge['id']}"
    assert "free_offset" not in record["mount"]["units"][0]
    sources = {s["source"]: s for s in record["budget"]["sources"]}
    for name in ("thermal bow", "thermal growth", "moisture", "hinge creep", "gravity release"):
        assert sources[name]["in_plane_m2"] > 0.0, name


def drop_causes(r: dict[str, Any]) -> None:
    for unit in (u for h in r["hinges"] for u in h["units"]):
        del unit["cause"]


def halve_growth(r: dict[str, Any]) -> None:
    for panel in r["panels"]:
        panel["bulk_strain"] *= 0.5


def no_creep(r: dict[str, Any]) -> None:
    for unit in (u for h in r["hinges"] for u in h["units"]):
        unit["free_offset"][3] = 0.0


def other_blur(r: dict[str, Any]) -> None:
    r["metrics"]["blur_rad"] *= 1.1


def other_in_plane(r: dict[str, Any]) -> None:
    r["metrics"]["in_plane_rms_m"] *= 1.1


def other_share(r: dict[str, Any]) -> None:
    r["budget"]["joints"][0]["surface_m2"] *= 1.3


def a_joint_left_out(r: dict[str, Any]) -> None:
    del r["budget"]["joints"][1]


def other_energy(r: dict[str, Any]) -> None:
    r["budget"]["locked_in"]["energy_j"] *= 1.1


def other_datum(r: dict[str, Any]) -> None:
    r["budget"]["datums_m2"]["as deployed"] *= 1.2


@pytest.mark.parametrize(
    ("spoil", "check"),
    [
        (drop_causes, "accuracy"),
        (halve_growth, "accuracy"),
        (no_creep, "accuracy"),
        (other_blur, "blur"),
        (other_in_plane, "accuracy"),
        (other_share, "budget"),
        (a_joint_left_out, "budget"),
        (other_energy, "budget"),
        (other_datum, "budget"),
    ],
)
def test_a_spoilt_figure_is_told(spoil: Callable[[dict[str, Any]], None], check: str) -> None:
    record, asked = whole()
    spoilt = copy.deepcopy(record)
    spoil(spoilt)
    assert check in {f.check for f in recheck_record(spoilt, asked)}
