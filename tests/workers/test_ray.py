"""The pool over a real private Ray cluster: the toy search, crashes, hangs, rubbish, a stop."""

import os
import signal
import threading
import time
from collections.abc import Iterator

import numpy as np
import pytest

from synth.search.pool import Interrupted
from synth.search.types import Failed, Scores, Task
from tests.faults.runs import children
from tests.search.runs import new, run, told
from tests.search.test_processes import hung
from tests.search.toys import Toy, ToyCell, work
from workers.ray_pool import RayPool

# Ray leaves sockets and files to the garbage collector
pytestmark = [pytest.mark.filterwarnings("ignore"), pytest.mark.timeout(280)]


def moody(toy: Toy, task: Task) -> Scores:
    """Hangs, dies, answers rubbish or works, as the first gene says."""
    mood = float(task.X[0, 0])
    if mood > 0.9:
        return hung(toy, task)
    if mood > 0.8:
        os._exit(9)
    if mood > 0.7:
        return "rubbish"  # type: ignore[return-value]
    if mood > 0.6:
        raise ZeroDivisionError("this row breaks the evaluation")
    if mood > 0.5:
        os.kill(os.getpid(), signal.SIGKILL)
    return work(toy, task)


@pytest.fixture
def pool() -> Iterator[RayPool]:
    with RayPool(moody, Toy(bias=0.05), 2, deadline_s=4.0, attempts=2) as made:
        yield made


def test_a_private_cluster_bears_what_workers_do(pool: RayPool) -> None:
    cell = ToyCell("fan", 2)

    def task(mood: float) -> Task:
        return Task(cell, np.array([[mood, 0.4, 0.4]]))

    moods = [0.1, 0.55, 0.65, 0.85, 0.95, 0.2]
    answers = pool.map([task(m) for m in moods])
    assert isinstance(answers[0], Scores) and isinstance(answers[5], Scores)
    reasons = [a.reason for a in answers[1:5] if isinstance(a, Failed)]
    assert reasons == [
        "the worker process died",
        "ZeroDivisionError: this row breaks the evaluation",
        "the worker process died",
        "no answer within 4 s",
    ]
    assert pool.state().failed == 4 and pool.state().retries == 3
    begun = time.monotonic()
    with pytest.raises(Interrupted):
        pool.map([task(0.95)] * 3, stop=lambda: time.monotonic() - begun > 0.5)
    assert time.monotonic() - begun < 2.5 * max(1.0, os.getloadavg()[0] / (os.cpu_count() or 1))
    rubbish = pool.map([task(0.75), task(0.3)])
    assert isinstance(rubbish[1], Scores) and not isinstance(rubbish[0], Scores)


def test_the_front_is_that_of_one_process_whoever_dies() -> None:
    toy, slow = Toy(bias=0.05), Toy(bias=0.05, delay_s=0.002)
    whole = told(run(toy, new(toy, 200)))
    with RayPool(work, slow, 2) as pool:
        over, kills, chance = threading.Event(), [0], np.random.default_rng(3)

        def kill() -> None:
            while not over.wait(0.5):
                pids = [p for name in ("ray::IDLE", "ray::_noted") for p in children(os.getpid(), name)]
                if pids and kills[0] < 3:
                    os.kill(pids[int(chance.integers(len(pids)))], signal.SIGKILL)
                    kills[0] += 1

        killer = threading.Thread(target=kill)
        killer.start()
        try:
            outcome = run(slow, new(slow, 200), pool)
        finally:
            over.set()
            killer.join()
    assert told(outcome) == whole and outcome.aside == []
    assert kills[0] >= 1
