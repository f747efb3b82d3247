"""A tiny problem, runs of it as processes that can be killed, and what must come out the same."""

import os
import subprocess
import sys
from pathlib import Path

ROOT = Path(__file__).parents[2]
SECONDS = 280.0
TINY = """
schema = "problem/1"
title = "A tiny flat receiver, for tests of faults"

[aperture]
clear_diameter = "400 mm"
min_collecting_area = "0.09 m^2"

[[envelope]]
name = "box"
size = ["300 mm", "200 mm", "200 mm"]

[[envelope]]
name = "locker"
size = ["440 mm", "300 mm", "250 mm"]

[mass]
limit = "6 kg"

[accuracy]
surface_rms_limit = "50 um"

[choices]
families = ["accordion"]
max_panels = 7

[search]
objectives = ["stowed_volume", "mass"]
evaluations = 60
seed = 3
"""


def environment(**more: str) -> dict[str, str]:
    """Of a child: quiet, one thread, the repository on its path."""
    threads = {k: "1" for k in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS")}
    kept = {k: v for k, v in os.environ.items() if not k.startswith("RAY_")}
    return {**kept, **threads, "PYTHONPATH": str(ROOT), "RAY_USAGE_STATS_ENABLED": "0", **more}


def command(*words: object, **more: str) -> "subprocess.Popen[str]":
    """A stowfront command under tests.faults.driver, started."""
    return subprocess.Popen(
        [sys.executable, "-m", "tests.faults.driver", *map(str, words)], cwd=ROOT, env=environment(**more),
        stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
    )  # fmt: skip


def ended(process: "subprocess.Popen[str]") -> tuple[int, str, str]:
    """Exit code, standard output and standard error of a command, once it is over."""
    try:
        out, err = process.communicate(timeout=SECONDS)
    finally:
        process.kill()
    return process.returncode, out, err


def go_on(problem: Path, out: Path, *words: object, **more: str) -> "subprocess.Popen[str]":
    """The command that a person would give next: run where the folder holds no run yet, else resume."""
    if (out / "run.json").exists():
        return command("resume", out, *words, **more)
    return command("run", problem, "--out", out, *words, **more)


def found(out: Path) -> dict[str, bytes]:
    """front.csv, history and every record of a run folder, byte by byte."""
    files = [out / "front.csv", out / "history.csv", *sorted((out / "candidates").iterdir())]
    return {f.name: f.read_bytes() for f in files}


def children(pid: int, mark: str) -> list[int]:
    """Processes under a process (at any depth) whose command line holds a text."""
    parents, texts = {}, {}
    for place in Path("/proc").iterdir():
        if place.name.isdigit():
            try:
                stat = (place / "stat").read_text().rpartition(")")[2].split()
                texts[int(place.name)] = (place / "cmdline").read_bytes().replace(b"\0", b" ").decode(errors="replace")
            except OSError:
                continue
            if stat[0] != "Z":
                parents[int(place.name)] = int(stat[1])
    below, grown = {pid}, True
    while grown:
        more = {p for p, parent in parents.items() if parent in below} - below
        grown, below = bool(more), below | more
    return sorted(p for p in below - {pid} if mark in texts[p])
