"""A candidate that always ends its worker is set aside, told with its genes and the reason, and the search goes on."""

import json
import os
import zlib
from pathlib import Path
from typing import Any

import pytest

from synth.app import pools, running
from synth.search import evaluator
from synth.search.pool import Work
from synth.search.types import Scores, Task


def deadly(problem: Any, task: Task) -> Scores:
    """The real work, save that one design in thirty ends the process."""
    if any(zlib.crc32(x.tobytes()) % 30 == 0 for x in task.X):
        os._exit(11)
    return evaluator.work(problem, task)


def broken(problem: Any, task: Task) -> Scores:
    """The real work, save that one design in ten breaks it."""
    if any(zlib.crc32(x.tobytes()) % 10 == 0 for x in task.X):
        raise ZeroDivisionError("nothing to divide by")
    return evaluator.work(problem, task)


@pytest.mark.parametrize(
    ("work", "workers", "reason"),
    [
        pytest.param(broken, 0, "ZeroDivisionError: nothing to divide by", id="raises"),
        pytest.param(deadly, 2, "the worker ended with code 11", id="dies", marks=pytest.mark.slow),
    ],
)
def test_what_cannot_be_evaluated_is_told_in_the_run(
    tiny: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, work: Work, workers: int, reason: str
) -> None:
    monkeypatch.setattr(pools, "work", work)
    out = tmp_path / "run"
    summary = running.run_problem(tiny, out, 30, 5, workers)
    assert summary.run["state"] == "done" and summary.any_feasible
    run = json.loads((out / "run.json").read_text())
    aside = run["set_aside"]
    assert 1 <= len(aside) <= 20
    for one in aside:
        assert one["family"] == "accordion" and one["reason"] == reason
        assert {"build.material", "build.thickness", "build.hinge"} < set(one["genes"])
    shown = {name.stem.rpartition("-")[2] for name in (out / "candidates").glob("*.json")}
    assert shown and not shown & {one["design"] for one in aside}
    assert sum(f["evaluations"] for e in run["envelopes"] for f in e["families"].values()) == 60
