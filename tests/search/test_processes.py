import os
import random
import signal
import subprocess
import sys
import threading
import time
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from synth.search.pool import InProcess, Interrupted
from synth.search.processes import LocalProcesses, PoolFailed, pool_of
from synth.search.types import Failed, Scores, Task
from tests.search.runs import new, run, told
from tests.search.toys import Toy, ToyCell, work


def tasks(count: int) -> list[Task]:
    rng = np.random.default_rng(0)
    return [Task(ToyCell("roll", 2 + k % 5), rng.random((3, 3)), cost=float(k % 4)) for k in range(count)]


def same(a: object, b: object) -> bool:
    return isinstance(a, Scores) and isinstance(b, Scores) and a.objectives.tobytes() == b.objectives.tobytes()


def test_answers_come_in_the_order_of_the_tasks_and_are_those_of_one_process() -> None:
    toy = Toy()
    with InProcess(work, toy) as one, LocalProcesses(work, toy, 2) as two:
        assert all(same(a, b) for a, b in zip(one.map(tasks(11)), two.map(tasks(11)), strict=True))
        assert two.map([]) == []
        assert len(two.pids()) == 2 and two.state().workers == 2
        pids = two.pids()
    for pid in pids:
        with pytest.raises(ProcessLookupError):
            os.kill(pid, 0)


@pytest.mark.parametrize("workers", [0, 1, 2])
def test_the_front_does_not_depend_on_the_number_of_workers(workers: int) -> None:
    toy = Toy(bias=0.05)
    pool = pool_of(workers, work, toy)
    try:
        assert told(run(toy, new(toy, 200), pool)) == told(run(toy, new(toy, 200)))
    finally:
        pool.close()


def test_killed_workers_change_nothing() -> None:
    toy, slow = Toy(bias=0.05), Toy(bias=0.05, delay_s=0.01)
    whole = told(run(toy, new(toy, 300)))
    with LocalProcesses(work, slow, 2, attempts=20) as pool:
        over = threading.Event()
        kills = [0]

        def kill() -> None:
            chance = random.Random(5)
            while not over.wait(0.7):
                pids = pool.pids(busy=True)
                if pids:
                    os.kill(chance.choice(pids), signal.SIGKILL)
                    kills[0] += 1

        killer = threading.Thread(target=kill)
        killer.start()
        try:
            outcome = run(slow, new(slow, 300), pool)
        finally:
            over.set()
            killer.join()
        assert kills[0] >= 2
        assert "ended with code -9" in pool.state().note
    assert told(outcome) == whole
    assert outcome.aside == []


def test_a_candidate_that_kills_every_worker_is_set_aside_and_the_search_goes_on() -> None:
    toy = Toy(levels=1001, crash="die")
    with LocalProcesses(work, toy, 2, attempts=2) as pool:
        outcome = run(toy, new(toy, 120, batch=12), pool)
    assert outcome.evaluations == [120, 120] and outcome.fronts[1]
    assert outcome.aside
    assert all("n=4" in cell and x[0] > 0.8 and "code 9" in reason for _, cell, x, reason in outcome.aside)


def hung(toy: Toy, task: Task) -> Scores:
    if task.X[0, 0] > 0.5:
        time.sleep(60.0)
    return work(toy, task)


def test_a_task_that_hangs_is_given_up_after_its_deadline() -> None:
    cell = ToyCell("fan", 2)
    with LocalProcesses(hung, Toy(), 2, deadline_s=0.6, attempts=2) as pool:
        started = time.monotonic()
        answers = pool.map([Task(cell, np.full((1, 3), 0.9)), Task(cell, np.full((1, 3), 0.1))])
        assert time.monotonic() - started < 20.0
        assert isinstance(answers[0], Failed) and "no answer" in answers[0].reason
        assert isinstance(answers[1], Scores)
        assert pool.state().retries == 1


def test_asking_to_stop_interrupts_within_two_seconds() -> None:
    cell = ToyCell("fan", 2)
    with LocalProcesses(hung, Toy(), 1) as pool:
        pool.map([Task(cell, np.full((1, 3), 0.1))])
        started = time.monotonic()
        with pytest.raises(Interrupted):
            pool.map([Task(cell, np.full((1, 3), 0.9))], stop=lambda: time.monotonic() - started > 0.3)
        assert time.monotonic() - started < 2.0
        assert pool.pids() == []
        assert isinstance(pool.map([Task(cell, np.full((1, 3), 0.1))])[0], Scores)


class Unreadable:
    """A problem that no worker can read."""

    def __reduce__(self) -> Any:
        return (int, ("not a number",))


def test_workers_that_cannot_start_are_told() -> None:
    with LocalProcesses(work, Unreadable(), 1) as pool, pytest.raises(PoolFailed, match="cannot be started"):
        pool.map(tasks(1))


def test_workers_end_when_their_driver_is_killed(tmp_path: Path) -> None:
    script = tmp_path / "driver.py"
    script.write_text(
        "import numpy as np, os, threading, time\n"
        "from synth.search.processes import LocalProcesses\n"
        "from tests.search.test_processes import hung\n"
        "from tests.search.toys import Toy, ToyCell\n"
        "from synth.search.types import Task\n"
        "pool = LocalProcesses(hung, Toy(), 2)\n"
        "def tell():\n"
        "    time.sleep(2.0)\n"
        "    print(*pool.pids(), flush=True)\n"
        "threading.Thread(target=tell, daemon=True).start()\n"
        "pool.map([Task(ToyCell('fan', 2), np.full((1, 3), 0.9))] * 2)\n"
    )
    driver = subprocess.Popen(
        [sys.executable, str(script)], stdout=subprocess.PIPE, text=True, env={**os.environ, "PYTHONPATH": os.getcwd()}
    )
    assert driver.stdout is not None
    pids = [int(p) for p in driver.stdout.readline().split()]
    driver.kill()
    driver.wait()
    driver.stdout.close()
    assert len(pids) == 2
    deadline = time.monotonic() + 10.0
    while any(alive(p) for p in pids):
        assert time.monotonic() < deadline, "a worker outlived its driver"
        time.sleep(0.1)


def alive(pid: int) -> bool:
    try:
        return "Z" not in Path(f"/proc/{pid}/stat").read_text().split(")")[-1].split()[0]
    except FileNotFoundError:
        return False
