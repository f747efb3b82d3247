"""The page: an engineer's view of jobs, fronts and candidates in a browser; static files and the data behind them."""

from fastapi import FastAPI

from synth.service.jobs import Jobs
from synth.service.page.routes import add


def mount(app: FastAPI, jobs: Jobs) -> None:
    """Adds the page to the service's application, at /page; "/" leads there."""
    add(app, jobs)
