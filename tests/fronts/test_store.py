import os
from pathlib import Path

import numpy as np
import pytest

from synth.core.errors import RunFolderError, StorageError
from synth.fronts.front import Front, Row, candidate_id, dominated_share, slugs
from synth.fronts.store import (
    front_text,
    read_front,
    read_history,
    read_run,
    replace_file,
    write_front,
    write_history,
    write_run,
)

FRONT = Front(
    ("mass_kg", "surface_rms_m"),
    (
        Row("bay-01", "bay", "wing", True, True, {"mass_kg": 1.0 / 3.0, "surface_rms_m": 2.5e-6}),
        Row("bay-02", "bay", "wing", True, True, {"mass_kg": 0.25, "surface_rms_m": 3.5e-6}),
        Row("locker, big-03", "locker, big", "petal", True, False, {"mass_kg": 12.0, "surface_rms_m": 0.0}),
    ),
)


def test_the_table_is_the_same_text_for_the_same_front_and_reads_back(tmp_path: Path) -> None:
    assert front_text(FRONT).splitlines() == [
        "id,envelope,family,verified,feasible,mass_kg,surface_rms_m",
        "bay-01,bay,wing,true,true,0.333333333333,2.5e-06",
        "bay-02,bay,wing,true,true,0.25,3.5e-06",
        '"locker, big-03","locker, big",petal,true,false,12.0,0.0',
    ]
    write_front(tmp_path, FRONT)
    back = read_front(tmp_path)
    assert back.columns == FRONT.columns
    assert back.rows[1:] == FRONT.rows[1:]
    assert front_text(back) == front_text(FRONT)
    assert [p.name for p in tmp_path.iterdir()] == ["front.csv"]


def test_noise_below_the_twelfth_digit_does_not_reach_the_table() -> None:
    def text(mass: float) -> str:
        return front_text(Front(("m",), (Row("a", "e", "f", True, True, {"m": mass}),)))

    assert text(0.1 + 0.2) == text(0.3)
    assert text(0.3) != text(0.3000000001)
    with pytest.raises(ValueError, match="finite"):
        text(float("nan"))


@pytest.mark.parametrize(
    ("content", "word"),
    [
        (b"", "first line"),
        (b"id,name\n1,2\n", "first line"),
        (b"id,envelope,family,verified,feasible,m\na,b,c,true,true\n", "line 2"),
        (b"id,envelope,family,verified,feasible,m\na,b,c,yes,true,1\n", "line 2"),
        (b"id,envelope,family,verified,feasible,m\na,b,c,true,true,heavy\n", "line 2"),
        (b"id,envelope,family,verified,feasible,m\na,b,c,true,true,nan\n", "line 2"),
        (b"\xff\xfe\x00\x01", "text file"),
    ],
)
def test_a_damaged_table_is_told_with_its_place(tmp_path: Path, content: bytes, word: str) -> None:
    (tmp_path / "front.csv").write_bytes(content)
    with pytest.raises(RunFolderError, match=word):
        read_front(tmp_path)


def test_missing_files_ask_whether_this_is_a_run_folder(tmp_path: Path) -> None:
    for read in (read_front, read_history, read_run):
        with pytest.raises(RunFolderError, match=r"is .* a run folder"):
            read(tmp_path)  # type: ignore[operator]


def test_history_and_run_read_back(tmp_path: Path) -> None:
    rows = [("bay", "all", 24, 0.125), ("bay", "wing", 12, 0.0)]
    write_history(tmp_path, rows)
    assert read_history(tmp_path) == rows
    run = {"schema": "run/1", "state": "done", "envelopes": [{"name": "bay", "hypervolume": 0.5}]}
    write_run(tmp_path, run)
    assert read_run(tmp_path) == run
    with pytest.raises(ValueError, match="state"):
        write_run(tmp_path, {"schema": "run/1", "state": "sleeping"})
    (tmp_path / "run.json").write_text("{")
    with pytest.raises(RunFolderError, match="JSON"):
        read_run(tmp_path)


def test_a_crash_while_writing_leaves_the_old_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    path = tmp_path / "front.csv"
    replace_file(path, b"old")

    def full(_: int) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(StorageError, match="No space left"):
        replace_file(path, b"new" * 1000)
    assert path.read_bytes() == b"old"
    assert len(list(tmp_path.iterdir())) == 1


def test_a_front_tells_its_knee_and_extremes() -> None:
    rows = tuple(
        Row(f"c{k}", "bay", "wing" if k % 2 else "petal", True, True, {"m": m, "a": a})
        for k, (m, a) in enumerate([(0.0, 1.0), (0.2, 5.0), (0.9, 9.0), (1.0, 10.0)])
    )
    poor = Row("bad", "bay", "wing", True, False, {"m": -5.0, "a": 50.0})
    front = Front(("m", "a"), (*rows, poor))
    found = front.summary(["m", "a"], [1.0, -1.0], np.array([0.0, -10.0]), np.array([1.0, 0.0]))
    assert found is not None
    assert found.least == {"m": "c0", "a": "c3"}
    assert found.knee == "c1"
    assert found.families == {"petal": 2, "wing": 2}
    # by hand: strips of the box under each step, m from 0 to 1, a from 0 to 10
    assert abs(found.hypervolume - (0.2 * 0.1 + 0.7 * 0.5 + 0.1 * 0.9)) < 1e-12
    assert front.find("bad") is poor and front.find("none") is None
    assert Front(("m", "a"), (poor,)).summary(["m"], [1.0], np.zeros(1), np.ones(1)) is None
    better = Front(("m", "a"), (Row("x", "bay", "wing", True, True, {"m": 0.1, "a": 9.0}),))
    assert dominated_share(better, front, ["m", "a"], [1.0, -1.0]) == 0.5


def test_ids_are_safe_in_file_names_and_all_different() -> None:
    found = slugs(["12U bay", "12u-bay", "../etc", "Locker", "№"])
    assert found == ("12u_bay_0", "12u_bay_1", "etc", "locker", "envelope")
    assert candidate_id(found[2], "0a1b") == "etc-0a1b"
