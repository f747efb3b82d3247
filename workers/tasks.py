"""The worker's side: a chunk of tasks in, answers out. Imported in every Ray worker process."""

import os
import pickle
import socket
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from synth.search.pool import Work, one_thread, told
from synth.search.types import Failed, Result, Task
from workers.versions import differences, mine


@dataclass(frozen=True, eq=False)
class Chunk:
    """Tasks that are sent together. run, number: name it; expects: versions of the driver; cargo: digest of the
    pickled (work, problem), which a process unpickles once."""

    run: str
    number: int
    cargo: str
    expects: dict[str, str]
    tasks: tuple[Task, ...]


@dataclass(frozen=True, eq=False)
class Answered:
    """Answers in the order of the chunk's tasks, by whom (pid@host), in how many seconds."""

    results: list[Result]
    who: str
    seconds: float


@dataclass(frozen=True)
class Refused:
    """A worker whose versions differ from the driver's, and what differs."""

    who: str
    differs: str


Reply = Answered | Refused

_unpacked: dict[str, tuple[Work, Any]] = {}


def name() -> str:
    """This process as people and logs name it."""
    return f"{os.getpid()}@{socket.gethostname()}"


def worked(chunk: Chunk, fetch: Callable[[], bytes], begin: Callable[[str], None]) -> Reply:
    """Works a chunk, one linear-algebra thread. An exception of the work function is an answer (Failed).

    fetch: brings the cargo, called where this process does not hold it yet. begin: told who works the chunk once
    everything is loaded, so that a deadline counts the work alone.
    """
    differs = differences(mine(), chunk.expects)
    if differs:
        return Refused(name(), differs)
    if chunk.cargo not in _unpacked:
        _unpacked.clear()  # a worker process outlives runs of one cluster; it serves one problem at a time
        _unpacked[chunk.cargo] = pickle.loads(fetch())
        one_thread()
    work, problem = _unpacked[chunk.cargo]
    begin(name())
    started, results = time.monotonic(), list[Result]()
    for task in chunk.tasks:
        try:
            results.append(work(problem, task))
        except Exception as error:
            results.append(Failed(told(error)))
    return Answered(results, name(), time.monotonic() - started)
