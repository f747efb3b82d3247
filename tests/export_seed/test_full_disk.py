"""A full disk: exit code 1, one message, and nothing half-written. No file may grow beyond some bytes: what a full disk
does, without filling one."""

import resource
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest

from synth import cli
from synth.fronts.store import write_run
from tests.export_seed.test_package import run as three

made = three
"""A fixture: a run folder of three candidates."""

ENVELOPE = {
    "name": "bay", "ideal_point": [0.0, 0.0, -9.0], "reference_point": [1.0, 99.0, 0.0], "hypervolume": 0.5,
    "families": {"accordion": {"evaluations": 3, "feasible": 3, "on_front": 3}},
}  # fmt: skip


@pytest.fixture
def run(made: Path) -> Path:
    """The run folder with what a comparison asks of it."""
    told = {"schema": "run/1", "id": "r", "state": "done", "objectives": ["stowed_volume", "mass", "first_mode"],
            "seed": 1, "evaluations": 3, "envelopes": [ENVELOPE]}  # fmt: skip
    write_run(made, told)
    return made


@contextmanager
def room(most: int) -> Iterator[None]:
    before = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (most, before[1]))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, before)


@pytest.fixture
def command(monkeypatch: pytest.MonkeyPatch) -> Callable[..., int]:
    def call(*words: str) -> int:
        monkeypatch.setattr(sys, "argv", ["stowfront", *words])
        with pytest.raises(SystemExit) as ended:
            cli.main()
        return int(ended.value.code or 0)

    return call


WORDS = {
    "compare": ("compare", "{run}", "--out", "{out}"),
    "pictures": ("show", "{run}", "bay-1", "--pictures", "{out}"),
    "top": ("seed", "{run}", "--top", "2", "--only", "tables", "--out", "{out}"),
    **{f"seed {f}": ("seed", "{run}", "bay-1", "--only", f, "--out", "{out}")
       for f in ("record", "review", "step", "dxf", "paper", "stl", "3mf", "metal", "gltf", "mjcf", "network")},
}  # fmt: skip


@pytest.mark.parametrize("what", list(WORDS))
def test_a_full_disk_is_told_and_nothing_is_left(
    what: str, run: Path, tmp_path: Path, command: Callable[..., int], capsys: pytest.CaptureFixture[str]
) -> None:
    if what == "seed step":
        pytest.importorskip("OCP", reason="the CAD kernel is optional")
    out = tmp_path / "out"
    with room(700):
        code = command(*(w.format(run=run, out=out) for w in WORDS[what]))
    said = capsys.readouterr()
    assert code == 1 and said.out == "", said
    assert said.err.startswith(str(out)), "of the place that was asked for"
    assert "cannot be written: " in said.err and len(said.err.strip().splitlines()) == 1
    left = [p.name for p in tmp_path.iterdir() if p != run]
    assert left == [] or (what == "pictures" and not any(out.iterdir())), left


def test_a_comparison_there_before_stays_whole(run: Path, tmp_path: Path, command: Callable[..., int]) -> None:
    out = tmp_path / "out"
    assert command("compare", str(run), "--out", str(out)) == 0
    before = {p.name: p.read_bytes() for p in out.iterdir()}
    with room(20_000):  # tables fit, the page does not
        assert command("compare", str(run), "--out", str(out)) == 1
    assert {p.name: p.read_bytes() for p in out.iterdir()} == before


def test_a_problem_file_that_does_not_fit_is_not_begun(tmp_path: Path, command: Callable[..., int]) -> None:
    with room(2000):
        assert command("new", str(tmp_path / "p.toml")) == 1
    assert list(tmp_path.iterdir()) == []
