"""Sweeps and comparisons of a real problem whose designs can all be tried: sizes pinned, materials and joints free."""

import csv
import json
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from typer.testing import CliRunner

from synth.app import compare_runs, resume_sweep, running, sweep_problem
from synth.app.running import run_problem
from synth.app.sweeping import SWEEP
from synth.cell import vocabulary
from synth.core.errors import InputError, RunFolderError
from synth.fronts.store import read_front
from synth.problem import from_mapping
from tests.near import near

OBJECTIVES = ("stowed_volume_m3", "mass_kg", "surface_rms_m")
ALL = 1000
"""Candidates put forward: a quarter of them is more than there are designs."""
LIMITS = (1.2, 1.3, 1.8)


def problem(**other: Any) -> dict[str, Any]:
    return {
        "schema": "problem/1",
        "title": "Few designs",
        "aperture": {"clear_diameter": 0.6},
        "envelope": [{"name": "bay", "size": [0.3, 0.3, 0.06]}],
        "mass": {"limit": 30.0},
        "choices": {
            "families": ["map_fold"],
            "panel_materials": ["al_6061_t6", "ti_6al_4v", "be_o30", "sic_cvd", "zerodur", "cfrp_qi_m55j"],
            "hinge_kinds": ["cross_becu", "tape_becu"],
            "variables": {
                "map_fold.columns": [2, 3], "map_fold.rows": [2, 3], "map_fold.tree": "comb", "map_fold.cover": 0.85,
                "map_fold.reach": 0.85, "build.thickness": 0.004, "build.edge_gap": 0.012,
                "build.face_share": 0.05, "build.section": "sandwich", "build.flexure_thickness": 1.0,
                "build.flexure_length": 1.0,
            },
        },
        "search": {"objectives": ["stowed_volume", "mass", "surface_rms"], "evaluations": ALL, "seed": 1},
        **other,
    }  # fmt: skip


def written(folder: Path, **other: Any) -> Path:
    file = folder / "problem.toml"
    file.write_bytes(from_mapping(problem(**other), "made up", vocabulary()).source)
    return file


@pytest.fixture(scope="module")
def masses(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A sweep over three mass limits."""
    folder = tmp_path_factory.mktemp("masses")
    sweep_problem(written(folder), ["mass.limit=1.2,1.3,1.8"], folder / "sweep", None, None, 0)
    return folder / "sweep"


@pytest.fixture(scope="module")
def rooms(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A sweep over three widths of the room."""
    folder = tmp_path_factory.mktemp("rooms")
    sweep_problem(written(folder), ["envelope.size[0]=180mm:260mm:3"], folder / "sweep", None, None, 0)
    return folder / "sweep"


def points(folder: Path, envelope: str) -> np.ndarray:
    rows = [r for r in read_front(folder).of(envelope).rows if r.feasible]
    return np.array([[r.metrics[m] for m in OBJECTIVES] for r in rows]).reshape(-1, 3)


def runs(sweep: Path) -> list[Path]:
    return [sweep / r["folder"] for r in json.loads((sweep / SWEEP).read_text())["runs"]]


def nested(fronts: list[np.ndarray]) -> None:
    """Every point of a tighter front is met by the looser one's."""
    live = [f for f in fronts if len(f)]
    assert len(live) >= 2
    for tight, loose in pairwise(live):
        assert (loose[None] <= tight[:, None]).all(axis=2).any(axis=1).all()
    # and something is gained on the way, or the test would say nothing
    assert (live[-1].min(axis=0) < 0.99 * live[0].min(axis=0)).any()


def test_fronts_of_a_limit_are_nested(masses: Path) -> None:
    nested([points(f, "bay") for f in runs(masses)])


def test_fronts_of_rooms_are_nested(rooms: Path) -> None:
    names = [e["name"] for e in json.loads((rooms / "run.json").read_text())["envelopes"]]
    assert names == ["bay 180 mm", "bay 220 mm", "bay 260 mm"]
    nested([points(rooms, n) for n in names])


def test_records_lent_to_another_limit_hold_its_limit_and_digest(masses: Path) -> None:
    for folder, limit in zip(runs(masses), LIMITS, strict=True):
        digest = json.loads((folder / "run.json").read_text())["problem_digest"]
        for row in read_front(folder).rows:
            record = json.loads((folder / "candidates" / f"{row.id}.json").read_text())
            told = next(r for r in record["requirements"] if r["name"] == "mass.limit")
            assert record["problem_digest"] == digest and told["limit"] == limit
            assert near(told["margin"], (limit - record["metrics"]["mass_kg"]) / limit, rel=1e-9)
            assert told["ok"] == (told["margin"] >= 0.0) and row.metrics["mass_kg"] <= limit


def test_a_sweep_costs_less_than_single_runs(masses: Path, rooms: Path) -> None:
    spent = [json.loads((f / "run.json").read_text())["evaluations"] for f in runs(masses)]
    assert spent == [ALL, ALL // 4, ALL // 4]
    assert json.loads((rooms / "run.json").read_text())["evaluations"] * 3 == 1.5 * ALL


def test_exchange_rates_are_the_finite_differences_of_problems_run_anew(masses: Path, tmp_path: Path) -> None:
    """The problem is run by itself with each limit; all designs are tried each time, so that the best is the best."""
    document, _ = compare_runs([masses], None)
    told = [c for c in document["exchange"]["between"] if c["resource"] == "mass.limit" and c["given"] is None]
    assert len(told) == 6
    best: dict[float, np.ndarray] = {}
    for limit in LIMITS:
        folder = tmp_path / str(limit)
        folder.mkdir()
        run_problem(written(folder, mass={"limit": limit}), folder / "run", ALL, 5, 0)
        best[limit] = points(folder / "run", "bay").min(axis=0)
    slopes = []
    for c in told:
        a, b = c["amount"]
        place = OBJECTIVES.index(c["objective"])
        difference = (best[a][place] - best[b][place]) / (b - a)
        slopes.append(difference)
        assert near(c["rate"], difference, rel=1e-9, abs=1e-15), c
    assert sum(s > 0.0 for s in slopes) >= 2


def test_the_same_sweep_gives_the_same_files_also_after_a_stop(
    masses: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked = [0]

    class StopsLater:
        def __enter__(self) -> Any:
            def stop() -> bool:
                asked[0] += 1
                return asked[0] in (9, 400)

            return stop

        def __exit__(self, *_: object) -> None:
            return None

    monkeypatch.setattr(running, "_asked_to_stop", StopsLater)
    summary = sweep_problem(written(tmp_path), ["mass.limit=1.2,1.3,1.8"], tmp_path / "s", None, None, 0)
    tries = 0
    while summary.interrupted and tries < 5:
        summary, tries = resume_sweep(tmp_path / "s", 0), tries + 1
    assert tries >= 1
    for a, b in zip(runs(masses), runs(tmp_path / "s"), strict=True):
        assert (a / "front.csv").read_bytes() == (b / "front.csv").read_bytes()


def test_a_comparison_writes_a_page_that_asks_nothing_outside(masses: Path, rooms: Path, tmp_path: Path) -> None:
    document, text = compare_runs([masses, rooms], tmp_path / "out")
    page = (tmp_path / "out" / "comparison.html").read_text()
    for sign in ("<script", "src=", "@import", "url(http", "<link", "<iframe"):
        assert sign not in page
    links = [part.split('"')[0] for part in page.split('href="')[1:]]
    assert all(link.startswith("#") for link in links)
    assert page.count("<figure>") >= 5 and "Preliminary design" in page
    ids = [part.split('"')[0] for part in page.split(' id="')[1:]]
    assert len(ids) == len(set(ids))
    assert set(links) <= {f"#{i}" for i in ids}
    with open(tmp_path / "out" / "rows.csv", encoding="utf-8") as file:
        assert len(list(csv.DictReader(file))) == sum(e["rows"] for e in document["entries"])
    saved = json.loads((tmp_path / "out" / "comparison.json").read_text())
    assert saved["entries"][0]["label"] == "mass.limit 1.2 kg: bay"
    assert "Which family wins where" in text and "Cautions" in text
    before = (tmp_path / "out" / "comparison.html").read_bytes()
    compare_runs([masses, rooms], tmp_path / "out")
    assert (tmp_path / "out" / "comparison.html").read_bytes() == before


def test_wrong_sweeps_start_nothing(tmp_path: Path, masses: Path) -> None:
    file = written(tmp_path)
    for sweeps in (["mass.limit=1"], ["mass.limit=1,2", "mass.limit=3,4"], ["envelope.size[5]=1,2"]):
        with pytest.raises(InputError, match="sweep"):
            sweep_problem(file, sweeps, tmp_path / "out", None, None, 0)
    assert not (tmp_path / "out").exists()
    with pytest.raises(RunFolderError, match="not an empty folder"):
        sweep_problem(file, ["mass.limit=1,2"], masses, None, None, 0)
    with pytest.raises(RunFolderError, match="run folder"):
        compare_runs([tmp_path / "none"], None)


def test_commands(masses: Path, tmp_path: Path) -> None:
    from synth.cli import app

    told = CliRunner().invoke(app, ["compare", str(masses), "--out", str(tmp_path / "c"), "--json"])
    assert told.exit_code == 0 and json.loads(told.stdout)["schema"] == "comparison/1"
    assert (tmp_path / "c" / "comparison.html").exists()
    again = CliRunner().invoke(app, ["resume", str(masses), "--json"])
    assert again.exit_code == 0 and len(json.loads(again.stdout)["runs"]) == 3
