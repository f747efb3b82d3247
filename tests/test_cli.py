"""The command line as people and programs meet it: exit codes, what goes to which stream, what is left on disk."""

import csv
import json
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from synth.cli import app, main
from tests.problem.broken import broken
from tests.samples import family_names

TINY = """
schema = "problem/1"
title = "A drawer and a tube"
[aperture]
clear_diameter = "300 mm"
min_collecting_area = "0.05 m^2"
[[envelope]]
name = "drawer"
size = ["320 mm", "160 mm", "100 mm"]
[[envelope]]
name = "tube"
diameter = "200 mm"
height = "330 mm"
[mass]
limit = "4 kg"
[accuracy]
surface_rms_limit = "40 um"
[structure]
deployed_first_mode_min = "5 Hz"
[choices]
families = ["accordion", "wing"]
max_panels = 4
[search]
objectives = ["stowed_volume", "mass", "surface_rms"]
evaluations = 150
seed = 4
"""
IMPOSSIBLE = TINY.replace('limit = "4 kg"', 'limit = "1 g"')
TOO_FLAT = TINY.replace('"40 um"', '"60 nm"')
"""Bounds do not rule it out, no candidate meets it."""
RUN_FILES = {"problem.toml", "run.json", "front.csv", "candidates", "cells.csv", "history.csv", "front.svg"}


@dataclass(frozen=True)
class Done:
    """How a command ended."""

    code: int
    out: str
    err: str

    @property
    def document(self) -> dict[str, Any]:
        """Standard output as the one JSON document that it must be."""
        found = json.loads(self.out)
        assert isinstance(found, dict)
        return found


class Shell:
    """Commands in a folder of their own, in this process."""

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch, streams: pytest.CaptureFixture[str]) -> None:
        self.folder, self._patch, self._streams = folder, monkeypatch, streams
        monkeypatch.chdir(folder)
        self.file("tiny.toml", TINY)

    def file(self, name: str, content: str | bytes) -> Path:
        path = self.folder / name
        path.write_bytes(content.encode() if isinstance(content, str) else content)
        return path

    def __call__(self, *words: str) -> Done:
        self._patch.setattr(sys, "argv", ["stowfront", *words])
        self._streams.readouterr()
        code: Any = 0
        try:
            main()
        except SystemExit as end:
            code = end.code if end.code is not None else 0
        told = self._streams.readouterr()
        assert "Traceback" not in told.out + told.err
        return Done(int(code), told.out, told.err)

    def names(self) -> set[str]:
        return {str(p.relative_to(self.folder)) for p in self.folder.rglob("*")}


@pytest.fixture
def stow(tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Shell:
    return Shell(tmp_path, monkeypatch, capsys)


@pytest.fixture(scope="module")
def ran(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A run folder of the tiny problem, written by the command in a process of its own."""
    folder = tmp_path_factory.mktemp("ran")
    (folder / "tiny.toml").write_text(TINY)
    words = ["run", "tiny.toml", "--workers", "0", "--evaluations", "60", "--out", "run", "--json"]
    end = subprocess.run([sys.executable, "-m", "synth.cli", *words], cwd=folder, capture_output=True, text=True)
    assert end.returncode == 0, end.stderr
    plain = all(line.startswith(("searching: ", "verifying ")) for line in end.stderr.splitlines())
    assert plain and "\x1b" not in end.stderr, "no terminal: at most a plain line now and then"
    assert json.loads(end.stdout)["state"] == "done"
    return folder / "run"


def rows(folder: Path) -> list[dict[str, str]]:
    with (folder / "front.csv").open(newline="") as stream:
        return list(csv.DictReader(stream))


# what may be asked without a run


def test_help_names_every_command(stow: Shell) -> None:
    end = stow("--help")
    assert end.code == 0
    for command in app.registered_commands:
        name = command.name or command.callback.__name__  # type: ignore[union-attr]
        assert name in end.out
        told = stow(name, "--help")
        assert told.code == 0 and "Usage" in told.out and told.err == ""


@pytest.mark.parametrize(
    "words",
    [
        ("fold",),
        ("run",),
        ("check", "--colour", "tiny.toml"),
        ("run", "tiny.toml", "--evaluations", "0"),
        ("run", "tiny.toml", "--evaluations", "many"),
        ("run", "tiny.toml", "--seed", "-1"),
        ("run", "tiny.toml", "--workers", "-1"),
        ("try", "tiny.toml"),
    ],
)
def test_a_command_that_cannot_be_understood_is_wrong_input(stow: Shell, words: tuple[str, ...]) -> None:
    before = stow.names()
    end = stow(*words)
    assert end.code == 2 and end.out == "" and "Usage" in end.err
    assert stow.names() == before


@pytest.mark.parametrize(
    ("words", "wanted"),
    [
        (("check", "none.toml"), "none.toml: there is no such file"),
        (("run", "none.toml"), "none.toml: there is no such file"),
        (("run", "tiny.toml", "--out", "full"), "full: is not empty"),
        (("run", "tiny.toml", "--out", "tiny.toml"), "tiny.toml: "),
        (("new", "tiny.toml"), "tiny.toml: exists already; nothing was written"),
        (("new", "no/such/folder.toml"), "no/such/folder.toml: cannot be written"),
        (
            ("catalogue", "material"),
            "must be one of families, materials, envelopes, hinges, latches or all; got 'material'",
        ),
        (("show", "nowhere"), "nowhere"),
        (("show", "full"), "full"),
        (("recheck", "nowhere"), "nowhere"),
        (("recheck", "full"), "full"),
        (("resume", "nowhere"), "nowhere"),
        (("resume", "full"), "full"),
        (("try", "tiny.toml", "--family", "acordion"), "Did you mean 'accordion'?"),
        (("try", "tiny.toml", "--family", "accordion", "--set", "strips"), "must be NAME=VALUE"),
        (("try", "tiny.toml", "--family", "accordion", "--set", "stripes=3"), "Did you mean 'accordion.strips'?"),
        (("try", "tiny.toml", "--family", "accordion", "--set", "strips=99"), "must be 2 to 16; got 99"),
        (("try", "tiny.toml", "--family", "accordion", "--set", "strips=2.5"), "must be a whole number; got 2.5"),
        (("try", "tiny.toml", "--family", "accordion", "--set", "cover=3"), "must be 0.7 to 1; got 3"),
        (("try", "tiny.toml", "--family", "accordion", "--set", "thickness=3 kg"), "must be 1 mm to 40 mm; got 3 kg"),
        (("try", "tiny.toml", "--family", "accordion", "--set", "material=gold"), "must be one of "),
        (("try", "tiny.toml", "--family", "accordion", "--envelope", "drawr"), "known: drawer, tube"),
        (("try", "tiny.toml", "--family", "accordion", "--set", "edge_gap=nan"), "edge_gap"),
        (("try", "tiny.toml", "--family", "segment_stack", "--set", "tree=t:1.2"), "tree"),
    ],
)
def test_wrong_input_is_one_message_and_leaves_nothing(stow: Shell, words: tuple[str, ...], wanted: str) -> None:
    (stow.folder / "full").mkdir()
    stow.file("full/letter.txt", "mine")
    before = stow.names()
    for as_json in (False, True):
        end = stow(*words, *(["--json"] if as_json and words[0] != "new" else []))
        assert (end.code, end.out) == (2, ""), end.err
        assert wanted in end.err and len(end.err.strip().splitlines()) == 1
        assert stow.names() == before


def test_new_writes_a_file_that_check_understands(stow: Shell) -> None:
    assert stow("new", "mine.toml").code == 0
    text = (stow.folder / "mine.toml").read_text()
    assert text.count("#") > 20
    end = stow("check", "mine.toml", "--json")
    assert end.code == 0 and end.err == ""
    assert end.document["impossible"] is False


@pytest.mark.parametrize("kind", ["families", "materials", "envelopes", "hinges", "all"])
def test_catalogue(stow: Shell, kind: str) -> None:
    text, found = stow("catalogue", kind), stow("catalogue", kind, "--json")
    assert (text.code, text.err, found.code, found.err) == (0, "", 0, "")
    assert set(found.document) == (
        {"families", "materials", "envelopes", "hinges", "latches"} if kind == "all" else {kind}
    )
    for name in family_names() if kind in ("families", "all") else ():
        assert f"{name}: " in text.out
        assert found.document["families"][name]["variables"]
    if kind in ("materials", "envelopes", "hinges"):
        for entry in found.document[kind]["entries"]:
            assert entry["id"] in text.out and all(v["source"] or v["flag"] for v in entry["values"])


def test_check_tells_the_problem_in_si_and_what_bounds_rule_out(stow: Shell) -> None:
    end = stow("check", "tiny.toml", "--json")
    told = end.document
    assert end.code == 0 and told["understood"]["aperture"]["clear_diameter"] == 0.3
    assert {r["name"] for r in told["requirements"]} >= {"envelope.fit", "mass.limit", "accuracy.surface_rms_limit"}
    assert [e["envelope"] for e in told["envelopes"]] == ["drawer", "tube"]
    assert told["envelopes"][0]["allowed_m"] == [0.32, 0.16, 0.1]
    text = stow("check", "tiny.toml")
    assert text.code == 0 and "Envelope drawer" in text.out and "40 um" in text.out
    lines = [" ".join(line.split()) for line in text.out.splitlines()]
    assert "mass.growth_allowance 0.2" in lines and "environment.gravity_offload 1" in lines, "defaults too"
    assert any("(round): diameter 200 mm, height 330 mm" in line for line in lines)


def test_an_impossible_problem_ends_at_once(stow: Shell) -> None:
    """Exit 3, no search: bounds show that the lightest panels of that area weigh more than the limit."""
    stow.file("impossible.toml", IMPOSSIBLE)
    end = stow("check", "impossible.toml")
    assert end.code == 3 and "mass.limit is 1 g" in end.out and "Impossible" in end.out
    end = stow("check", "impossible.toml", "--json")
    assert end.code == 3 and end.document["impossible"] is True
    end = stow("run", "impossible.toml", "--out", "run", "--json", "--workers", "0")
    assert end.code == 3 and end.document["state"] == "done"
    for envelope in end.document["envelopes"]:
        assert envelope["ideal_point"] is None and envelope["hypervolume"] == 0.0
        for family in envelope["families"].values():
            assert family["evaluations"] == 0 and "mass.limit" in family["reason"]
    assert rows(stow.folder / "run") == []
    assert stow("show", "run").code == 0
    assert stow("recheck", "run").code == 0


def test_forty_broken_files_end_in_a_message_and_leave_nothing(stow: Shell) -> None:
    """A spread of the generated ones; all of them are put to the reader in tests/problem."""
    every = list(broken())
    step = len(every) // 40
    chosen = every[::step][:40]
    assert len(chosen) == 40
    for number, (label, content, field) in enumerate(chosen):
        name = f"broken{number}.toml"
        stow.file(name, content)
        before = stow.names()
        command = ("check", "run")[number % 2]
        options = ["--json"] if number % 4 < 2 else []
        end = stow(command, name, *options)
        assert (end.code, end.out) == (2, ""), label
        assert end.err.startswith(f"{name}: ") and field in end.err, label
        assert stow.names() == before, label


# a run and what may be asked of it


def test_a_run_leaves_the_files_of_its_contract(ran: Path) -> None:
    assert {p.name for p in ran.iterdir() if not p.name.startswith(".")} == RUN_FILES
    assert (ran / "problem.toml").read_text() == TINY
    run = json.loads((ran / "run.json").read_text())
    assert (run["schema"], run["state"], run["seed"], run["evaluations"]) == ("run/1", "done", 4, 60)
    front = rows(ran)
    assert {r["envelope"] for r in front} == {"drawer", "tube"}
    assert all(r["verified"] == r["feasible"] == "true" for r in front)
    told = {p.name for p in (ran / "candidates").iterdir()}
    assert told == {f"{r['id']}{end}" for r in front for end in (".json", ".review.md")}
    for e in run["envelopes"]:
        assert 0.0 < e["hypervolume"] < 1.0
        assert sum(f["evaluations"] for f in e["families"].values()) == 60
        assert sum(f["on_front"] for f in e["families"].values()) == sum(r["envelope"] == e["name"] for r in front)
    assert "<svg" in (ran / "front.svg").read_text()[:500]


def test_show_tells_the_front_and_one_candidate(stow: Shell, ran: Path) -> None:
    text, found = stow("show", str(ran)), stow("show", str(ran), "--json")
    assert (text.code, text.err, found.code, found.err) == (0, "", 0, "")
    front = rows(ran)
    assert all(r["id"] in text.out for r in front)
    assert sum(len(e["rows"]) for e in found.document["envelopes"]) == len(front)
    one, told = stow("show", str(ran), front[0]["id"]), stow("show", str(ran), front[0]["id"], "--json")
    assert one.code == told.code == 0
    assert "mass.limit" in one.out and "envelope.fit" in one.out
    assert told.document["id"] == front[0]["id"]
    end = stow("show", str(ran), front[0]["id"] + "x")
    assert end.code == 2 and f"Did you mean '{front[0]['id']}'?" in end.err and end.out == ""


def test_show_draws_pictures(stow: Shell, ran: Path) -> None:
    front = rows(ran)
    end = stow("show", str(ran), front[0]["id"], "--pictures", "seen")
    assert end.code == 0
    made = sorted((stow.folder / "seen").iterdir())
    assert len(made) >= 3 and all(p.stat().st_size > 1000 for p in made)
    assert stow("show", str(ran), "--pictures", "seen").code == 2


def test_recheck_finds_nothing_and_then_what_was_spoiled(stow: Shell, ran: Path) -> None:
    import shutil

    end = stow("recheck", str(ran), "--json")
    assert end.code == 0 and end.document["ok"] is True and end.document["candidates"] == len(rows(ran))
    shutil.copytree(ran, stow.folder / "spoiled")
    path = stow.folder / "spoiled" / "candidates" / f"{rows(ran)[0]['id']}.json"
    record = json.loads(path.read_text())
    record["metrics"]["mass_kg"] *= 1.01
    path.write_text(json.dumps(record))
    # the record alone: what the others hold was just found right
    for other in path.parent.iterdir():
        if other != path:
            other.unlink()
    for options in ((), ("--json",)):
        end = stow("recheck", "spoiled", *options)
        assert end.code == 1 and "mass" in end.out
    assert end.document["ok"] is False


def test_a_finished_run_is_neither_overwritten_nor_run_again(stow: Shell, ran: Path) -> None:
    end = stow("run", "tiny.toml", "--out", str(ran))
    assert end.code == 2 and "holds a run already" in end.err
    before = (ran / "front.csv").read_bytes()
    end = stow("resume", str(ran), "--json")
    assert end.code == 0 and end.document["state"] == "done"
    assert (ran / "front.csv").read_bytes() == before


@pytest.mark.parametrize("workers", ["1", "2"])
def test_the_number_of_workers_changes_no_byte_of_the_front(stow: Shell, ran: Path, workers: str) -> None:
    end = stow("run", "tiny.toml", "--workers", workers, "--evaluations", "60", "--out", "run", "--json")
    assert end.code == 0 and end.document["state"] == "done"
    assert (stow.folder / "run" / "front.csv").read_bytes() == (ran / "front.csv").read_bytes()
    for path in (ran / "candidates").iterdir():
        assert (stow.folder / "run" / "candidates" / path.name).read_bytes() == path.read_bytes()


def test_another_seed_is_another_run(stow: Shell, ran: Path) -> None:
    end = stow("run", "tiny.toml", "--workers", "0", "--evaluations", "24", "--seed", "5", "--out", "run", "--json")
    assert end.code in (0, 3)
    assert (end.document["seed"], end.document["evaluations"]) == (5, 24)
    assert (stow.folder / "run" / "front.csv").read_bytes() != (ran / "front.csv").read_bytes()


def test_a_search_in_vain_ends_with_three_and_the_nearest_misses(stow: Shell) -> None:
    stow.file("flat.toml", TOO_FLAT)
    end = stow("run", "flat.toml", "--workers", "0", "--evaluations", "30", "--out", "run")
    assert end.code == 3
    front = rows(stow.folder / "run")
    for name in ("drawer", "tube"):
        mine = [r for r in front if r["envelope"] == name]
        assert len(mine) == 10 and all(r["feasible"] == "false" for r in mine)
    record = json.loads((stow.folder / "run" / "candidates" / f"{front[0]['id']}.json").read_text())
    assert [r["name"] for r in record["requirements"] if not r["ok"]] >= ["accuracy.surface_rms_limit"]
    assert "surface" in end.out
    told = json.loads((stow.folder / "run" / "run.json").read_text())["envelopes"][0]
    assert told["nearest"] == front[0]["id"]
    assert told["blocks"][0]["name"] in {r["name"] for r in record["requirements"] if not r["ok"]}
    blocks = f"blocks of {front[0]['id']}: {told['blocks'][0]['name']} is "
    assert blocks in end.out and blocks in stow("show", "run").out
    assert stow("recheck", "run").code == 0


# one candidate by hand

GOOD = ["strips=3", "thickness=8 mm", "edge_gap=9 mm", "cover=0.85", "reach=0.9", "section=sandwich"]


def hand(*values: str) -> list[str]:
    return ["try", "tiny.toml", "--family", "accordion", *[w for v in values for w in ("--set", v)]]


def test_try_works_one_candidate_out_like_any_other(stow: Shell) -> None:
    end = stow(*hand(*GOOD), "--out", "one", "--json")
    assert end.code == 0, end.err
    (row,) = rows(stow.folder / "one")
    assert (row["family"], row["envelope"], row["verified"], row["feasible"]) == ("accordion", "drawer", "true", "true")
    record = json.loads((stow.folder / "one" / "candidates" / f"{row['id']}.json").read_text())
    assert record["genes"]["accordion.strips"] == 3
    assert abs(record["genes"]["build.thickness"] - 8e-3) < 1e-9
    assert len(record["panels"]) == 3 and record["panels"][0]["z_back"] == pytest.approx(-8e-3, rel=1e-9)
    assert end.document["envelopes"][0]["families"] == {"accordion": {"evaluations": 1, "feasible": 1, "on_front": 1}}
    assert stow("recheck", "one").code == 0
    assert row["id"] in stow("show", "one").out
    tube = stow(*hand(*GOOD), "--envelope", "tube", "--out", "two")
    assert tube.code in (0, 3) and rows(stow.folder / "two")[0]["envelope"] == "tube"


def test_try_tells_what_a_candidate_misses(stow: Shell) -> None:
    end = stow(*hand("strips=2", "thickness=40 mm", "edge_gap=9 mm", "section=solid"), "--out", "one")
    assert end.code == 3
    (row,) = rows(stow.folder / "one")
    assert row["feasible"] == "false" and float(row["mass_kg"]) > 4.0
    assert f"blocks of {row['id']}: mass.limit is " in end.out and "1 candidate put forward" in end.out
    told = stow("show", "one", row["id"])
    assert told.code == 0 and "mass.limit" in told.out
    assert stow("recheck", "one").code == 0


def test_what_meets_is_named_wherever_a_candidate_is_told(stow: Shell) -> None:
    """A box just in front of the root, where the strips that fold forward come to lie."""
    box = (
        '[[keep_out]]\nname = "boom"\nmin = ["-20 mm", "-20 mm", "5 mm"]\nmax = ["20 mm", "20 mm", "300 mm"]\n[search]'
    )
    stow.file("tiny.toml", TINY.replace("[search]", box))
    end = stow(*hand(*GOOD), "--out", "one")
    assert end.code == 3
    (row,) = rows(stow.folder / "one")
    record = json.loads((stow.folder / "one" / "candidates" / f"{row['id']}.json").read_text())
    found = record["verification"]
    assert found["verified"] is False and "keep-out boom" in found["reason"]
    assert "keep-out boom" in found["least_clearance_between"] and 0.0 <= found["least_clearance_s"] <= 1.0
    assert f"blocks of {row['id']}: not verified: {found['reason']}" in end.out
    assert f"blocks of {row['id']}: not verified: {found['reason']}" in stow("show", "one").out
    told = stow("show", "one", row["id"]).out
    assert f"why: {found['reason']}" in told and "mm, between " in told
    assert stow("recheck", "one").code == 0


def test_one_candidate_that_is_no_design_is_not_called_impossible(stow: Shell) -> None:
    """Bounds leave families open: nothing found is not a proof that nothing can fit."""
    stow.file(
        "tiny.toml", TINY.replace('"accordion", "wing"', '"segment_stack"').replace("max_panels = 4", "max_panels = 7")
    )
    end = stow("run", "tiny.toml", "--workers", "0", "--evaluations", "1", "--out", "run")
    assert end.code in (0, 3) and "nothing can fit" not in end.out and "1 candidate put forward" in end.out


def test_try_of_what_is_no_design_says_why_and_leaves_nothing(stow: Shell) -> None:
    stow.file("tiny.toml", TINY.replace("max_panels = 4", "max_panels = 16"))
    before = stow.names()
    end = stow(*hand("strips=16", "edge_gap=30 mm"), "--out", "one")
    assert end.code == 2 and end.out == "" and "accordion: this is no design: " in end.err
    assert stow.names() == before


def test_results_is_where_a_run_goes_that_names_no_place(stow: Shell) -> None:
    assert stow(*hand(*GOOD)).code == 0
    (made,) = (stow.folder / "results").iterdir()
    assert made.name.startswith("try-accordion-") and (made / "front.csv").exists()


# what must not happen


def test_a_fault_of_the_program_is_told_in_one_line(stow: Shell, monkeypatch: pytest.MonkeyPatch) -> None:
    def breaks(*_: object) -> None:
        raise ZeroDivisionError("a bug")

    monkeypatch.setattr("synth.app.check_problem", breaks)
    end = stow("check", "tiny.toml", "--json")
    assert end.code == 1 and end.out == "" and "ZeroDivisionError: a bug" in end.err
    assert len(end.err.strip().splitlines()) == 1


def test_ctrl_c_is_130(stow: Shell, monkeypatch: pytest.MonkeyPatch) -> None:
    def breaks(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("synth.app.check_problem", breaks)
    end = stow("check", "tiny.toml")
    assert end.code == 130 and end.out == ""
