"""The HTTP interface to what a job found: front, records, pictures, seed packages, comparisons."""

from pathlib import Path as FilePath
from typing import Annotated, Any, Literal

from fastapi import APIRouter, Path, Query, Response
from fastapi.responses import FileResponse

from synth.service.api import CANDIDATE_ID, JobId, TheJobs, needs
from synth.service.errors import NotFound
from synth.service.shapes import FrontAnswer

files = APIRouter(prefix="/api/v1", tags=["results"], dependencies=[needs("read")])
CandidateId = Annotated[str, Path(pattern=CANDIDATE_ID, description="id of a candidate of the job's front")]


def _file(kind: str, schema: dict[str, Any] | None = None) -> dict[int | str, dict[str, Any]]:
    return {200: {"content": {kind: {"schema": schema or {"type": "string"}}}, "description": "the file"}}


_BINARY = {"type": "string", "format": "binary"}


def _sent(path: FilePath, kind: str, name: str, inline: bool = True) -> Response:
    where = "inline" if inline else "attachment"
    return FileResponse(path, media_type=kind, filename=name, content_disposition_type=where)


def _of_run(jobs: TheJobs, id: str, name: str, kind: str) -> Response:
    path = jobs.folder(id) / name
    if not path.is_file():
        raise NotFound(f"job {id} has no {name}")
    return _sent(path, kind, f"{id}-{name}")


@files.get("/jobs/{id}/problem.toml", response_class=Response, responses=_file("application/toml"))
def problem(id: JobId, jobs: TheJobs) -> Response:
    """The problem as it was accepted."""
    return Response(jobs.problem(id), media_type="application/toml")


@files.get("/jobs/{id}/front")
def front(id: JobId, jobs: TheJobs) -> FrontAnswer:
    """The front: objectives, envelopes with hypervolume and families, a row a candidate."""
    return FrontAnswer(**jobs.front(id))


@files.get("/jobs/{id}/front.csv", response_class=Response, responses=_file("text/csv"))
def front_csv(id: JobId, jobs: TheJobs) -> Response:
    """The front as `stowfront run` writes it, byte for byte."""
    return _of_run(jobs, id, "front.csv", "text/csv")


@files.get("/jobs/{id}/history.csv", response_class=Response, responses=_file("text/csv"))
def history(id: JobId, jobs: TheJobs) -> Response:
    """Hypervolume against evaluations."""
    return _of_run(jobs, id, "history.csv", "text/csv")


@files.get("/jobs/{id}/run.json", response_class=Response, responses=_file("application/json", {"type": "object"}))
def run(id: JobId, jobs: TheJobs) -> Response:
    """run.json of the run folder."""
    return _of_run(jobs, id, "run.json", "application/json")


@files.get("/jobs/{id}/front.svg", response_class=Response, responses=_file("image/svg+xml"))
def front_svg(id: JobId, jobs: TheJobs) -> Response:
    """The front as a picture."""
    return _of_run(jobs, id, "front.svg", "image/svg+xml")


@files.get(
    "/jobs/{id}/candidates/{cid}",
    response_class=Response,
    responses=_file("application/json", {"type": "object"}),
)
def candidate(id: JobId, cid: CandidateId, jobs: TheJobs) -> Response:
    """The record of a candidate: all that somebody needs to check it without this program."""
    return _sent(jobs.candidate(id, cid), "application/json", f"{cid}.json")


@files.get("/jobs/{id}/candidates/{cid}/review.md", response_class=Response, responses=_file("text/markdown"))
def review(id: JobId, cid: CandidateId, jobs: TheJobs) -> Response:
    """The review sheet of a candidate."""
    return _sent(jobs.review(id, cid), "text/markdown", f"{cid}.review.md")


@files.get("/jobs/{id}/candidates/{cid}/{view}.svg", response_class=Response, responses=_file("image/svg+xml"))
def picture(id: JobId, cid: CandidateId, view: Literal["deployed", "stowed", "motion"], jobs: TheJobs) -> Response:
    """A picture of a candidate: its deployed plan, stowed in its envelope, or six steps of the motion."""
    return _sent(jobs.picture(id, cid, view, "svg"), "image/svg+xml", f"{cid}-{view}.svg")


@files.get("/jobs/{id}/candidates/{cid}/seed.zip", response_class=Response, responses=_file("application/zip", _BINARY))
def seed(id: JobId, cid: CandidateId, jobs: TheJobs) -> Response:
    """The package that detailed design starts from."""
    return _sent(jobs.seed_zip(id, cid), "application/zip", f"seed-{cid}.zip", inline=False)


@files.get("/compare")
def compare(
    jobs: TheJobs,
    job: Annotated[list[Annotated[str, Query(pattern=r"^[a-z2-9]{16}$")]], Query(min_length=1, max_length=24)],
) -> dict[str, Any]:
    """Fronts of several jobs over each other: exchange rates, who wins where."""
    return jobs.compare(list(dict.fromkeys(job)))
