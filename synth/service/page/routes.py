"""What the page asks for: its own files, and fronts, candidates and comparisons in the shapes that its views need."""

from collections.abc import Callable
from pathlib import Path
from typing import Annotated, Any, TypeVar

from fastapi import APIRouter, FastAPI, Query, Request
from fastapi.responses import FileResponse, RedirectResponse
from fastapi.staticfiles import StaticFiles
from pydantic import BaseModel, Field

from synth.core.errors import InputError, RunFolderError, StowfrontError
from synth.service.errors import Conflict, NotFound, Refused, Wrong
from synth.service.guard import identity
from synth.service.jobs import Jobs
from synth.service.page.asking import asked, bounded, sweep
from synth.service.page.candidates import candidate_view
from synth.service.page.comparison import comparison_view
from synth.service.page.form import vocabulary_of_form
from synth.service.page.fronts import front_view
from synth.service.page.modes import kept_modes
from synth.service.page.reading import candidate, read_files
from synth.service.page.scene import scene
from synth.service.tokens import LOCAL

STATIC = Path(__file__).parent / "static"
T = TypeVar("T")


class Asked(BaseModel):
    """A problem's text, and changes to it: dotted field to the value as written."""

    text: str = Field(max_length=1 << 20)
    changes: dict[str, Any] = {}


class Sweep(BaseModel):
    """A problem's text, and the number that varies: FIELD=FIRST:LAST:COUNT."""

    text: str = Field(max_length=1 << 20)
    axis: str = Field(max_length=300)


def add(app: FastAPI, jobs: Jobs) -> None:
    """The page at /page, its files under /page/static and its data under /page/data."""

    @app.get("/", include_in_schema=False)
    def _start() -> RedirectResponse:
        return RedirectResponse("/page")

    @app.get("/page", include_in_schema=False)
    def _page() -> FileResponse:
        return FileResponse(STATIC / "index.html", headers={"Cache-Control": "no-cache"})

    app.mount("/page/static", StaticFiles(directory=STATIC), name="page files")
    routes = APIRouter(prefix="/page/data", include_in_schema=False)
    _of_jobs(routes, jobs)
    _of_problems(routes, jobs)
    app.include_router(routes)


def _of_jobs(routes: APIRouter, jobs: Jobs) -> None:
    def found(job: str) -> Path | None:
        jobs.get(job)
        try:
            return jobs.folder(job)
        except NotFound:
            return None

    @routes.get("/jobs/{job}/front")
    def front(job: str) -> dict[str, Any] | None:
        """Nothing where the job has no front yet."""
        path = found(job)
        return None if path is None else _told(lambda: front_view(read_files(path)))

    @routes.get("/jobs/{job}/history")
    def history(job: str) -> list[dict[str, Any]]:
        path = found(job)
        if path is None:
            return []
        rows = _told(lambda: read_files(path).history)
        return [{"envelope": e, "family": f, "evaluations": n, "hypervolume": v} for e, f, n, v in rows]

    @routes.get("/jobs/{job}/candidates/{cid}")
    def one(job: str, cid: str) -> dict[str, Any]:
        path = jobs.folder(job)
        return _told(lambda: candidate_view(candidate(path, cid)))

    @routes.get("/jobs/{job}/candidates/{cid}/scene")
    def solids(job: str, cid: str) -> dict[str, Any]:
        path = jobs.folder(job)
        return _told(lambda: scene(candidate(path, cid), read_files(path).problem))

    @routes.get("/jobs/{job}/candidates/{cid}/modes")
    def modes(job: str, cid: str) -> dict[str, Any]:
        file = jobs.candidate(job, cid)
        return _told(lambda: kept_modes(file, file.stat().st_mtime_ns))

    @routes.get("/compare")
    def compare(job: Annotated[list[str], Query(min_length=1, max_length=24)]) -> dict[str, Any]:
        ids = list(dict.fromkeys(job))
        titles = {id: jobs.get(id).title for id in ids}
        return _told(lambda: comparison_view(jobs.compare(ids), titles))


def _of_problems(routes: APIRouter, jobs: Jobs) -> None:
    @routes.get("/me")
    def me(request: Request) -> dict[str, Any]:
        """Who asks, so that the page knows whether there is anything to sign out of."""
        who = identity(request.scope)
        return {"local": who is None or who == LOCAL, "name": who.name if who else ""}

    @routes.get("/form")
    def form() -> dict[str, Any]:
        return vocabulary_of_form()

    @routes.post("/problem")
    def problem(given: Asked) -> dict[str, Any]:
        return _told(lambda: asked(given.text, given.changes, jobs))

    @routes.post("/bounds")
    def bounds(given: Asked) -> dict[str, Any]:
        return _told(lambda: bounded(given.text, jobs))

    @routes.post("/sweep")
    def swept(given: Sweep) -> list[dict[str, str]]:
        return _told(lambda: sweep(given.text, given.axis))


def _told(work: Callable[[], T]) -> T:
    """What the work returns; the program's own faults become refusals that say what is wrong."""
    try:
        return work()
    except Refused:
        raise
    except InputError as fault:
        if str(fault).startswith("candidate:"):
            raise NotFound(str(fault)) from None
        raise Wrong(str(fault), fault.faults) from None
    except (RunFolderError, StowfrontError) as fault:
        raise Conflict(f"the run folder cannot be read: {type(fault).__name__}") from fault
