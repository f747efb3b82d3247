"""Ray behind the search's pool protocol: plain tasks in chunks, tried again by the driver, answers in order.

The policy is here and knows nothing of Ray; workers/link.py speaks to it.
"""

import logging
import secrets
import time
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from types import TracebackType
from typing import Any, Protocol, Self

from synth.search.pool import Interrupted, PoolState, Work
from synth.search.processes import PoolFailed
from synth.search.types import Failed, Result, Task
from workers.link import Handle, Link, Lost
from workers.tasks import Answered, Chunk, Refused, Reply
from workers.versions import mine

log = logging.getLogger("stowfront.pool")
POLL_S = 0.1
SLOTS_EVERY_S = 2.0
CHUNK_S = 0.2
"""Work that a chunk should hold: a chunk costs Ray about 5 ms of processor time, on whichever machine."""
MOVES = 50
"""Times that a task may lose its machine before it is blamed."""
FAULTS = 8
"""Chunks in a row that Ray may fail to run before the pool gives up."""


class Way(Protocol):
    """What the pool needs of workers.link.Link."""

    address: str
    cargo: str

    def slots(self) -> int | None: ...
    def send(self, chunk: Chunk) -> Handle: ...
    def ready(self, handles: Sequence[Handle], timeout_s: float) -> list[Handle]: ...
    def take(self, handle: Handle) -> Reply | Lost: ...
    def cancel(self, handle: Handle) -> None: ...
    def who(self, run: str, number: int) -> str | None: ...
    def forget(self, run: str) -> None: ...
    def alive(self) -> bool: ...
    def close(self) -> None: ...


@dataclass(eq=False)
class _Flight:
    """A chunk under way. begun: when somebody was first seen to work it."""

    number: int
    tasks: list[int]
    sent: float
    looked: float
    begun: float | None = None
    who: str | None = None
    overdue: bool = False


@dataclass(eq=False)
class _Round:
    """One call of map. alone: tasks that shared a chunk that was lost; they are sent one by one from then on."""

    tasks: Sequence[Task]
    answers: list[Result | None]
    waiting: deque[int]
    tried: list[int]
    moved: list[int]
    alone: set[int] = field(default_factory=set)
    open: int = 0


class RayPool:
    """A pool over Ray. address None: a private cluster of `workers` processes on this machine, ended by close().

    With an address: the cluster there, at most `workers` chunks at a time where that is given. A task whose worker
    dies or gives no answer within deadline_s of its start is tried `attempts` times, then answered by Failed; one
    whose machine goes away is sent again without blame. Waits while the cluster has no workers. Raises PoolFailed
    where the cluster cannot be reached, is lost, holds other versions, or cannot run the tasks; ValueError where the
    work function has no module.
    """

    def __init__(
        self,
        work: Work,
        problem: Any,
        workers: int | None = None,
        address: str | None = None,
        *,
        deadline_s: float = 900.0,
        attempts: int = 6,
        way: Way | None = None,
    ) -> None:
        if getattr(work, "__module__", "") == "__main__":
            raise ValueError("workers find the work function by its module: it cannot live in the main script")
        self._most = workers if address is not None or way is not None else max(workers or 1, 1)
        self._link: Way = way or Link(work, problem, address, self._most or 1)
        self._deadline, self._attempts = deadline_s, attempts
        self._run, self._number = secrets.token_hex(6), 0
        self._flying: dict[Handle, _Flight] = {}
        self._slots, self._slots_at = self._link.slots() or 0, time.monotonic()
        self._retries = self._failed = self._faults = 0
        self._pace: float | None = None
        self._note, self._told_empty = "", False

    # -- protocol

    def map(self, tasks: Sequence[Task], stop: Callable[[], bool] | None = None) -> list[Result]:
        order = sorted(range(len(tasks)), key=lambda k: (-tasks[k].cost, k))
        this = _Round(tasks, [None] * len(tasks), deque(order), [0] * len(tasks), [0] * len(tasks), open=len(tasks))
        try:
            while this.open:
                if stop is not None and stop():
                    raise Interrupted
                self._count_slots()
                self._feed(this)
                for handle in self._link.ready(list(self._flying), POLL_S):
                    self._take(this, handle, self._flying.pop(handle))
                self._look_after()
        except BaseException:
            self._drop()  # what is under way belongs to a round that is given up
            raise
        return [a for a in this.answers if a is not None]

    def state(self) -> PoolState:
        return PoolState(self._slots, self._retries, self._failed, self._note, len(self._flying))

    def close(self) -> None:
        self._drop()
        self._link.close()

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: type[BaseException] | BaseException | TracebackType | None) -> None:
        self.close()

    # -- steps of map

    def _count_slots(self) -> None:
        now = time.monotonic()
        if now - self._slots_at < SLOTS_EVERY_S:
            return
        slots, self._slots_at = self._link.slots(), now
        if slots is None:
            return
        if slots != self._slots:
            self._say(f"the cluster has {slots} workers now ({self._slots} before)")
        self._slots = slots
        if slots == 0 and not self._told_empty:
            self._say("the cluster has no workers: waiting for one to join (stowfront worker --join)")
        self._told_empty = slots == 0

    def _feed(self, this: _Round) -> None:
        # two chunks for each worker, so that none waits for its next one
        workers = self._slots if self._most is None else min(self._slots, self._most)
        room = 2 * workers
        while this.waiting and len(self._flying) < room:
            numbers = self._next(this, workers)
            self._number += 1
            chunk = Chunk(self._run, self._number, self._link.cargo, mine(), tuple(this.tasks[k] for k in numbers))
            now = time.monotonic()
            self._flying[self._link.send(chunk)] = _Flight(self._number, numbers, now, now)

    def _next(self, this: _Round, workers: int) -> list[int]:
        """The next tasks to send together: enough work for a chunk, yet no more than half a worker's share of what
        waits, so that all workers end at about the same time."""
        numbers = [this.waiting.popleft()]
        if self._pace is None or numbers[0] in this.alone:
            return numbers
        share = max(len(this.waiting) // (2 * workers), 1)
        work = self._pace * this.tasks[numbers[0]].cost
        while this.waiting and len(numbers) < share and work < CHUNK_S and this.waiting[0] not in this.alone:
            numbers.append(this.waiting.popleft())
            work += self._pace * this.tasks[numbers[-1]].cost
        return numbers

    def _take(self, this: _Round, handle: Handle, flight: _Flight) -> None:
        reply = self._link.take(handle)
        if isinstance(reply, Refused):
            raise PoolFailed(f"worker {reply.who} has other versions than this driver: {reply.differs}")
        if isinstance(reply, Lost):
            self._lost(this, flight, reply)
            return
        self._faults = 0
        results = reply.results if isinstance(reply, Answered) else []
        cost = sum(this.tasks[k].cost for k in flight.tasks)
        if len(results) == len(flight.tasks) and cost > 0.0:
            pace = reply.seconds / cost
            self._pace = pace if self._pace is None else 0.8 * self._pace + 0.2 * pace
        if len(results) != len(flight.tasks):
            results = [Failed("the worker answered with something else than answers")] * len(flight.tasks)
        for k, result in zip(flight.tasks, results, strict=True):
            self._failed += isinstance(result, Failed)
            self._answer(this, k, result)

    def _answer(self, this: _Round, number: int, result: Result) -> None:
        this.answers[number] = result
        this.open -= 1

    def _lost(self, this: _Round, flight: _Flight, lost: Lost) -> None:
        """Sends the tasks of a lost chunk again; one that was alone and had its worker die is blamed for it."""
        why = f"no answer within {self._deadline:.0f} s" if flight.overdue else lost.why
        who = flight.who or self._link.who(self._run, flight.number) or "unknown"
        self._say(f"worker {who}: {why}")
        self._faults += lost.kind == "fault"
        if self._faults >= FAULTS:
            raise PoolFailed(f"the cluster cannot run the tasks: {why}")
        alone = len(flight.tasks) == 1
        for k in flight.tasks:
            if not alone:
                this.alone.add(k)
            elif lost.kind == "node" and this.moved[k] < MOVES:
                this.moved[k] += 1
            else:
                this.tried[k] += 1
            if this.tried[k] >= self._attempts:
                self._failed += 1
                self._answer(this, k, Failed(why))
            else:
                self._retries += 1
                this.waiting.appendleft(k)

    def _look_after(self) -> None:
        """Cancels what is overdue, counted from when somebody began to work it; sees whether the cluster is there."""
        if not self._link.alive():
            raise PoolFailed(f"the connection to the cluster at {self._link.address} is lost")
        now = time.monotonic()
        for handle, flight in self._flying.items():
            if flight.begun is None and now - flight.looked >= min(self._deadline / 4.0, 5.0):
                flight.looked, flight.who = now, self._link.who(self._run, flight.number)
                # seen late, it began no later than now and no earlier than it was sent
                flight.begun = None if flight.who is None else now
            if flight.begun is not None and now - flight.begun >= self._deadline and not flight.overdue:
                flight.overdue = True
                self._link.cancel(handle)

    def _drop(self) -> None:
        for handle in self._flying:
            self._link.cancel(handle)
        self._flying.clear()
        self._link.forget(self._run)

    def _say(self, text: str) -> None:
        self._note = text
        log.warning("%s", text)
