"""Catalogue entries that a problem brings itself: taken, marked, and every fault of them told at once."""

import pickle
from pathlib import Path
from typing import Any

import pytest

from synth.cell import cell_from, space, vocabulary
from synth.core.errors import InputError
from synth.evaluate import evaluate
from synth.export.own import own_line, own_text
from synth.problem.catalogue import shipped
from synth.problem.listing import catalogue_text, entries
from synth.problem.problem import Problem
from synth.problem.reading import load, loads
from synth.problem.requirement import requirements
from synth.problem.toml_text import toml_text
from tests.near import near
from tests.samples import problem

LATCH = {
    "id": "our_latch",
    "like": "magnet_vee",
    "title": "Prototype latch",
    "temperature_range_k": [230, 330],
    "outgassing": "TML 0.3 % (supplier)",
    "measured": {"misfit_m": {"value": [4e-7, 3e-7, 4e-7], "source": "30 closings, interferometer"}},
}
PIN = {
    "id": "pin_bearing",
    "values": {"stop_repeatability_m": {"value": "0.8 um", "source": "20 closings of prototype A"}},
}
LAMINATE = {
    "id": "our_laminate", "like": "cfrp_qi_m55j", "youngs_modulus_pa": "98 GPa", "source": "three coupons",
}  # fmt: skip
OWN: dict[str, Any] = {"joint": [PIN, LATCH], "material": [LAMINATE]}


def asked(own: dict[str, Any], **choices: Any) -> Problem:
    return problem(catalogue=own, choices=choices)


def test_what_is_given_is_taken_and_the_rest_is_the_catalogues() -> None:
    p = asked(OWN, latch_kind="our_latch", panel_materials=["our_laminate"], hinge_kinds=["pin_bearing"])
    (hinge,), plain = p.hinge_kinds, shipped().joints["pin_bearing"]
    near(hinge.sigma[3], 0.8e-6 / 0.006, rel=1e-12, why="stop repeatability over its lever")
    assert hinge.own and not plain.own and hinge.sigma[:3] == plain.sigma[:3] and hinge.stiffness == plain.stiffness
    assert p.latch_kinds[0].sigma[:3] == (4e-7, 3e-7, 4e-7) and p.latch_kinds[0].title == "Prototype latch"
    assert p.latch_kinds[0].stiffness == shipped().joints["magnet_vee"].stiffness
    (material,) = p.materials
    near([material.youngs_modulus, material.density], [98e9, 1600.0], rel=1e-12)
    assert shipped().materials["cfrp_qi_m55j"].youngs_modulus != 98e9
    assert pickle.loads(pickle.dumps(p)).hinge_kinds[0].sigma == hinge.sigma


def test_measured_repeatability_reaches_the_figures() -> None:
    """Four times the stop's error and nothing else: the variance of the angle errors is sixteen times as large."""
    found = []
    for error in (2e-7, 8e-7):
        entry = {"id": "pin_bearing", "values": {
            "stop_repeatability_m": {"value": error, "source": "test"}, "clearance_m": {"value": 0.0, "source": "test"},
        }}  # fmt: skip
        p = asked({"joint": [entry]}, hinge_kinds=["pin_bearing"])
        cell, row = cell_from(p, "accordion", {"strips": 3})
        found.append(float(evaluate(p, cell, space(p, cell).columns(row)).deployed.joints_m2[0]))
    assert found[1] > 5.0 * found[0] > 0.0


def test_a_measured_part_is_not_sized_by_the_search() -> None:
    entry = {"id": "cross_becu", "measured": {
        "stiffness_n_m_rad": {"value": [50.0, 60.0, 70.0], "source": "test"},
        "unit_mass_kg": {"value": "14 g", "source": "scales"},
    }}  # fmt: skip
    p = asked({"joint": [entry]}, hinge_kinds=["cross_becu"])
    (kind,) = p.hinge_kinds
    assert kind.stiffness[3:] == (50.0, 60.0, 70.0) and kind.mass == 0.014 and not kind.sized
    cell, _row = cell_from(p, "accordion", {"strips": 3})
    assert not [a for a in space(p, cell).axes if "flexure" in a.name]
    assert "structure.hinge_stress" in [r.name for r in requirements(p)], "it still may yield"


def test_own_entries_are_marked_wherever_they_are_told() -> None:
    p = asked(OWN)
    told = p.catalogue.own_entries()
    assert [(e["what"], e["id"], e["how"]) for e in told] == [
        ("material", "our_laminate", "added"), ("joint", "pin_bearing", "overrides"), ("joint", "our_latch", "added"),
    ]  # fmt: skip
    assert told[1]["values"] == {
        "stop_repeatability_m": {"value": 0.8e-6, "flag": "measured", "source": "20 closings of prototype A"}
    }
    (line,) = own_line({"own_catalogue": told})
    assert "joint pin_bearing (OVERRIDES the catalogue's)" in line and "our_latch (added, like magnet_vee)" in line
    assert "stop_repeatability_m" in own_text(told) and own_line({}) == []
    listed = {e.id: e for kind in ("hinges", "latches", "materials") for e in entries(kind, p.catalogue)}
    assert "OVERRIDES" in listed["pin_bearing"].use and "OWN ENTRY" in listed["our_laminate"].use
    assert "230, 330" in listed["our_latch"].note and "TML 0.3 %" in listed["our_latch"].note
    assert "not given: temperature range, outgassing" in listed["magnet_vee"].note
    for entry in listed.values():
        assert all(v.source and v.flag for v in entry.values), entry.id
    assert "OVERRIDES" not in catalogue_text("hinges")


SEN, TWO = {"value": 0.02, "source": "s", "flag": "sen"}, {"value": [1e-6, 1e-6], "source": "s"}
WRONG: dict[str, tuple[dict[str, Any], str]] = {
    "catalogue.joints": ({"joints": []}, "joint"),
    "catalogue.joint": ({"joint": {"id": "a"}}, "must be tables [[catalogue.joint]]"),
    "catalogue.joint[0].id": ({"joint": [{"id": "Our Latch"}]}, "small letters"),
    "catalogue.joint[0].kind": ({"joint": [{"id": "new_one"}]}, "is missing"),
    "catalogue.joint[0].like": ({"joint": [{"id": "new_one", "like": "pin_bearin"}]}, "pin_bearing"),
    "catalogue.joint[0].values": ({"joint": [{"id": "new_one", "kind": "pin_spring"}]}, "missing: bearing_span_m"),
    "catalogue.joint[0].values.stop_forc_n": (
        {"joint": [{"id": "pin_bearing", "values": {"stop_forc_n": {"value": 1.0, "source": "s"}}}]}, "stop_force_n"),
    "catalogue.joint[0].values.stop_force_n": (
        {"joint": [{"id": "pin_bearing", "values": {"stop_force_n": {"value": "3 mm", "source": "s"}}}]}, "a force"),
    "catalogue.joint[0].values.width_m": ({"joint": [{"id": "pin_bearing", "values": {"width_m": 0.02}}]}, "source"),
    "catalogue.joint[0].values.width_m.source": (
        {"joint": [{"id": "pin_bearing", "values": {"width_m": {"value": 0.02}}}]}, "where it comes from"),
    "catalogue.joint[0].values.width_m.flag": (
        {"joint": [{"id": "pin_bearing", "values": {"width_m": SEN}}]}, "seen"),
    "catalogue.joint[0].measured.misfit_m": (
        {"joint": [{"id": "pin_bearing", "measured": {"misfit_m": TWO}}]}, "three"),
    "catalogue.joint[0].temperature_range_k": (
        {"joint": [{"id": "pin_bearing", "temperature_range_k": [300, 200]}]}, "[lowest, highest]"),
    "catalogue.material[0].source": ({"material": [{"id": "be_o30", "density_kg_m3": 1800.0}]}, "comes from"),
    "catalogue.material[0].density_kg_m3": (
        {"material": [{"id": "be_o30", "density_kg_m3": -1.0, "source": "s"}]}, "above zero"),
    "catalogue.material[0].poisson_ratio": (
        {"material": [{"id": "be_o30", "poisson_ratio": 0.6, "source": "s"}]}, "between 0 and 0.5"),
    "catalogue.material[0]": ({"material": [{"id": "new_stuff", "source": "s"}]}, "lacks family, density_kg_m3"),
    "catalogue.material[0].use": ({"material": [{"id": "be_o30", "use": "panels", "source": "s"}]}, "panel"),
    "catalogue.file": ({"file": "parts.toml"}, "on disk"),
}  # fmt: skip


@pytest.mark.parametrize("field", WRONG)
def test_a_fault_names_its_field_and_what_is_allowed(field: str) -> None:
    own, words = WRONG[field]
    with pytest.raises(InputError) as told:
        asked(own)
    lines = str(told.value).splitlines()
    (mine,) = [line for line in lines if f": {field}: " in line]
    assert words in mine


def test_all_faults_at_once_beside_those_of_the_problem() -> None:
    own = {"joint": [{"id": "pin_bearing", "values": {"nothing": 1}}, {"id": "X"}], "material": [{"id": "be_o30"}]}
    with pytest.raises(InputError) as told:
        problem(catalogue=own, mass={"limit": "2 m"}, choices={"latch_kind": "magnet_ve"})
    text = str(told.value)
    for field in ("catalogue.joint[0].values.nothing", "catalogue.joint[1].id", "catalogue.material[0].source",
                  "mass.limit", "choices.latch_kind"):  # fmt: skip
        assert f": {field}: " in text
    assert "magnet_vee" in text


def on_disk(folder: Path, file: str | None, text: str | None) -> Path:
    base = toml_text({**problem_tables(), "catalogue": {"file": file} if file else {}})
    (folder / "problem.toml").write_text(base)
    if file and text is not None:
        (folder / file).write_text(text)
    return folder / "problem.toml"


def problem_tables() -> dict[str, Any]:
    return {
        "schema": "problem/1", "title": "Own parts", "aperture": {"clear_diameter": "600 mm"},
        "envelope": [{"name": "bay", "size": ["400 mm", "400 mm", "300 mm"]}], "mass": {"limit": "9 kg"},
        "search": {"objectives": ["stowed_volume", "mass"]},
    }  # fmt: skip


def test_a_catalogue_file_beside_the_problem_is_taken_in(tmp_path: Path) -> None:
    text = toml_text({"schema": "catalogue/1", **OWN})
    p = load(on_disk(tmp_path, "our_parts.toml", text), vocabulary())
    assert set(p.catalogue.own) == {"joint pin_bearing", "joint our_latch", "material our_laminate"}
    again = loads(p.source, "again", vocabulary())
    assert again.digest == p.digest and again.catalogue.own == p.catalogue.own, "the run folder needs no second file"
    assert again.hinge_kinds[0].sigma == p.hinge_kinds[0].sigma and b'from = "our_parts.toml"' in p.source


@pytest.mark.parametrize(
    ("file", "text", "words"),
    [
        ("our_parts.toml", None, "not there"),
        ("../our_parts.toml", None, "in the folder of the problem file"),
        ("our_parts.toml", "schema = 3", 'must be "catalogue/1"'),
        ("our_parts.toml", 'schema = "catalogue/1"\n[[joints]]\n', "joint"),
        ("our_parts.toml", "= 3", "cannot be read as TOML"),
    ],
)
def test_what_is_wrong_with_a_catalogue_file_is_told(tmp_path: Path, file: str, text: str | None, words: str) -> None:
    with pytest.raises(InputError) as told:
        load(on_disk(tmp_path, file, text), vocabulary())
    assert words in str(told.value)
