"""What a local worker process runs: tasks in, answers out, until the driver goes away."""

import os
import signal
import threading
import time
from multiprocessing.connection import Connection
from typing import Any

READY = "ready"


def _watch_parent(parent: int) -> None:
    """Ends this process once its parent is gone: a worker must not compute for a driver that was killed."""
    while True:
        time.sleep(0.5)
        if os.getppid() != parent:
            os._exit(1)


def main(descriptor: int, parent: int) -> None:
    """Reads (work, problem) and then (number, task) pairs from the socket; answers (number, scores or Failed).

    An exception of the work function is an answer (Failed), not the worker's end.
    """
    from synth.search.pool import keep_memory, one_thread, told
    from synth.search.types import Failed, Result

    signal.signal(signal.SIGINT, signal.SIG_IGN)
    threading.Thread(target=_watch_parent, args=(parent,), daemon=True).start()
    driver: Connection[Any, Any] = Connection(descriptor)
    try:
        work, problem = driver.recv()
        one_thread()
        keep_memory()
        driver.send((READY, os.getpid()))
        while True:
            number, task = driver.recv()
            try:
                answer: Result = work(problem, task)
            except Exception as error:
                answer = Failed(told(error))
            driver.send((number, answer))
    except (EOFError, OSError):
        return
