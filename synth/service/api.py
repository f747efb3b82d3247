"""The HTTP interface under /api/v1: jobs accepted, listed, watched, cancelled, resumed, removed."""

from collections.abc import AsyncIterator
from typing import Annotated, Any

from fastapi import APIRouter, Depends, Header, Path, Query, Request, Response
from fastapi.concurrency import run_in_threadpool
from fastapi.sse import EventSourceResponse, ServerSentEvent

from synth.service.errors import Forbidden, Unauthenticated, Unavailable, WrongType
from synth.service.guard import identity
from synth.service.jobs import Jobs
from synth.service.metrics import exposition
from synth.service.shapes import Health, JobAnswer, JobDetail, JobsAnswer, State
from synth.service.tokens import Identity

JOB_ID = r"^[a-z2-9]{16}$"
CANDIDATE_ID = r"^[A-Za-z0-9_][A-Za-z0-9_.-]{0,99}$"
PRINTABLE = r"^[!-~]{1,200}$"
TITLE = r"^[^\x00-\x1f\x7f]*$"

JobId = Annotated[str, Path(pattern=JOB_ID, description="id of a job")]
PROBLEM_BODY = {
    "requestBody": {
        "required": True,
        "description": "a problem file (TOML), or JSON of the same fields",
        "content": {
            "application/toml": {"schema": {"type": "string", "minLength": 1}},
            "application/json": {"schema": {"type": "object"}},
        },
    }
}


def jobs_of(request: Request) -> Jobs:
    """The service object."""
    found: Jobs = request.app.state.jobs
    return found


def needs(scope: str) -> Any:
    """A dependency: who asks, whose token must reach so far."""

    def check(request: Request) -> Identity:
        who = identity(request.scope)
        if who is None:
            raise Unauthenticated("this service needs a token: Authorization: Bearer TOKEN")
        if not who.may(scope):
            raise Forbidden(f"the token '{who.name}' has the scope {who.scope}; this needs {scope}")
        return who

    return Depends(check)


TheJobs = Annotated[Jobs, Depends(jobs_of)]
Submitter = Annotated[Identity, needs("submit")]
open_router = APIRouter(prefix="/api/v1", tags=["service"])
router = APIRouter(prefix="/api/v1", tags=["jobs"], dependencies=[needs("read")])


@open_router.get("/health")
def health(jobs: TheJobs) -> Health:
    """Whether the service answers at all (no token needed)."""
    return Health(status="ok", version=jobs.engine.version)


@open_router.get("/ready")
def ready(jobs: TheJobs) -> Health:
    """Whether a job could be accepted now: 503 where the database is away (no token needed)."""
    jobs.ready()
    return Health(status="ok", version=jobs.engine.version)


@open_router.get("/metrics", dependencies=[needs("read")], response_class=Response, responses={
    200: {"content": {"text/plain": {"schema": {"type": "string"}}}, "description": "Prometheus text format 0.0.4"}
})  # fmt: skip
def metrics(jobs: TheJobs) -> Response:
    """Figures for monitoring."""
    return Response(exposition(jobs), media_type="text/plain; version=0.0.4; charset=utf-8")


@open_router.get("/catalogue", dependencies=[needs("read")])
def catalogue(jobs: TheJobs) -> dict[str, Any]:
    """Families, materials, envelopes and hinges that a problem may choose, each value with its source."""
    return jobs.catalogue()


def _is_json(request: Request) -> bool:
    kind = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if kind not in ("application/toml", "application/json", "text/toml"):
        raise WrongType(f"a problem is application/toml or application/json; given {kind or 'no content-type'}")
    return kind == "application/json"


@router.post("/validate", openapi_extra=PROBLEM_BODY)
async def validate(request: Request, jobs: TheJobs) -> dict[str, Any]:
    """What a problem is understood as, in SI, and the bounds that hold before any search. Queues nothing."""
    as_json = _is_json(request)
    return await run_in_threadpool(jobs.validate, await request.body(), as_json)


@router.post("/jobs", status_code=201, openapi_extra=PROBLEM_BODY)
async def submit(
    request: Request,
    response: Response,
    jobs: TheJobs,
    who: Submitter,
    evaluations: Annotated[int | None, Query(ge=1, le=2**31 - 1, description="instead of the problem's")] = None,
    seed: Annotated[int | None, Query(ge=0, le=2**63 - 1, description="instead of the problem's")] = None,
    idempotency_key: Annotated[str | None, Header(pattern=PRINTABLE, description="the same key: the same job")] = None,
) -> JobAnswer:
    """Accepts a job. Once answered, it outlives any crash of the service."""
    as_json = _is_json(request)
    body = await request.body()

    def accept() -> JobAnswer:
        done = jobs.submit(
            body, json_body=as_json, evaluations=evaluations, seed=seed, key=idempotency_key, owner=who.name
        )
        return JobAnswer.of(done.job)

    answer = await run_in_threadpool(accept)
    response.headers["location"] = f"/api/v1/jobs/{answer.id}"
    return answer


@router.get("/jobs")
def list_jobs(
    jobs: TheJobs,
    state: Annotated[list[State] | None, Query(description="only these states")] = None,
    title: Annotated[str, Query(max_length=200, pattern=TITLE, description="titles that hold this text")] = "",
    owner: Annotated[str, Query(max_length=80, pattern=TITLE, description="jobs of this token's name")] = "",
    limit: Annotated[int, Query(ge=1, le=200)] = 50,
    after: Annotated[str | None, Query(pattern=JOB_ID, description="`next` of the page before")] = None,
) -> JobsAnswer:
    """Jobs, the youngest first, a page at a time."""
    found = jobs.list(state or (), title, owner, limit + 1, after)
    page = found[:limit]
    more = page[-1].id if len(found) > limit else None
    return JobsAnswer(jobs=[JobAnswer.of(j) for j in page], next=more, counts=jobs.counts())  # type: ignore[arg-type]


@router.get("/jobs/{id}")
def get_job(id: JobId, jobs: TheJobs) -> JobDetail:
    """One job, with the latest figures of its search."""
    return JobDetail(**JobAnswer.of(jobs.get(id)).model_dump(), progress=jobs.progress(id))


def _own(id: str, jobs: Jobs, who: Identity) -> None:
    owner = jobs.get(id).owner
    if not who.owns(owner):
        raise Forbidden(f"job {id} is of '{owner}'; changing it needs that token or the scope admin")


@router.post("/jobs/{id}/cancel")
def cancel(id: JobId, jobs: TheJobs, who: Submitter) -> JobAnswer:
    """Stops a job: a queued one at once, a running one within seconds, with what it found so far."""
    _own(id, jobs, who)
    return JobAnswer.of(jobs.cancel(id))


@router.post("/jobs/{id}/resume")
def resume(id: JobId, jobs: TheJobs, who: Submitter) -> JobAnswer:
    """Queues a stopped or failed job anew; it goes on from its last checkpoint, to the same front."""
    _own(id, jobs, who)
    return JobAnswer.of(jobs.resume(id))


@router.delete("/jobs/{id}", status_code=204)
def delete(id: JobId, jobs: TheJobs, who: Submitter) -> None:
    """Removes a job that is over, with all its files."""
    _own(id, jobs, who)
    jobs.delete(id)


async def _stream(id: JobId, jobs: TheJobs, request: Request) -> AsyncIterator[None]:
    """One of the streams that may be open at a time, of a job that exists; a fault here is still an answer."""
    await run_in_threadpool(jobs.get, id)
    state, most = request.app.state, jobs.settings.limits.streams
    if state.streams >= most:
        raise Unavailable(f"{most} event streams are open, which is the limit of this service", after_s=30)
    state.streams += 1
    try:
        yield
    finally:
        state.streams -= 1


@router.get("/jobs/{id}/events", response_class=EventSourceResponse, dependencies=[Depends(_stream)])
async def watch(
    id: JobId,
    jobs: TheJobs,
    last_event_id: Annotated[str | None, Header(pattern=r"^[0-9]{1,15}$", description="go on after this event")] = None,
) -> AsyncIterator[ServerSentEvent]:
    """News of a job as they come: `state`, `process` and `progress` events. The stream ends when the job is over and
    all is told; one that breaks off goes on where it was with Last-Event-ID."""
    async for event in jobs.events(id, int(last_event_id or 0)):
        yield ServerSentEvent(data=event.data, event=event.kind, id=str(event.id))
