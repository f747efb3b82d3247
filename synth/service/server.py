"""The service put together and run: interface, page, gate, and the queue behind them."""

import contextlib
import fcntl
import logging
import signal
import sys
from collections.abc import AsyncIterator, Iterator
from pathlib import Path

import uvicorn
from fastapi import FastAPI
from fastapi.concurrency import run_in_threadpool

from synth.core.errors import InputError, RunFolderError, unwritable
from synth.service import login, openapi, problems
from synth.service.api import open_router, router
from synth.service.api_files import files
from synth.service.engine import Engine
from synth.service.guard import Guard, loopback
from synth.service.jobs import Jobs
from synth.service.settings import Settings
from synth.service.tokens import Tokens

log = logging.getLogger("stowfront.service")


def build(jobs: Jobs, tokens: Tokens) -> FastAPI:
    """The whole application around a service object; jobs are started with it and closed with it."""

    @contextlib.asynccontextmanager
    async def life(_: FastAPI) -> AsyncIterator[None]:
        await run_in_threadpool(jobs.start)
        yield
        await run_in_threadpool(jobs.close)

    settings = jobs.settings
    app = FastAPI(title="Stowfront", version=jobs.engine.version, lifespan=life, docs_url=None, redoc_url=None,
                  openapi_url=None)  # fmt: skip
    app.state.jobs, app.state.streams = jobs, 0
    routers = (open_router, router, files)
    for each in routers:
        app.include_router(each)
    script = openapi.install(app)
    problems.install(app)
    login.install(app, tokens)

    problems.install_unknown(app, [r for each in routers for r in each.routes])
    if settings.page:
        from synth.service import page

        page.mount(app, jobs)
    app.add_middleware(Guard, tokens=tokens, bound=settings.host, hosts=settings.hosts, limits=settings.limits,
                       script=script)  # fmt: skip
    return app


@contextlib.contextmanager
def _alone(data: Path) -> Iterator[None]:
    """One service a data folder: two would both work the same jobs."""
    try:
        data.mkdir(parents=True, exist_ok=True)
        file = open(data / "lock", "a+", encoding="utf-8")  # noqa: SIM115  (held as long as the lock)
    except OSError as fault:
        raise unwritable(data, fault, what="used as data folder") from None
    with file:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            raise RunFolderError(f"{data}: another service works in this folder") from None
        yield


def serve(engine: Engine, settings: Settings) -> None:
    """Runs the service until it is asked to stop. InputError where it may not start so."""
    tokens = Tokens(settings.data)
    reached = not loopback(settings.host) or settings.hosts
    if reached and not tokens.list():
        raise InputError(
            f"host: {settings.host} is reached from other machines, so a token is needed first: "
            f"stowfront token new NAME --scope admin --data {settings.data}"
        )
    logging.basicConfig(level=logging.INFO, stream=sys.stderr, format="%(asctime)s %(levelname)s %(name)s %(message)s")
    with _alone(settings.data):
        jobs = Jobs(engine, settings)
        config = uvicorn.Config(
            build(jobs, tokens),
            host=settings.host,
            port=settings.port,
            log_config=None,
            access_log=False,
            server_header=False,
            timeout_graceful_shutdown=5,
            timeout_keep_alive=30,
            http="h11",  # the one that limits the size of headers
            h11_max_incomplete_event_size=65536,
            ws_max_size=4 << 20,
        )
        log.info("data in %s, jobs at http://%s:%d", settings.data, settings.host, settings.port)
        for number in (signal.SIGINT, signal.SIGTERM):
            # the server stops cleanly and then raises the signal again: by then all is done
            signal.signal(number, lambda *_: None)
        uvicorn.Server(config).run()
        log.info("stopped; jobs under way go on at the next start")
