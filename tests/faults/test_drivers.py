"""A driver that is killed at any instant, stopped, refused, or out of disk: resumed, it finds the same."""

import json
import os
import random
import resource
import shutil
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from synth.app import running
from tests.faults import driver
from tests.faults.runs import ROOT, children, command, ended, environment, found, go_on


def killed_again_and_again(tiny: Path, whole: dict[str, bytes], tmp_path: Path, kills: int, seed: int) -> None:
    """Kills drivers at random instants between their start and their end until `kills` have hit; every run that
    comes to its end must have found what the undisturbed one did."""
    chance, out, hits, longest = random.Random(seed), tmp_path / "run-0", 0, 6.0
    ends = 0
    while hits < kills or ends == 0:
        workers = chance.choice(["0", "1", "2"])
        begun = time.monotonic()
        process = go_on(tiny, out, "--workers", workers)
        if hits < kills:
            try:
                process.wait(chance.uniform(0.2, 1.1) * longest)
            except subprocess.TimeoutExpired:
                process.kill()
        code, _, err = ended(process)
        if code == -signal.SIGKILL:
            hits += 1
            continue
        assert code == 0, err
        longest = max(longest, time.monotonic() - begun)
        assert found(out) == whole
        ends += 1
        out = tmp_path / f"run-{ends}"


def test_a_driver_that_is_killed_goes_on_to_the_same_front(tiny: Path, whole: dict[str, bytes], tmp_path: Path) -> None:
    killed_again_and_again(tiny, whole, tmp_path, kills=2, seed=11)


@pytest.mark.slow
@pytest.mark.timeout(3600)
def test_thirty_kills_of_the_driver(tiny: Path, whole: dict[str, bytes], tmp_path: Path) -> None:
    killed_again_and_again(tiny, whole, tmp_path, kills=30, seed=12)


def resumed(folder: Path, die_at: int | None = None) -> int:
    """Exit code of a process that resumes a run: a fork, which need not load everything anew."""
    child = os.fork()
    if child == 0:
        try:
            if die_at is not None:
                driver.dies_at(die_at)
            running.resume_run(folder, 0)
            os._exit(0)
        except BaseException as fault:
            print(repr(fault), file=sys.stderr)
            os._exit(1)
    return os.waitstatus_to_exitcode(os.waitpid(child, 0)[1])


def every_change(tiny: Path, whole: dict[str, bytes], tmp_path: Path, step: int) -> int:
    """Kills the final writing before each step-th change of a file; returns how many were met."""
    out = tmp_path / "searched"
    script = "import synth.app.folder as f, os; f.RunFolder.finish = lambda *_: os.kill(os.getpid(), 9)"
    script += "; from synth import cli; cli.main()"
    words = [sys.executable, "-c", script, "run", str(tiny), "--out", str(out), "--workers", "0"]
    assert subprocess.run(words, cwd=ROOT, env=environment(), check=False).returncode == -signal.SIGKILL
    for met, place in enumerate(range(1, 500, step)):
        copy = tmp_path / f"at-{place}"
        shutil.copytree(out, copy)
        code = resumed(copy, die_at=place)
        if code == 0:
            assert found(copy) == whole
            return met
        assert code == -signal.SIGKILL
        state = json.loads((copy / "run.json").read_text())["state"]
        if state == "done":
            assert found(copy) == whole  # what is called done stands, whatever was left to tidy up
        assert resumed(copy) == 0
        assert found(copy) == whole
        assert json.loads((copy / "run.json").read_text())["state"] == "done"
    pytest.fail("the final writing never ends")


def test_a_kill_during_the_final_writing_leaves_a_run_that_can_be_finished(
    tiny: Path, whole: dict[str, bytes], tmp_path: Path
) -> None:
    assert every_change(tiny, whole, tmp_path, step=5) >= 2


@pytest.mark.slow
@pytest.mark.timeout(1800)
def test_a_kill_before_every_change_of_the_final_writing(tiny: Path, whole: dict[str, bytes], tmp_path: Path) -> None:
    assert every_change(tiny, whole, tmp_path, step=1) >= 8


def test_ctrl_c_stops_within_two_seconds_with_what_is_found_and_can_be_resumed(
    tiny: Path, whole: dict[str, bytes], tmp_path: Path
) -> None:
    out = tmp_path / "run"
    process = command("run", tiny, "--out", out, "--workers", "2")
    while not (out / ".work" / "state").exists():
        assert process.poll() is None, process.communicate()
        time.sleep(0.02)
    process.send_signal(signal.SIGSTOP)
    refused, _, told = ended(command("resume", out))  # the run is busy: a second process is sent away
    assert refused == 2 and f"(pid {process.pid}) is working on this run" in told
    process.send_signal(signal.SIGINT)
    process.send_signal(signal.SIGCONT)
    begun = time.monotonic()
    code, _, err = ended(process)
    took = time.monotonic() - begun
    assert code in (130, 3), err  # stopped; or over just before
    assert took < 2.0 * max(1.0, os.getloadavg()[0] / (os.cpu_count() or 1)), took  # a busy machine is slower
    run = json.loads((out / "run.json").read_text())
    assert run["state"] == "stopped" and (out / "front.csv").exists()
    assert children(process.pid, "synth.search.worker") == []
    code, _, err = ended(command("resume", out, "--workers", "1"))
    assert code == 0, err
    assert found(out) == whole


def test_a_full_disk_is_told_and_the_run_goes_on_once_there_is_room(
    tiny: Path, whole: dict[str, bytes], tmp_path: Path
) -> None:
    out = tmp_path / "run"
    # no file may grow beyond 24 kB: what a full disk does, without filling one
    small = "import resource; resource.setrlimit(resource.RLIMIT_FSIZE, (24000, 24000))"
    script = f"{small}; from tests.faults import driver; driver.cli.main()"
    words = [sys.executable, "-c", script, "run", str(tiny), "--out", str(out), "--workers", "0"]
    done = subprocess.run(words, cwd=ROOT, env=environment(), capture_output=True, text=True, check=False)
    assert resource.getrlimit(resource.RLIMIT_FSIZE)[0] == resource.RLIM_INFINITY
    assert done.returncode == 1, done.stderr  # nothing given was wrong
    assert "cannot be written: File too large" in done.stderr
    assert f"stowfront resume {out}" in done.stderr and len(done.stderr.splitlines()) == 2
    code, _, err = ended(command("resume", out, "--workers", "0"))
    assert code == 0, err
    assert found(out) == whole
