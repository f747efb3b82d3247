"""Packages whole or not at all: contents, faults, choices; the review sheet; seeds of a run folder."""

import copy
import csv
import json
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader
from typer.testing import CliRunner

from synth.app.seeding import options_from, seed
from synth.cli import app
from synth.core.errors import InputError, StorageError
from synth.export import optional, package
from synth.export.cautions import cautions
from synth.export.package import FORMATS, write_package
from synth.export.review import write_review
from synth.fronts.front import Front, Row
from synth.fronts.picking import picked
from synth.fronts.store import write_front, write_run
from synth.problem.objective import OBJECTIVES
from synth.record.file import read_record, write_record
from tests.export_seed.records import RECORDS
from tests.near import near
from tests.recheck.accordion import PROBLEM, accordion


def test_every_format_is_written_and_listed_in_the_readme(tmp_path: Path) -> None:
    record = RECORDS["strips"]()
    made = write_package(record, tmp_path / "deep" / "pkg")
    assert set(made.files) == set(FORMATS) and not made.left_out
    there = {str(p.relative_to(made.path)) for p in made.path.rglob("*") if p.is_file()}
    assert there == {f for files in made.files.values() for f in files} | {"README.md"}
    words = (made.path / "README.md").read_text()
    for needed in ("Root frame", "Millimetres", "Stored energy", "Pinch", "Light", "Lifting", "responsible engineers",
                   *(f"| {name} |" for name in FORMATS)):  # fmt: skip
        assert needed in words
    assert read_record(made.path / f"{record['id']}.json")["id"] == record["id"]
    assert [p.name for p in (tmp_path / "deep").iterdir()] == ["pkg"]


def test_only_picks(tmp_path: Path) -> None:
    made = write_package(RECORDS["strips"](), tmp_path / "pkg", ["gltf", "tables"])
    assert sorted(p.name for p in made.path.iterdir()) == ["README.md", "motion", "tables"]
    with pytest.raises(InputError, match="Did you mean 'paper'"):
        write_package(RECORDS["strips"](), tmp_path / "other", ["papr"])
    assert not (tmp_path / "other").exists()


def test_existing_and_unwritable_folders_are_told_and_left_alone(tmp_path: Path) -> None:
    (tmp_path / "there").mkdir()
    (tmp_path / "there" / "mine.txt").write_text("mine")
    with pytest.raises(InputError, match="exists already"):
        write_package(RECORDS["strips"](), tmp_path / "there", ["tables"])
    assert [p.name for p in (tmp_path / "there").iterdir()] == ["mine.txt"]
    (tmp_path / "file").write_text("")
    with pytest.raises(InputError, match="cannot be written"):
        write_package(RECORDS["strips"](), tmp_path / "file" / "pkg", ["tables"])


def test_a_failure_half_way_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def full(*_: Any) -> list[Path]:
        raise OSError(28, "No space left on device")

    broken = {**FORMATS, "mjcf": package.Format("broken", "motion", None, full)}
    monkeypatch.setattr(package, "FORMATS", broken)
    with pytest.raises(StorageError, match="No space left"):
        write_package(RECORDS["strips"](), tmp_path / "pkg", ["tables", "mjcf"])
    assert list(tmp_path.iterdir()) == []


def test_a_missing_package_is_told_with_its_command_before_anything_starts(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    real = optional.find_spec
    monkeypatch.setattr(optional, "find_spec", lambda name: None if name in ("OCP", "ezdxf") else real(name))
    with pytest.raises(optional.MissingPackageError) as fault:
        write_package(RECORDS["strips"](), tmp_path / "pkg")
    assert "pip install -c constraints.txt '.[cad,export]'" in str(fault.value), "once, and from the clone"
    assert str(fault.value).count("pip install") == 1
    assert "--only record,review,paper" in str(fault.value)
    assert list(tmp_path.iterdir()) == []
    write_package(RECORDS["strips"](), tmp_path / "pkg", ["gltf"])  # what needs nothing goes on


def test_what_a_candidate_does_not_allow_is_left_out_of_all_but_told_when_asked(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(package, "FORMATS", {name: FORMATS[name] for name in ("stl", "3mf", "tables")})
    options = options_from(["print.scale=0.02", "print.least_thickness=0.01 mm"])
    made = write_package(RECORDS["strips"](), tmp_path / "all", None, options)
    assert set(made.left_out) == {"stl", "3mf"} and "knuckles" in made.left_out["stl"]
    assert "knuckles" in (made.path / "README.md").read_text() and not (made.path / "printed").exists()
    with pytest.raises(InputError, match="knuckles"):
        write_package(RECORDS["strips"](), tmp_path / "asked", ["stl"], options)
    assert not (tmp_path / "asked").exists()


def test_options_are_read_with_units_and_faults_told() -> None:
    made = options_from(["paper.size=Letter", "print.bed=18 cm x 200 mm", "print.clearance=0.25 mm", "metal.kerf=80 um",
                         "metal.modulus=130 GPa", "print.style=snap", "motion.seconds=30"])  # fmt: skip
    assert made.paper == "letter" and made.printer.style == "snap"
    near([*made.printer.bed, made.printer.clearance, made.metal.kerf, made.metal.modulus, made.seconds],
         [180.0, 200.0, 0.25, 8e-5, 130e9, 30.0], rel=1e-12)  # fmt: skip
    for wrong in ("paper.size=a5", "print.clearance=thin", "print.pinn=1 mm", "print.pin", "print.bed=200 mm",
                  "print.pin=-1 mm", "metal.strength=3 mm"):  # fmt: skip
        with pytest.raises(InputError):
            options_from([wrong])


def test_the_review_sheet_says_what_the_record_says(tmp_path: Path) -> None:
    record = RECORDS["strips"]()
    (path,) = write_review(record, tmp_path)
    pages = [p.extract_text() for p in PdfReader(path).pages]
    assert len(pages) == 2
    for row in record["requirements"]:
        assert row["name"] in pages[0] and f"{100 * row['margin']:+.1f}" in pages[0]
    for words in ("Sequence of deployment", "Mass", "Datum", "Hazards", "Stored energy", "responsible engineers"):
        assert words in " ".join(pages[1].split())
    assert f"{record['metrics']['mass_kg']:.3f} kg with growth" in pages[1]
    again = tmp_path / "again"
    again.mkdir()
    assert write_review(record, again)[0].read_bytes() == path.read_bytes()


def test_cautions_name_what_is_there() -> None:
    record = RECORDS["strips"]()
    plain = {hazard for hazard, _ in cautions(record)}
    assert {"Stored energy", "Pinch", "Light", "Lifting"} <= plain and not {"Beryllium", "NOT VERIFIED"} & plain
    record["hinges"][0]["kind"] = "tape_becu"
    record["verification"]["verified"] = False
    assert {"Beryllium", "NOT VERIFIED"} <= {hazard for hazard, _ in cautions(record)}


def row(id: str, family: str, panels: int, volume: float, mass: float, feasible: bool = True) -> Row:
    metrics = {"stowed_volume_m3": volume, "mass_kg": mass, "panel_count": panels, "part_count": 2 * panels - 1,
               "distinct_parts": 1, "first_mode_hz": 100.0 / mass}  # fmt: skip
    return Row(id, id.split("-")[0], family, True, feasible, metrics)


ROWS = [
    row("a-1", "wing", 3, 1.0, 9.0), row("a-2", "wing", 3, 1.1, 2.0), row("a-3", "wing", 5, 2.0, 1.9),
    row("a-4", "petal", 7, 3.0, 1.5), row("a-5", "petal", 7, 3.5, 1.4), row("a-6", "accordion", 4, 9.0, 1.0),
    row("b-2", "wing", 3, 1.1, 2.0), row("a-7", "miura", 9, 0.1, 0.1, False),
]  # fmt: skip
GOALS = (OBJECTIVES["stowed_volume"], OBJECTIVES["mass"])


def test_picks_spread_over_families_then_topologies() -> None:
    assert [r.id for r in picked(ROWS, GOALS, "mass", 3)] == ["a-6", "a-5", "a-3"]
    four = [r.id for r in picked(ROWS, GOALS, "knee", 4)]
    # the best of each family, then the wing of another number of panels; infeasible and twin designs never
    assert four == ["a-2", "a-3", "a-4", "a-6"]
    assert [r.id for r in picked(ROWS, GOALS, "stowed_volume=1,mass=0", 1)] == ["a-1"]
    assert [r.id for r in picked(ROWS, GOALS, "first_mode", 1)] == ["a-6"], "more is better"
    assert len(picked(ROWS, GOALS, "knee", 50)) == 6
    assert [r.id for r in picked(ROWS[-1:], GOALS, "knee", 2)] == ["a-7"], "nothing feasible: the least bad"
    for wrong in ("mas", "mass=x", "mass=-1", "mass=1,blurr=2"):
        with pytest.raises(InputError, match="by:"):
            picked(ROWS, GOALS, wrong, 1)


@pytest.fixture
def run(tmp_path: Path) -> Path:
    """A run folder with three candidates of two families."""
    folder = tmp_path / "run"
    (folder / "candidates").mkdir(parents=True)
    rows = []
    for k, family in enumerate(("accordion", "accordion", "wing")):
        record = copy.deepcopy(accordion("bay"))
        record.update(id=f"bay-{k}", family=family)
        record["metrics"]["mass_kg"] += k
        record["metrics"]["panel_count"] = len(record["panels"])
        write_record(folder / "candidates" / f"bay-{k}.json", record)
        rows.append(Row(record["id"], "bay", family, True, True, record["metrics"]))
    write_front(folder, Front(tuple(rows[0].metrics), tuple(rows)))
    write_run(folder, {"schema": "run/1", "state": "done", "objectives": ["stowed_volume", "mass"], "envelopes": []})
    (folder / "problem.toml").write_text(PROBLEM)
    return folder


def test_a_seed_of_one_candidate_takes_its_problem_along(run: Path, tmp_path: Path) -> None:
    made = seed(run, "bay-1", tmp_path / "pkg", "record,dxf,tables")
    assert (tmp_path / "pkg" / "problem.toml").read_text() == PROBLEM
    assert made.document()["packages"][0]["candidate"] == "bay-1"
    assert "dxf" in made.text()
    for wrong in ({"candidate": "bay-9"}, {"candidate": None}, {"candidate": "bay-1", "top": 2},
                  {"candidate": "bay-1", "by": "mass"}, {"candidate": "bay-1", "envelope": "bay"},
                  {"candidate": None, "top": 0}, {"candidate": None, "top": 2, "envelope": "bey"}):  # fmt: skip
        with pytest.raises(InputError):
            seed(run, out=tmp_path / "wrong", only="tables", **wrong)  # type: ignore[arg-type]
    with pytest.raises(InputError, match="only: must name"):
        seed(run, "bay-1", tmp_path / "wrong", " , ")
    assert not (tmp_path / "wrong").exists()


def test_seeds_of_several_come_with_one_page_that_compares_them(run: Path, tmp_path: Path) -> None:
    made = seed(run, None, tmp_path / "two", "tables", 2, "mass")
    assert sorted(p.name for p in (tmp_path / "two").iterdir()) == [
        "bay-0",
        "bay-2",
        "comparison.csv",
        "comparison.pdf",
    ]
    assert list(made.packages) == ["bay-0", "bay-2"]
    (page,) = PdfReader(tmp_path / "two" / "comparison.pdf").pages
    words = page.extract_text()
    assert "bay-0" in words and "bay-2" in words and "mass [kg]" in words
    with (tmp_path / "two" / "comparison.csv").open(newline="") as file:
        told = list(csv.DictReader(file))
    near(float(told[1]["mass_kg"]) - float(told[0]["mass_kg"]), 2.0, rel=1e-9)
    with pytest.raises(InputError, match="exists already"):
        seed(run, None, tmp_path / "two", "tables", 2, "mass")


def test_the_command_answers_with_one_json_document(run: Path, tmp_path: Path) -> None:
    found = CliRunner().invoke(app, ["seed", str(run), "bay-0", "--out", str(tmp_path / "pkg"), "--only", "mjcf,step",
                                     "--json"])  # fmt: skip
    assert found.exit_code == 0, found.output
    assert json.loads(found.stdout)["packages"][0]["files"]["mjcf"] == ["motion/mechanism.xml"]
