"""Work of seconds that a request asks for (bounds, comparisons, pictures, packages), done in a process beside the
service so that other answers need not wait."""

import contextlib
import multiprocessing
import os
import threading
import time
from collections.abc import Callable
from concurrent.futures import ProcessPoolExecutor
from concurrent.futures import TimeoutError as Late
from concurrent.futures.process import BrokenProcessPool
from typing import Any, TypeVar

from synth.service.errors import Unavailable

T = TypeVar("T")
DEADLINE_S = 300.0


def _begin(nice: int, parent: int) -> None:
    """Stands back behind the service, and ends when it is gone."""
    os.nice(nice)

    def watch() -> None:
        while os.getppid() == parent:
            time.sleep(0.5)
        os._exit(1)

    threading.Thread(target=watch, daemon=True).start()


class Aside:
    """One process, started when it is first needed and again if it dies. most: requests waiting or under way."""

    def __init__(self, most: int, nice: int) -> None:
        self._room, self._nice = threading.BoundedSemaphore(most), nice
        self._pool: ProcessPoolExecutor | None = None
        self._lock = threading.Lock()
        self._closed = False

    def do(self, work: Callable[..., T], *given: Any) -> T:
        """work(*given), a function of a module. Raises Unavailable where too much is waiting or it takes too long."""
        if not self._room.acquire(blocking=False):
            raise Unavailable("too many comparisons, pictures and checks are waiting", after_s=10)
        try:
            for last in (False, True):
                try:
                    return self._started().submit(work, *given).result(timeout=DEADLINE_S)
                except BrokenProcessPool:
                    self._end()
                    if last:
                        raise Unavailable("the process for this kind of work ended twice", after_s=30) from None
                except Late:
                    self._end()
                    raise Unavailable(f"not done within {DEADLINE_S:.0f} s", after_s=60) from None
            raise AssertionError
        finally:
            self._room.release()

    def _started(self) -> ProcessPoolExecutor:
        with self._lock:
            if self._closed:
                raise Unavailable("the service is stopping", after_s=10)
            if self._pool is None:
                context = multiprocessing.get_context("spawn")
                self._pool = ProcessPoolExecutor(1, context, _begin, (min(self._nice, 5), os.getpid()))
            return self._pool

    def close(self) -> None:
        """Ends the process for good."""
        self._closed = True
        self._end()

    def _end(self) -> None:
        with self._lock:
            pool, self._pool = self._pool, None
        if pool is not None:
            processes = list((pool._processes or {}).values())
            pool.shutdown(wait=False, cancel_futures=True)
            for process in processes:
                with contextlib.suppress(OSError):
                    process.kill()
