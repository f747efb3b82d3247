"""Catalogues: whole, sourced, flagged; what they list; the shipped problems."""

import json
import tomllib
from importlib import resources

import pytest

from synth.cell import vocabulary
from synth.families import families
from synth.hinges import all_kinds
from synth.problem import Allowed, Vocabulary, load, loads
from synth.problem.bounds import bounds
from synth.problem.catalogue import FLAGS, cores, envelopes, materials, named_materials, panel_materials, rows
from synth.problem.listing import LISTS, catalogue_json, catalogue_text, entries
from tests.near import near

SHIPPED = ("harbour_haze.toml", "reed_bed.toml", "river_ice.toml", "snow_line.toml")


@pytest.mark.parametrize("kind", LISTS)
def test_every_value_has_a_flag_and_every_entry_a_source(kind: str) -> None:
    for entry in entries(kind):
        assert entry.values or kind == "envelopes", entry.id
        for value in entry.values:
            assert value.flag in FLAGS and value.source, f"{entry.id}.{value.key}"


@pytest.mark.parametrize("name", ["materials", "cores"])
def test_flags_of_materials_cover_their_values_once(name: str) -> None:
    words = {"id", "name", "family", "use", "source", "checked", "where", "note", "strength_kind"}
    for row in rows(name):
        flagged = [key for flag in ("seen", "memory", "derived") for key in row[f"{flag}_keys"]]
        values = {k for k in row if k not in words and not k.endswith("_keys")}
        assert len(flagged) == len(set(flagged)) and set(flagged) == values, row["id"]


def test_materials_are_physical() -> None:
    for m in materials().values():
        assert 500 < m.density < 9000 and 1e9 < m.youngs_modulus < 5e11 and 0.0 < m.poisson_ratio < 0.5, m.id
        assert abs(m.cte) < 1.5e-4 and m.conductivity > 0 and m.strength > 0, m.id
        assert m.strength_kind in ("yield", "ultimate", "design stress")
    assert {m.id for m in materials().values() if m.transmits} == {"ule", "fused_silica"}
    assert set(panel_materials()) < set(named_materials()) < set(materials())


def test_some_values_as_published() -> None:
    near(materials()["al_6061_t6"].youngs_modulus, 68.9e9, rel=1e-9, why="typical handbook value (seen)")
    near(materials()["be_o30"].strength, 207e6, rel=1e-9, why="yield (seen)")
    near(materials()["sic_sintered"].strength, 400e6, rel=1e-9, why="flexural (memory)")
    near(materials()["zerodur"].strength, 10e6, rel=1e-9, why="design stress without proof test (memory)")
    near(cores()["al_hc_1_4_5052_0015"].shear_modulus, 152e6, rel=1e-9, why="the lesser of L and W (memory)")
    near(envelopes()["cubesat_6u"].size, [0.2263, 0.1, 0.366], rel=1e-9, why="CDS rev 14.1 (seen)")


def test_presets_are_those_with_a_volume() -> None:
    kinds = {row["id"]: row["kind"] for row in rows("envelopes")}
    assert set(envelopes()) == {i for i, kind in kinds.items() if kind in ("box", "cylinder")}
    assert {"plate", "linear_sum"} <= set(kinds.values())


@pytest.mark.parametrize("kind", LISTS)
def test_lists_as_text_and_json(kind: str) -> None:
    text, data = catalogue_text(kind), catalogue_json(kind)
    assert json.loads(json.dumps(data))["entries"][0]["values"][0].keys() == {"key", "value", "flag", "source"}
    for entry in entries(kind):
        assert f"\n{entry.id}: {entry.name} (" in text
    assert all(flag in text for flag in FLAGS)


def test_joint_list_tells_the_kinds() -> None:
    text = catalogue_text("hinges") + catalogue_text("latches")
    assert all(f", {kind}" in text for kind in all_kinds())


def words() -> Vocabulary:
    return Vocabulary(tuple(families()), {"build.thickness": Allowed("real", 1e-3, 40e-3, "m")})


def test_the_shipped_problems_are_these() -> None:
    folder = resources.files("problems")
    assert sorted(f.name for f in folder.iterdir() if f.name.endswith(".toml")) == sorted(SHIPPED)
    readme = folder.joinpath("README.md").read_text(encoding="utf-8")
    assert all(name in readme for name in SHIPPED)


@pytest.mark.parametrize("name", SHIPPED)
def test_shipped_problems_read_and_are_not_ruled_out(name: str) -> None:
    with resources.as_file(resources.files("problems").joinpath(name)) as path:
        problem = load(path, vocabulary())
    for envelope in problem.envelope:
        assert bounds(problem, envelope).reasons == ()


def test_the_readme_lists_every_field() -> None:
    readme = resources.files("problems").joinpath("README.md").read_text(encoding="utf-8")
    from tests.problem.sample import FULL

    for section, fields in FULL.items():
        for entry in fields if isinstance(fields, list) else [fields]:
            for key in entry if isinstance(entry, dict) else [section]:
                assert f"{key}`" in readme, f"{section}.{key}"


def test_catalogue_files_are_toml_with_a_schema() -> None:
    folder = resources.files("problems").joinpath("catalogue")
    for file in folder.iterdir():
        assert tomllib.loads(file.read_text(encoding="utf-8"))["schema"] == 1


def test_a_problem_needs_no_vocabulary_of_variables() -> None:
    with resources.as_file(resources.files("problems").joinpath("river_ice.toml")) as path:
        assert loads(path.read_bytes(), "r", Vocabulary(())).families == ()
