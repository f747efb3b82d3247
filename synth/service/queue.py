"""The durable queue: DBOS keeps what waits and what runs, and starts anew what a killed service left.

A workflow's body may be run again from its start after a kill: it must be idempotent, and is, since the run folder's
own checkpoint and lock decide what is left to do.
"""

import logging
from collections.abc import Callable, Sequence
from pathlib import Path

from dbos import DBOS, SetWorkflowID

from synth.service.store import Job

NAME = "jobs"
POLL_S = 0.5


class Paused(BaseException):
    """Raised through a workflow that the service leaves unfinished because it stops: the queue starts it anew at the
    next start. No Exception, as those end a workflow."""


class Queue:
    """work(job id, attempt) is called in a thread, for `running` jobs at a time, in the order in which they came."""

    def __init__(self, database: str | None, data: Path, work: Callable[[str, int], None], running: int) -> None:
        for name in ("dbos", "sqlalchemy"):
            logging.getLogger(name).setLevel(logging.ERROR)
        DBOS(
            config={
                "name": "stowfront",
                "system_database_url": database or f"sqlite:///{(data / 'queue.sqlite').absolute()}",
                "application_version": "1",
                "executor_id": "service",
                "log_level": "ERROR",
                "console_log_level": "ERROR",
                "max_executor_threads": running + 8,
            }
        )

        @DBOS.workflow(name="job", max_recovery_attempts=None)
        def job(id: str, attempt: int) -> None:
            work(id, attempt)

        self._job, self._running = job, running

    def start(self) -> None:
        """Takes up what waits and what was left unfinished."""
        DBOS.launch()
        DBOS.register_queue(
            NAME, worker_concurrency=self._running, polling_interval_sec=POLL_S, on_conflict="always_update"
        )

    def put(self, job: Job) -> None:
        """Queues an attempt at a job; nothing where that attempt is queued already."""
        with SetWorkflowID(f"{job.id}-{job.attempt}"):
            DBOS.enqueue_workflow(NAME, self._job, job.id, job.attempt)

    def known(self, jobs: Sequence[Job]) -> dict[str, bool]:
        """Of attempts at these jobs: job id -> whether the queue still has to work it; unknown ones are left out."""
        ids = {f"{j.id}-{j.attempt}": j.id for j in jobs}
        told = DBOS.list_workflows(workflow_ids=list(ids), load_input=False, load_output=False) if ids else []
        return {ids[w.workflow_id]: w.status in ("PENDING", "ENQUEUED", "DELAYED") for w in told}

    def forget(self, job: Job) -> None:
        """Removes all that is known of a job that is over."""
        told = DBOS.list_workflows(workflow_id_prefix=f"{job.id}-", load_input=False, load_output=False)
        for workflow in told:
            DBOS.delete_workflow(workflow.workflow_id)

    def stop(self) -> None:
        """Ends the queue's threads; what is unfinished stays so."""
        DBOS.destroy(destroy_registry=True)
