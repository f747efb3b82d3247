"""Local worker processes behind the pool protocol. They may die, hang or answer rubbish; the tasks' answers stand.

Workers are started as fresh interpreters (not forked and not through multiprocessing's start methods), so that they
neither share state with the driver nor need the caller's main module to be importable.
"""

import contextlib
import logging
import os
import signal
import socket
import subprocess
import sys
import time
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from multiprocessing.connection import Connection, wait
from types import TracebackType
from typing import Any, Self

from synth.core.errors import StowfrontError
from synth.search.pool import InProcess, Interrupted, Pool, PoolState, Work, told
from synth.search.types import Failed, Result, Task
from synth.search.worker import READY

log = logging.getLogger("stowfront.pool")
POLL_S = 0.1
KILLED = 4
"""A task may lose so many times as many workers where a signal from outside (SIGKILL: people, the kernel short of
memory) ended them: that is seldom the candidate's doing."""
STARTS = 4
KILLED_STARTS = 40
"""Starts in a row that may fail before the pool gives up; more of them where a signal ended the worker from outside."""
START_DEADLINE_S = 120.0


class PoolFailed(StowfrontError):  # noqa: N818  (told to people as a sentence)
    """Worker processes cannot be started."""


@dataclass(eq=False)
class _Worker:
    name: int
    process: subprocess.Popen[bytes]
    socket: "Connection[Any, Any]"
    since: float
    ready: bool = False
    lost: bool = False
    task: int | None = None


class LocalProcesses:
    """`workers` processes, each working one task at a time with one linear-algebra thread.

    A task whose worker dies or gives no answer within deadline_s is given to another one, `attempts` times in all
    (KILLED times as often where the worker was killed), then answered by Failed. Costly tasks are sent first; the order
    of the answers is that of the tasks.
    Raises PoolFailed (from map) where workers cannot be started, ValueError where the work function has no module.
    """

    def __init__(self, work: Work, problem: Any, workers: int, *, deadline_s: float = 900.0, attempts: int = 3) -> None:
        if getattr(work, "__module__", "") == "__main__":
            raise ValueError("workers find the work function by its module: it cannot live in the main script")
        self._cargo = (work, problem)
        self._count, self._deadline, self._attempts = max(workers, 1), deadline_s, attempts
        self._workers: list[_Worker] = []
        self._started = self._retries = self._failed = self._bad_starts = 0
        self._note = ""

    # -- protocol

    def map(self, tasks: Sequence[Task], stop: Callable[[], bool] | None = None) -> list[Result]:
        answers: list[Result | None] = [None] * len(tasks)
        order = sorted(range(len(tasks)), key=lambda k: (-tasks[k].cost, k))
        waiting, tried = deque(order), [0] * len(tasks)
        try:
            while any(a is None for a in answers):
                if stop is not None and stop():
                    raise Interrupted
                self._fill(min(self._count, sum(a is None for a in answers)))
                self._feed(tasks, waiting)
                self._collect(answers)
                self._bury(answers, waiting, tried)
        except BaseException:
            self.close()  # what is under way belongs to a round that is given up
            raise
        return [a for a in answers if a is not None]

    def state(self) -> PoolState:
        under_way = sum(w.task is not None for w in list(self._workers))
        return PoolState(self._count, self._retries, self._failed, self._note, under_way)

    def pids(self, busy: bool = False) -> list[int]:
        """Process ids of the workers; busy: only of those that work a task at the moment."""
        return [w.process.pid for w in list(self._workers) if w.task is not None or not busy]

    def close(self) -> None:
        for worker in self._workers:
            _end(worker)
        self._workers = []

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: type[BaseException] | BaseException | TracebackType | None) -> None:
        self.close()

    # -- steps of map

    def _fill(self, wanted: int) -> None:
        while len(self._workers) < wanted:
            self._workers.append(self._start())

    def _start(self) -> _Worker:
        here, there = socket.socketpair()
        code = f"from synth.search.worker import main; main({there.fileno()}, {os.getpid()})"
        path = os.pathsep.join(p or os.getcwd() for p in sys.path)
        threads = {k: "1" for k in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")}
        process = subprocess.Popen(
            [sys.executable, "-c", code],
            pass_fds=[there.fileno()],
            start_new_session=True,
            stdin=subprocess.DEVNULL,
            stdout=2,
            env={**os.environ, **threads, "PYTHONPATH": path},
        )
        there.close()
        self._started += 1
        worker = _Worker(self._started, process, Connection(here.detach()), time.monotonic())
        with contextlib.suppress(OSError):
            worker.socket.send(self._cargo)
        return worker

    def _feed(self, tasks: Sequence[Task], waiting: "deque[int]") -> None:
        for worker in self._workers:
            if waiting and worker.ready and worker.task is None:
                number = waiting.popleft()
                worker.task, worker.since = number, time.monotonic()
                with contextlib.suppress(OSError):  # a dead worker is found and buried below
                    worker.socket.send((number, tasks[number]))

    def _collect(self, answers: list[Result | None]) -> None:
        ready = wait([w.socket for w in self._workers], timeout=POLL_S)
        for worker in self._workers:
            if worker.socket not in ready:
                continue
            try:
                number, answer = worker.socket.recv()
            except Exception as error:  # the socket is closed, or what came cannot be read: the worker is of no use
                if not isinstance(error, EOFError | OSError):  # of those that died the exit code is told below
                    log.warning("worker %d: %s", worker.name, told(error))
                worker.lost = True
                continue
            if number == READY:
                worker.ready, self._bad_starts = True, 0
            elif number == worker.task:
                answers[number], worker.task = answer, None
                self._failed += isinstance(answer, Failed)

    def _bury(self, answers: list[Result | None], waiting: "deque[int]", tried: list[int]) -> None:
        """Takes dead and overdue workers out; their tasks go back to the head of the queue."""
        now = time.monotonic()
        for worker in list(self._workers):
            limit = self._deadline if worker.ready else START_DEADLINE_S
            overdue = (worker.task is not None or not worker.ready) and now - worker.since > limit
            if not overdue and not worker.lost:
                continue  # one that died is found lost once what it answered before is read
            _end(worker)
            code = worker.process.returncode
            why = f"no answer within {limit:.0f} s" if overdue else f"the worker ended with code {code}"
            self._workers.remove(worker)
            self._note = f"worker {worker.name}: {why}"
            log.warning("worker %d (pid %d): %s", worker.name, worker.process.pid, why)
            if not worker.ready:
                self._bad_starts += 1
                if self._bad_starts >= (KILLED_STARTS if code < 0 else STARTS):
                    raise PoolFailed(f"worker processes cannot be started: {why}")
            if worker.task is not None:
                killed = code == -signal.SIGKILL and not overdue
                self._again(worker.task, why, self._attempts * (KILLED if killed else 1), answers, waiting, tried)

    def _again(
        self, number: int, why: str, most: int, answers: list[Result | None], waiting: "deque[int]", tried: list[int]
    ) -> None:
        tried[number] += 1
        if tried[number] >= most:
            answers[number] = Failed(why)
            self._failed += 1
        else:
            self._retries += 1
            waiting.appendleft(number)


def _end(worker: _Worker) -> None:
    if worker.lost:  # it is on its way out by itself; its own exit code says more
        with contextlib.suppress(subprocess.TimeoutExpired):
            worker.process.wait(0.5)
    worker.process.kill()
    worker.process.wait()
    worker.socket.close()


def pool_of(workers: int, work: Work, problem: Any) -> Pool:
    """The pool for a number of workers: 0 works in this process."""
    return LocalProcesses(work, problem, workers) if workers > 0 else InProcess(work, problem)
