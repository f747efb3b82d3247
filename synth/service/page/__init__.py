"""The page: what a person sees in a browser."""

from fastapi import FastAPI
from fastapi.responses import HTMLResponse

from synth.service.jobs import Jobs


def mount(app: FastAPI, jobs: Jobs) -> None:
    """Puts the page at "/"."""

    @app.get("/", include_in_schema=False)
    def start() -> HTMLResponse:
        rows = "".join(f"<li>{j.id} {j.state}</li>" for j in jobs.list())
        return HTMLResponse(f"<!doctype html><html lang=en><title>Stowfront</title><h1>Jobs</h1><ul>{rows}</ul>")
