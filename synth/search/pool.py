"""Where tasks are worked: the protocol, and the pool that works them in this process."""

import contextlib
import ctypes
import importlib
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from types import TracebackType
from typing import Any, Protocol, Self

from threadpoolctl import threadpool_limits  # type: ignore[import-untyped]

from synth.search.types import Failed, Result, Scores, Task

Work = Callable[[Any, Task], Scores]
"""The pure function that workers run: work(problem, task). Pickled by reference."""


class Interrupted(Exception):  # noqa: N818  (not an error: somebody asked to stop)
    """Raised out of Pool.map when the caller asked to stop."""


@dataclass(frozen=True)
class PoolState:
    """What a pool tells about itself for a progress display. in_flight: tasks (or chunks of them) under way."""

    workers: int
    retries: int
    failed: int
    note: str = ""
    in_flight: int = 0


class Pool(Protocol):
    """Works tasks; the answers come in the order of the tasks and depend on nothing but them."""

    def map(self, tasks: Sequence[Task], stop: Callable[[], bool] | None = None) -> list[Result]:
        """One answer a task, in order. A task that fails again and again is answered by Failed.

        Raises Interrupted soon after stop() turns true.
        """

    def state(self) -> PoolState: ...

    def close(self) -> None: ...


def one_thread() -> Any:
    """Limits the linear algebra libraries of this process to one thread, and returns what undoes it.

    Threaded reductions may round otherwise, and the same front must come from any number of workers.
    """
    importlib.import_module("scipy.linalg")  # both libraries must be loaded before they can be limited
    return threadpool_limits(limits=1)


def keep_memory() -> None:
    """Lets the GNU C library keep freed memory of this process for the next arrays; another library is left alone.

    The arrays of a batch are freed at once and asked for again. Given back to the system in between, each is paid for
    in page faults: some 5 to 10 % of the time of an evaluation.
    """
    with contextlib.suppress(OSError, AttributeError):
        library = ctypes.CDLL(None)
        for option, size in ((M_MMAP_THRESHOLD, 32 << 20), (M_TRIM_THRESHOLD, 1 << 30)):
            library.mallopt(option, size)


M_TRIM_THRESHOLD, M_MMAP_THRESHOLD = -1, -3
"""Numbers of the options in malloc.h; 32 MiB is the most that the second takes."""


def told(error: BaseException) -> str:
    """An exception in one line."""
    text = str(error).strip().splitlines()
    return f"{type(error).__name__}: {text[0]}" if text else type(error).__name__


class InProcess:
    """Works every task in this process, one after the other."""

    def __init__(self, work: Work, problem: Any) -> None:
        self._work, self._problem = work, problem
        self._limits = one_thread()
        keep_memory()
        self._failed = 0

    def map(self, tasks: Sequence[Task], stop: Callable[[], bool] | None = None) -> list[Result]:
        answers: list[Result] = []
        for task in tasks:
            if stop is not None and stop():
                raise Interrupted
            try:
                answers.append(self._work(self._problem, task))
            except Exception as error:
                self._failed += 1
                answers.append(Failed(told(error)))
        return answers

    def state(self) -> PoolState:
        return PoolState(workers=0, retries=0, failed=self._failed)

    def close(self) -> None:
        self._limits.restore_original_limits()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: type[BaseException] | BaseException | TracebackType | None) -> None:
        self.close()
