"""The queue's side of the service: attempts at jobs worked to their end, and queue and table kept in step."""

import contextlib
import logging
import threading
import time
from queue import Empty, SimpleQueue

from synth.fronts.store import replace_file
from synth.service import events
from synth.service.children import Children, Ended, Place
from synth.service.engine import Engine
from synth.service.errors import NotFound
from synth.service.queue import Paused, Queue
from synth.service.settings import Settings
from synth.service.store import DONE, FAILED, STOPPED, Job, Store, patiently

log = logging.getLogger("stowfront.service")
PACE_S = 0.02
"""Between two attempts that are queued: whoever submits many at once is answered first, and jobs end more slowly."""
CHECK_S = 20.0
"""So often queue and table are compared; they differ only after a crash between two writes, or a restored backup."""


class Working:
    """Works what the table of jobs holds. The row of a job is the truth about it; the queue sees to it that every
    unfinished row is worked, one attempt at a time, also after a kill between any two steps."""

    def __init__(self, engine: Engine, settings: Settings, store: Store) -> None:
        self._settings, self._store = settings, store
        self._children = Children(engine, settings)
        self._queue = Queue(settings.database, settings.data, self._work, settings.running)
        self._fresh: SimpleQueue[Job | None] = SimpleQueue()
        self._keeper = threading.Thread(target=self._keep_queued, daemon=True, name="keeper")

    @property
    def closing(self) -> bool:
        """Whether the service is stopping."""
        return self._children.closing.is_set()

    def start(self) -> None:
        """Takes up what an earlier service left, and begins to work jobs."""
        self._queue.start()
        self._mend()
        self._keeper.start()

    def close(self) -> None:
        """Processes save their state and end; their jobs go on at the next start. Takes up to some seconds."""
        self._children.closing.set()
        self._fresh.put(None)
        if self._keeper.is_alive():
            self._keeper.join(10.0)
        self._children.wait()
        self._queue.stop()

    def under_way(self) -> dict[str, int]:
        """Job id to the id of its process."""
        return self._children.pids()

    def stop(self, id: str) -> None:
        """Asks the process of a job to stop."""
        self._children.stop(id)

    def place(self, id: str) -> Place:
        """Where a job's files lie."""
        return Place(self._settings.data, id)

    def forget(self, job: Job) -> None:
        """Removes what the queue knows of a job that is over."""
        with contextlib.suppress(Exception):  # what it still knows does no harm
            self._queue.forget(job)

    def _work(self, id: str, attempt: int) -> None:
        """Works one attempt at a job; called by the queue, again after a kill."""
        closing = self._children.closing.is_set
        try:
            self._attempt(id, attempt)
        except Exception as fault:
            if closing():
                raise Paused from fault
            log.exception("job %s", id)
            text = f"the service failed to work it: {type(fault).__name__}: {fault}"
            patiently(lambda: self._store.end(id, attempt, FAILED, 1, text), closing)
            self._told_later(id)

    def _attempt(self, id: str, attempt: int) -> None:
        closing = self._children.closing.is_set
        if closing():
            raise Paused
        place = self.place(id)
        if not patiently(lambda: self._store.begin(id, attempt), closing):
            patiently(lambda: self._store.end(id, attempt, STOPPED, 130), closing)
            self._told_later(id)
            return
        job = patiently(lambda: self._store.get(id), closing)
        source = patiently(lambda: self._store.source(id), closing)
        place.folder.mkdir(parents=True, exist_ok=True)
        replace_file(place.folder / "problem.toml", source)
        self.tell(job)
        ended = self._children.work(job, place, lambda: patiently(lambda: self._store.get(id), closing).stop)
        if ended.code not in (0, 3) and closing() and not ended.asked:
            raise Paused
        state, code, message = _verdict(ended)
        patiently(lambda: self._store.end(id, attempt, state, code, message), closing)
        self._told_later(id)

    def _told_later(self, id: str) -> None:
        with contextlib.suppress(NotFound):
            self.tell(patiently(lambda: self._store.get(id), self._children.closing.is_set))

    def tell(self, job: Job) -> None:
        """Adds how a job stands to its news."""
        place = self.place(job.id)
        with contextlib.suppress(OSError):
            place.folder.mkdir(parents=True, exist_ok=True)
        told = {"state": job.state, "exit_code": job.exit_code, "message": job.message, "over": job.over}
        events.append(place.events, "state", told)

    def put(self, job: Job) -> None:
        """Sees to it that an attempt is queued, soon and in order. The row stands already: nothing is lost by a kill
        before that, and whoever submitted need not wait for it."""
        self._fresh.put(job)

    def _keep_queued(self) -> None:
        """Queues what was submitted, and mends now and then."""
        mended = time.monotonic()
        while not self.closing:
            try:
                with contextlib.suppress(Empty):
                    job = self._fresh.get(timeout=1.0)
                    if job is not None:
                        self._queue.put(job)
                        self._children.closing.wait(PACE_S)
                if time.monotonic() - mended > CHECK_S and self._fresh.empty():
                    self._mend()
                    mended = time.monotonic()
            except Exception as fault:  # the rows stand: they are queued once the database is back
                log.warning("the queue cannot be reached now: %s", type(fault).__name__)
                mended = time.monotonic() - CHECK_S
                self._children.closing.wait(1.0)

    def _mend(self) -> None:
        """Queues every accepted job that the queue does not know, or takes for over while the table does not."""
        jobs = self._store.unfinished()
        known = self._queue.known(jobs)
        for job in jobs:
            if job.id not in known:
                self._queue.put(job)
            elif not known[job.id] and (renewed := self._store.renew(job.id, job.attempt)) is not None:
                self._queue.put(renewed)


def _verdict(ended: Ended) -> tuple[str, int, str]:
    """State, exit code and message of a job whose process ended."""
    if ended.code in (0, 3):
        return DONE, ended.code, ""
    if ended.asked:
        return STOPPED, 130, ""
    return FAILED, ended.code if ended.code in (1, 2) else 1, ended.said
