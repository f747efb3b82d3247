"""A framed transmissive candidate end to end: windows, rim mount, blur and light, rechecked and spoilt."""

import copy
import tomllib
from functools import cache
from typing import Any

import numpy as np
import pytest
import shapely

from synth.recheck import recheck_record
from synth.recheck.asked import Asked, asked_of
from synth.record import Record
from tests.near import near
from tests.recheck.test_budget import record_of
from tests.samples import problem, text

SECTIONS: dict[str, Any] = {
    "aperture": {"optic": "transmissive", "focal_ratio": 2.0, "wavelength": "532 nm", "field_of_view": "300 urad"},
    "environment": {"moisture_strain": -3e-5},
}
VALUES = {
    "columns": 2, "rows": 2, "latches": "none", "section": "framed", "thickness": "12 mm", "face_share": 0.06,
    "material": "fused_silica", "edge_gap": "12 mm", "hinge": "pin_bearing",
}  # fmt: skip


@cache
def whole() -> tuple[dict[str, Any], Asked]:
    asked = problem(**SECTIONS)
    return record_of(asked, "map_fold", **VALUES), asked_of(tomllib.loads(text(**SECTIONS)))


def test_framed_panels_are_told_and_recheck() -> None:
    """Windows lie 2.4 pad radii inside; light is what falls into them; the mount stands on the frame."""
    record, asked = whole()
    Record.model_validate(record)
    assert [str(f) for f in recheck_record(record, asked)] == []
    pad = record["hinges"][0]["units"][0]["pad_radius_m"]
    for panel in record["panels"]:
        assert panel["section"] == "framed"
        face, window = shapely.Polygon(panel["outline"]), shapely.Polygon(panel["windows"][0])
        near(face.exterior.distance(window), 2.4 * pad, rel=1e-9)
    light = record["optics"]["light"]
    near(light["circle_m2"], np.pi / 4 * 0.85**2, rel=1e-9)
    parts = ("collected_m2", "hardware_shadow_m2", "frames_m2", "gaps_and_uncovered_m2")
    near(sum(light[p] for p in parts), light["circle_m2"], rel=1e-9)
    assert light["frames_m2"] > 0.1 * light["collected_m2"]
    near(light["collected_m2"], record["metrics"]["collecting_area_m2"], rel=1e-9)
    window = shapely.Polygon(record["panels"][0]["windows"][0])
    assert len(record["mount"]["units"]) == 3
    for unit in record["mount"]["units"]:
        assert not window.contains(shapely.Point(unit["feet"][0]))
    names = [r["name"] for r in record["requirements"]]
    assert "aperture.field_of_view" in names
    sources = {s["source"]: s for s in record["budget"]["sources"]}
    assert sources["moisture"]["surface_m2"] > 0.0, "the frame dries, the sheet does not: the panel bends"


def test_wavefront_by_the_recheck() -> None:
    from synth.recheck.network import solve_network
    from synth.recheck.optics import wavefront_of

    record, asked = whole()
    found = solve_network(record, record["verification"]["plate_degree"], asked.gravity_release, asked.refocus)
    near(record["optics"]["wavefront_rms_m"], wavefront_of(found, asked), rel=5e-3, why="two solutions")
    near(record["metrics"]["blur_rad"], record["optics"]["blur_rad"], rel=1e-9)


def _wider(record: dict[str, Any]) -> None:
    panel = record["panels"][0]
    panel["windows"] = [panel["outline"]]


def _none(record: dict[str, Any]) -> None:
    record["panels"][1]["windows"] = []


def _outside(record: dict[str, Any]) -> None:
    record["panels"][0]["windows"][0] = [[x + 0.1, y] for x, y in record["panels"][0]["windows"][0]]


def _crossed(record: dict[str, Any]) -> None:
    record["panels"][0]["windows"][0][0] = [5.0, 5.0]


@pytest.mark.parametrize(
    ("spoil", "check"),
    [(_wider, "collecting area"), (_none, "collecting area"), (_outside, "window"), (_crossed, "outline")],
)
def test_spoilt_windows_are_told(spoil: Any, check: str) -> None:
    record, asked = whole()
    spoilt = copy.deepcopy(record)
    spoil(spoilt)
    assert check in {f.check for f in recheck_record(spoilt, asked, network=False)}
