"""What the interface answers, as OpenAPI tells it."""

from datetime import UTC, datetime
from typing import Any, Literal

from pydantic import BaseModel, Field

from synth.service.store import Job

State = Literal["queued", "running", "done", "stopped", "failed"]


class JobAnswer(BaseModel):
    """One job. exit_code as of `stowfront run`, once it is over: 0 done, 1 failed, 2 wrong input, 3 nothing feasible,
    130 stopped. message: why it failed. Times in ISO 8601, UTC."""

    id: str
    state: State
    title: str
    owner: str
    evaluations: int
    seed: int
    objectives: list[str]
    problem_digest: str
    attempt: int
    stopping: bool = Field(description="it was asked to stop and has not yet")
    created: str
    started: str | None
    finished: str | None
    exit_code: int | None
    message: str

    @classmethod
    def of(cls, job: Job) -> "JobAnswer":
        """The answer for a row."""
        plain = {k: getattr(job, k) for k in ("id", "state", "title", "owner", "evaluations", "seed", "problem_digest",
                                              "attempt", "exit_code", "message")}  # fmt: skip
        times = {k: _iso(getattr(job, k)) for k in ("created", "started", "finished")}
        stopping = job.stop and not job.over
        return cls.model_validate({**plain, **times, "objectives": list(job.objectives), "stopping": stopping})


class JobsAnswer(BaseModel):
    """A page of jobs, the youngest first. next: value of `after` for the next page, null on the last one."""

    jobs: list[JobAnswer]
    next: str | None
    counts: dict[State, int] = Field(description="how many jobs are in each state, whatever the filter")


class JobDetail(JobAnswer):
    """One job with the latest figures of its search (null before there are any)."""

    progress: dict[str, Any] | None


class FrontRow(BaseModel):
    """One candidate. metrics: name with its unit to number, SI."""

    id: str
    envelope: str
    family: str
    verified: bool
    feasible: bool
    metrics: dict[str, float]


class FrontAnswer(BaseModel):
    """The front of a job: envelopes as in run.json, a row a candidate as in front.csv."""

    objectives: list[str]
    envelopes: list[dict[str, Any]]
    candidates: list[FrontRow]


class Health(BaseModel):
    """That the service answers."""

    status: Literal["ok"]
    version: str


def _iso(seconds: float | None) -> str | None:
    return None if seconds is None else datetime.fromtimestamp(seconds, UTC).isoformat(timespec="milliseconds")
