"""The page: an engineer's view of jobs, fronts and candidates in a browser; static files and the data behind them."""

from pathlib import Path
from typing import Any

STATIC = Path(__file__).parent / "static"
POLICY = (
    "default-src 'none'; script-src 'self'; style-src 'self'; font-src 'self'; connect-src 'self'; "
    "img-src 'self' blob:; base-uri 'none'; form-action 'self'; frame-ancestors 'none'"
)
"""No script, style, picture or request from anywhere but the service itself, and nothing inline."""


def mount(app: Any, jobs: Any) -> None:
    """Adds the page to the service's application. jobs: the service object."""
    from synth.service.page.routes import add

    add(app, jobs)
