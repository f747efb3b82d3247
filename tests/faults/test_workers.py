"""Worker processes and machines that are killed: nothing is lost, nothing counted twice, the front is the same."""

import json
import os
import random
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.faults.runs import ROOT, SECONDS, children, command, ended, environment, found

WORKER = "synth.search.worker"


def workers_killed(tiny: Path, whole: dict[str, bytes], tmp_path: Path, kills: int, seed: int) -> None:
    """Kills a random worker process at random instants until `kills` have hit, over as many runs as that takes."""
    chance, hits, runs = random.Random(seed), 0, 0
    while hits < kills:
        out = tmp_path / f"run-{runs}"
        process = command("run", tiny, "--out", out, "--workers", "2")
        while process.poll() is None:
            time.sleep(chance.uniform(0.1, 1.0))
            victims = children(process.pid, WORKER)
            if victims and hits < kills:
                try:
                    os.kill(chance.choice(victims), signal.SIGKILL)
                    hits += 1
                except ProcessLookupError:
                    continue
        code, _, err = ended(process)
        assert code == 0, err
        assert found(out) == whole
        assert "ended with code -9" in err and len(err.splitlines()) <= kills
        assert "set_aside" not in json.loads((out / "run.json").read_text())
        runs += 1


def test_killed_workers_change_nothing(tiny: Path, whole: dict[str, bytes], tmp_path: Path) -> None:
    workers_killed(tiny, whole, tmp_path, kills=2, seed=21)


@pytest.mark.slow
@pytest.mark.timeout(3600)
def test_thirty_kills_of_workers(tiny: Path, whole: dict[str, bytes], tmp_path: Path) -> None:
    workers_killed(tiny, whole, tmp_path, kills=30, seed=22)


def nodes_killed(tiny: Path, whole: dict[str, bytes], tmp_path: Path, kills: int) -> None:
    """Runs on a two-node test cluster whose nodes are killed and replaced, in a process of its own."""
    words = [sys.executable, "-m", "tests.faults.nodes", str(tiny), str(tmp_path), str(kills)]
    fast = {f"RAY_health_check_{k}_ms": "1000" for k in ("initial_delay", "period", "timeout")}
    with open(tmp_path / "log", "w+", encoding="utf-8") as log:
        done = subprocess.run(
            words, cwd=ROOT, env=environment(RAY_AUTH_MODE="disabled", **fast), stdout=subprocess.PIPE, stderr=log,
            text=True, timeout=SECONDS * max(kills, 1), check=False,
        )  # fmt: skip
        log.seek(0)
        assert done.returncode == 0, log.read()[-4000:]
    told = json.loads(done.stdout.splitlines()[-1])
    assert told["kills"] == kills
    for out in told["runs"]:
        assert found(Path(out)) == whole
        assert "set_aside" not in json.loads((Path(out) / "run.json").read_text())


def test_a_killed_ray_node_changes_nothing(tiny: Path, whole: dict[str, bytes], tmp_path: Path) -> None:
    nodes_killed(tiny, whole, tmp_path, kills=1)


@pytest.mark.slow
@pytest.mark.timeout(3600)
def test_ten_kills_of_ray_nodes(tiny: Path, whole: dict[str, bytes], tmp_path: Path) -> None:
    nodes_killed(tiny, whole, tmp_path, kills=10)
