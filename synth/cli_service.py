"""Commands of the service: serve it, make its tokens, and talk to one that runs."""

from collections.abc import Callable
from pathlib import Path
from typing import Annotated

import typer

Data = Annotated[Path, typer.Option(help="folder that holds everything but a Postgres database", metavar="DIR")]
DATA = Path("results/service")


def serve(
    host: Annotated[str, typer.Option(help="address to listen on; another than loopback needs a token")] = "127.0.0.1",
    port: Annotated[int, typer.Option(min=0, max=65535)] = 8750,
    data: Data = DATA,
    database: Annotated[
        str | None,
        typer.Option(envvar="STOWFRONT_DATABASE", help="postgresql://... (default: SQLite files in --data)"),
    ] = None,
    allow_host: Annotated[list[str] | None, typer.Option(help="name that a proxy is addressed by")] = None,
    running: Annotated[int, typer.Option(min=1, max=64, help="jobs worked at a time")] = 1,
    workers: Annotated[int | None, typer.Option(min=0, help="processes of each job (default: one a core)")] = None,
    ray: Annotated[str | None, typer.Option(help="HOST:PORT of a Ray cluster, or local", metavar="ADDRESS")] = None,
    max_body: Annotated[int | None, typer.Option(min=1024, help="bytes of a request (default 1048576)")] = None,
    max_evaluations: Annotated[int | None, typer.Option(min=1, help="of a job, per envelope (default 200000)")] = None,
    max_queued: Annotated[int | None, typer.Option(min=1, help="jobs waiting or running (default 1000)")] = None,
    rate: Annotated[float | None, typer.Option(min=0.1, help="requests a second from one caller (default 50)")] = None,
    burst: Annotated[int | None, typer.Option(min=1, help="requests at once from one caller (default 200)")] = None,
    page: Annotated[bool, typer.Option(help="serve the page too")] = True,
) -> None:
    """Run the job service: queue, HTTP interface and page, on this machine alone unless told otherwise."""
    from synth.app.serving import serve as run

    settings = {"data": data, "host": host, "port": port, "database": database, "hosts": tuple(allow_host or ())}
    settings |= {"running": running, "workers": workers, "ray": ray, "page": page}
    limits = {"body": max_body, "evaluations": max_evaluations, "queued": max_queued, "rate": rate, "burst": burst}
    run(settings, limits)


def add(app: typer.Typer, answer: Callable[..., None]) -> None:
    """Adds the commands; answer(as_json, document, text) prints a result."""
    app.command()(serve)
    _ = answer
