"""A run folder made by hand: rows against records, domination, digests, nested envelopes."""

import csv
import hashlib
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from synth.recheck import recheck_folder
from synth.recheck.asked import asked_of, si
from tests.near import near
from tests.recheck import accordion as made

Rows = list[dict[str, Any]]


def folder_at(place: Path, change: Callable[[Rows], None] | None = None) -> Path:
    """A run folder with one design in both envelopes; `change` works on the rows of the front."""
    (place / "candidates").mkdir(parents=True)
    (place / "problem.toml").write_text(made.PROBLEM)
    digest = hashlib.sha256(made.PROBLEM.encode()).hexdigest()
    rows: Rows = []
    for envelope in ("bay", "locker"):
        record = made.accordion(envelope, digest)
        (place / "candidates" / f"{record['id']}.json").write_text(json.dumps(record))
        rows.append({"id": record["id"], "envelope": envelope, "family": "accordion", "verified": "true",
                     "feasible": "true", **record["metrics"]})  # fmt: skip
    if change:
        change(rows)
    with (place / "front.csv").open("w", newline="") as stream:
        writer = csv.DictWriter(stream, fieldnames=list(rows[0]))
        writer.writeheader()
        writer.writerows(rows)
    told = {"evaluations": 1, "feasible": 1, "on_front": 1}
    run = {"schema": "run/1", "problem_digest": digest,
           "envelopes": [{"name": n, "families": {"accordion": told}} for n in ("bay", "locker")]}  # fmt: skip
    (place / "run.json").write_text(json.dumps(run))
    return place


def test_a_sound_folder_passes(tmp_path: Path) -> None:
    report = recheck_folder(folder_at(tmp_path / "run"))
    assert report.ok, report.text()
    assert report.candidates == 2
    assert report.skipped == ()
    assert report.document()["ok"] is True
    assert "all as they should be" in report.text()


def _mass_off(rows: Rows) -> None:
    rows[0]["mass_kg"] *= 1 + 1e-8


def _unknown(rows: Rows) -> None:
    rows[1]["id"] = "locker-9"


def _infeasible(rows: Rows) -> None:
    rows[1]["feasible"] = "false"


def _family(rows: Rows) -> None:
    rows[1]["family"] = "petal"


def _twice(rows: Rows) -> None:
    rows.append(dict(rows[0]))


def _dominated(rows: Rows) -> None:
    rows.append({**rows[0], "id": "bay-2", "mass_kg": rows[0]["mass_kg"] + 0.1})


def _not_a_number(rows: Rows) -> None:
    rows[0]["first_mode_hz"] = "fast"


@pytest.mark.parametrize(
    "change", [_mass_off, _unknown, _infeasible, _family, _twice, _dominated, _not_a_number], ids=lambda f: f.__name__
)
def test_a_fault_of_the_front_is_told(tmp_path: Path, change: Callable[[Rows], None]) -> None:
    report = recheck_folder(folder_at(tmp_path / "run", change), network=False)
    assert "front" in {f.check for f in report.findings}, report.text()


def _without_the_larger(rows: Rows) -> None:
    del rows[1]


def test_a_larger_envelope_with_nothing_is_told(tmp_path: Path) -> None:
    report = recheck_folder(folder_at(tmp_path / "run", _without_the_larger), network=False)
    assert "nested envelopes" in {f.check for f in report.findings}


def test_another_problem_is_told(tmp_path: Path) -> None:
    folder = folder_at(tmp_path / "run")
    with (folder / "problem.toml").open("a") as stream:
        stream.write("seed = 2\n")
    told = [f for f in recheck_folder(folder, network=False).findings if f.check == "problem digest"]
    assert len(told) == 3


def test_a_damaged_record_is_told(tmp_path: Path) -> None:
    folder = folder_at(tmp_path / "run")
    path = folder / "candidates" / "bay-1.json"
    path.write_text(path.read_text()[:-100])
    checks = {f.check for f in recheck_folder(folder, network=False).findings}
    assert {"file", "front"} <= checks


def test_units_not_known_here_are_said_to_be_skipped(tmp_path: Path) -> None:
    folder = folder_at(tmp_path / "run")
    text = made.PROBLEM.replace('clear_diameter = "500 mm"', 'clear_diameter = "1.64 cubits"')
    (folder / "problem.toml").write_text(text)
    report = recheck_folder(folder, network=False)
    assert any("clear_diameter" in line for line in report.skipped)
    assert {f.check for f in report.findings} == {"problem digest"}


def test_no_folder_is_an_error(tmp_path: Path) -> None:
    with pytest.raises(FileNotFoundError, match=r"front\.csv"):
        recheck_folder(tmp_path)


@pytest.mark.parametrize(
    ("text", "expected"),
    [("850 mm", 0.85), ("0.42 m^2", 0.42), ("30 cm**2", 0.003), ("5 um", 5e-6), ("200 urad", 2e-4), ("2 K", 2.0),
     ("60 Hz", 60.0), ("14 kg", 14.0), ("20 %", 0.2), ("0.5 deg", 0.008726646259971648), ("2 inches", 0.0508)],
)  # fmt: skip
def test_quantities_read_anew(text: str, expected: float) -> None:
    found = si(text)
    assert found is not None
    near(found, expected, rel=1e-14, why="one multiplication")


def test_presets_come_from_the_run(tmp_path: Path) -> None:
    data = {"aperture": {"clear_diameter": 0.5}, "envelope": [{"name": "cube", "preset": "x"}]}
    assert asked_of(data).rooms["cube"].allowed is None
    known = {"cube": {"allowed_m": [0.2, 0.2, 0.3], "kind": "box"}}
    assert asked_of(data, known).rooms["cube"].allowed == (0.2, 0.2, 0.3)
