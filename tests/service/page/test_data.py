"""What the page's views are made of, without a browser: forms, solids, modes, budgets, against the record itself."""

import base64
import math
import tomllib
from collections.abc import Mapping
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import numpy as np
import pytest

from synth.app.checking import read_problem
from synth.app.folder import candidate_record
from synth.app.running import try_candidate
from synth.app.serving import check
from synth.cell import vocabulary
from synth.core.arrays import Floats, transform
from synth.core.errors import InputError
from synth.export.parts import fitting_prisms, panel_prism
from synth.problem import Problem
from synth.problem.reading import loads
from synth.service.errors import Wrong
from synth.service.page.accuracy import accuracy_view
from synth.service.page.asking import asked, bounded, sweep
from synth.service.page.candidates import candidate_view
from synth.service.page.form import edited, form_of, shipped, written
from synth.service.page.modes import modes_view
from synth.service.page.scene import scene
from synth.service.page.words import sign
from tests.near import near
from tests.service.page.conftest import HAZE
from tests.service.served import ROOT


@cache
def tried() -> tuple[Mapping[str, Any], Problem]:
    """The record of a candidate given by hand, and its problem."""
    file = ROOT / "problems" / "harbour_haze.toml"
    with TemporaryDirectory() as folder:
        run = Path(folder) / "run"
        try_candidate(file, "map_fold", [], None, run)
        name = next((run / "candidates").glob("*.json")).stem
        return candidate_record(run, name), read_problem(file)


def floats(text: str) -> Floats:
    return np.frombuffer(base64.b64decode(text), dtype="<f4").astype(np.float64)


def volume(triangles: Floats) -> float:
    """Of a closed surface of outward triangles [m, 3, 3], by the divergence theorem."""
    return float(np.einsum("mi,mi->", triangles[:, 0], np.cross(triangles[:, 1], triangles[:, 2])) / 6.0)


def test_the_scene_holds_every_solid_of_the_record() -> None:
    record, problem = tried()
    told = scene(record, problem)
    corners = floats(told["positions"]).reshape(-1, 3)
    solids = [*(panel_prism(p) for p in record["panels"]), *fitting_prisms(record)]
    for k, panel in enumerate(told["panels"]):
        own = corners[panel["first"] : panel["first"] + panel["count"]].reshape(-1, 3, 3)
        expected = math.fsum(s.volume for s in solids if s.panel == k)
        near(volume(own), expected, rel=2e-5)
    tones = np.frombuffer(base64.b64decode(told["tones"]), dtype=np.uint8)
    assert len(tones) == len(corners)
    assert set(tones) == {0, 1, 2, 3}


def test_the_scene_moves_as_the_record_does_and_its_walls_hold_the_stowed_pack() -> None:
    record, problem = tried()
    told = scene(record, problem)
    poses = floats(told["poses"]).reshape(len(told["s"]), len(record["panels"]), 3, 4)
    assert np.abs(poses - np.asarray(record["path"]["poses"])).max() < 1e-6
    turn = np.asarray(record["stowed"]["rotation"])
    walls = floats(told["guides"]["walls"]).reshape(-1, 3) @ turn.T
    corners = floats(told["positions"]).reshape(-1, 3)
    for k, panel in enumerate(told["panels"]):
        own = transform(poses[0, k], corners[panel["first"] : panel["first"] + panel["count"]]) @ turn.T
        assert (own.min(axis=0) > walls.min(axis=0) - 1e-6).all() and (own.max(axis=0) < walls.max(axis=0) + 1e-6).all()


def test_the_first_mode_is_the_one_that_the_record_tells() -> None:
    record, _ = tried()
    told = modes_view(record)
    near(told["frequencies_hz"][0], float(record["metrics"]["first_mode_hz"]), rel=1e-4)
    assert told["frequencies_hz"] == sorted(told["frequencies_hz"]) and len(told["shapes"]) == 6
    count = len(floats(told["points"])) // 3
    for shape in told["shapes"]:
        near(float(np.abs(floats(shape)).max()), 1.0, rel=1e-6)
        assert len(floats(shape)) == count
    assert max(told["triangles"]) < count


def test_the_triangles_of_the_modes_cover_every_panel() -> None:
    record, _ = tried()
    told = modes_view(record)
    points = floats(told["points"]).reshape(-1, 3)[:, :2]
    a, b, c = np.moveaxis(points[np.asarray(told["triangles"]).reshape(-1, 3)], 1, 0)
    cross = (b - a)[:, 0] * (c - a)[:, 1] - (b - a)[:, 1] * (c - a)[:, 0]
    near(float(np.abs(cross).sum() / 2.0), math.fsum(panel_prism(p).face.area for p in record["panels"]), rel=2e-3)


def test_the_budget_adds_up_to_the_surface_error_of_the_record() -> None:
    record, _ = tried()
    told = accuracy_view(record)
    near(told["surface"]["rms_m"], float(record["metrics"]["surface_rms_m"]), rel=1e-6)
    near(sum(s["share"] for s in told["surface"]["sources"]), 1.0, rel=1e-9)
    near(sum(s["rms_m"] ** 2 for s in told["in_plane"]["sources"]), float(record["metrics"]["in_plane_rms_m"]) ** 2,
         rel=1e-6)  # fmt: skip
    view = candidate_view(record)
    near(sum(p["kg"] for p in view["mass"]), float(record["metrics"]["mass_kg"]), rel=1e-6)
    assert [r["ok"] for r in view["requirements"]] == [r["ok"] for r in record["requirements"]]


def test_the_form_changes_the_text_and_leaves_its_comments() -> None:
    text = edited(HAZE, {"aperture.clear_diameter": "420 mm", "mass.limit": "4", "accuracy.blur_limit": "90 urad",
                         "search.objectives": ["mass", "blur"], "accuracy.refocus": False, "aperture.focal_ratio": "",
                         "envelope[1].diameter": "240 mm", "title": "Other"})  # fmt: skip
    told = tomllib.loads(text)
    assert told["aperture"]["clear_diameter"] == "420 mm" and "focal_ratio" not in told["aperture"]
    assert told["mass"]["limit"] == 4 and told["accuracy"] == {"surface_rms_limit": "10 um", "refocus": False,
                                                               "blur_limit": "90 urad"}  # fmt: skip
    assert told["search"]["objectives"] == ["mass", "blur"] and told["title"] == "Other"
    assert told["envelope"][1]["diameter"] == "240 mm"
    assert text.count("#") == HAZE.count("#")


def test_envelopes_come_go_and_change_their_shape() -> None:
    text = edited(HAZE, {"envelope": "+", "envelope[0].shape": "box"})
    text = edited(text, {"envelope[0].size[1]": "0.25", "envelope[1]": None})
    told = tomllib.loads(text)["envelope"]
    assert [e["name"] for e in told] == ["cubesat_6u", "room_1"]
    assert told[0]["size"] == ["400 mm", 0.25, "200 mm"] and "preset" not in told[0]
    form = form_of(text)
    assert form is not None and form["envelopes"][0]["size"] == ["400 mm", "0.25", "200 mm"]


@pytest.mark.parametrize("name", ["mass", "mass.weight", "envelope[9].name", "envelope[0].colour", "envelope[x]"])
def test_fields_that_are_none_of_the_form_are_refused(name: str) -> None:
    with pytest.raises(InputError):
        edited(HAZE, {name: "1"})


def test_what_is_typed_becomes_toml() -> None:
    assert [written(v, "quantity") for v in ("850 mm", " 2 ", "0.5", "", None)] == ["850 mm", 2, 0.5, None, None]
    assert form_of("no = = toml") is None
    with pytest.raises(InputError):
        edited("no = = toml", {"title": "x"})


class Reader:
    """The part of the service that is asked about problems."""

    def read(self, problem: bytes) -> Any:
        try:
            return loads(problem, "problem", vocabulary())
        except InputError as fault:
            raise Wrong(str(fault), fault.faults) from None

    def validate(self, problem: bytes) -> dict[str, Any]:
        self.read(problem)
        return check(problem, "problem")


def test_every_fault_of_a_problem_is_told_beside_its_field() -> None:
    told = asked(HAZE, {"aperture.clear_diameter": "42 kg", "mass.limit": ""}, Reader())
    assert {f["field"] for f in told["faults"]} == {"aperture.clear_diameter", "mass.limit"}
    assert asked(HAZE, {}, Reader())["faults"] == []


def test_bounds_and_rooms_of_a_shipped_problem() -> None:
    told = bounded(HAZE, Reader())
    assert [r["name"] for r in told["rooms"]] == ["cubesat_6u", "can"] and not told["impossible"]
    near(told["rooms"][0]["outside_m"][0], 0.2263, rel=1e-9)
    near(told["clear_diameter_m"], 0.4, rel=1e-9)
    assert any(s["field"] == "mass.limit" for s in told["sweeps"])
    assert bounded(HAZE.replace('"3 kg"', '"1 g"'), Reader())["impossible"]


def test_a_sweep_is_a_problem_for_each_value_of_a_limit_and_one_for_a_room() -> None:
    made = sweep(HAZE, "mass.limit=1kg:3kg:3")
    assert [tomllib.loads(m["text"])["mass"]["limit"] for m in made] == [1.0, 2.0, 3.0]
    assert len({m["label"] for m in made}) == 3
    rooms = sweep(HAZE, "envelope[1].height=100mm:230mm:4")
    assert len(rooms) == 1 and len(tomllib.loads(rooms[0]["text"])["envelope"]) == 4
    with pytest.raises(InputError):
        sweep(HAZE, "mass.limit=1kg:3kg:500")


def test_shipped_problems_are_all_offered() -> None:
    assert {p["name"] for p in shipped()} == {p.stem for p in (ROOT / "problems").glob("*.toml")}


def test_units_are_printed_as_signs() -> None:
    assert sign("2 um/l, 3 urad, 4 m^2, 5 cm^3, number") == "2 µm/l, 3 µrad, 4 m², 5 cm³, number"
