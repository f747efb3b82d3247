"""A panel gap of nothing is laid out with the least one, which is told before anything starts."""

from pathlib import Path
from typing import Any

import pytest

from synth.app.checking import check_problem
from synth.app.folder import candidate_record
from synth.app.running import run_problem, try_candidate
from synth.fold.hardware import LEAST_GAP
from synth.problem.toml_text import toml_text
from synth.recheck.whole import recheck_record
from tests.near import near
from tests.samples import ROOMY


def asking(path: Path, gap: str, **sections: Any) -> Path:
    path.write_text(toml_text({**ROOMY, "structure": {**ROOMY["structure"], "panel_gap": gap}, **sections}))
    return path


def test_stacks_that_ask_no_gap_keep_the_least_one_and_verify(tmp_path: Path) -> None:
    file = asking(tmp_path / "p.toml", "0 mm")
    made = try_candidate(file, "accordion", ["build.thickness=12 mm"], None, tmp_path / "run")
    record = candidate_record(made.folder, "box-by_hand")
    assert record["verification"]["verified"], record["verification"]
    near(record["metrics"]["panel_gap_m"], LEAST_GAP, rel=1e-6, why="what the layout leaves between layers")
    assert not recheck_record(record), "and independent code finds the solids apart"


@pytest.mark.parametrize(("gap", "told"), [("0 mm", "0 m"), ("5 um", "5 um"), ("20 um", ""), ("0.5 mm", "")])
def test_check_tells_it(tmp_path: Path, gap: str, told: str) -> None:
    report = check_problem(asking(tmp_path / "p.toml", gap))
    found = [n for n in report.document()["notes"] if "panel_gap" in n]
    assert bool(found) == bool(told) == ("Note: structure.panel_gap" in report.text())
    if told:
        assert found[0].startswith(f"structure.panel_gap {told}: candidates are laid out with 20 um at least")


def test_run_tells_it_first(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    light = {"limit": "1 g"}  # ruled out by bounds: nothing is searched
    run_problem(asking(tmp_path / "p.toml", "0 mm", mass=light), tmp_path / "none", 1, 1, 0)
    assert capsys.readouterr().err.startswith("Note: structure.panel_gap 0 m: ")
    run_problem(asking(tmp_path / "q.toml", "1 mm", mass=light), tmp_path / "some", 1, 1, 0)
    assert "panel_gap" not in capsys.readouterr().err
