"""Commands of the service: serve it, make its tokens, and talk to one that runs."""

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Annotated, Any

import typer

DATA = Path("results/service")
Data = Annotated[Path, typer.Option(help="folder that holds everything but a Postgres database", metavar="DIR")]
Job = Annotated[str, typer.Argument(help="id of a job", metavar="JOB")]
Url = Annotated[str | None, typer.Option(help="the service (default: STOWFRONT_URL, or http://127.0.0.1:8750)")]
TokenFile = Annotated[Path | None, typer.Option(help="file that holds the token (default: STOWFRONT_TOKEN)")]
Json = Annotated[bool, typer.Option("--json", help="print one JSON document and nothing else")]
Answer = Callable[[bool, Any, Any], None]


def _say(text: str) -> None:
    print(text, file=sys.stderr, flush=True)


def serve(
    host: Annotated[str, typer.Option(help="address to listen on; another than loopback needs a token")] = "127.0.0.1",
    port: Annotated[int, typer.Option(min=1, max=65535)] = 8750,
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
    nice: Annotated[int, typer.Option(min=0, max=19, help="how far jobs stand back behind the answers")] = 10,
    page: Annotated[bool, typer.Option(help="serve the page too")] = True,
) -> None:
    """Run the job service: queue, HTTP interface and page, on this machine alone unless told otherwise."""
    from synth.app.serving import serve as run

    settings = {"data": data, "host": host, "port": port, "database": database, "hosts": tuple(allow_host or ())}
    settings |= {"running": running, "workers": workers, "ray": ray, "nice": nice, "page": page}
    limits = {"body": max_body, "evaluations": max_evaluations, "queued": max_queued, "rate": rate, "burst": burst}
    run(settings, limits)


def add(app: typer.Typer, answer: Answer) -> None:
    """Adds the commands; answer(as_json, document, text) prints a result."""
    app.command()(serve)
    _add_asking(app, answer)
    _add_waiting(app, answer)
    app.add_typer(_token(answer), name="token")


def _add_asking(app: typer.Typer, answer: Answer) -> None:
    @app.command()
    def submit(
        file: Annotated[Path, typer.Argument(help="problem file (TOML)", metavar="FILE")],
        evaluations: Annotated[int | None, typer.Option(min=1, help="candidates for each envelope")] = None,
        seed: Annotated[int | None, typer.Option(min=0, help="seed of the search")] = None,
        key: Annotated[str | None, typer.Option(help="the same key again: the same job, not a second one")] = None,
        url: Url = None,
        token_file: TokenFile = None,
        json_: Json = False,
    ) -> None:
        """Hand a problem to a service that runs."""
        from synth.app.remote import client, job_text

        job = client(url, token_file).submit(file, evaluations=evaluations, seed=seed, key=key)
        answer(json_, job, lambda: f"{job_text(job)}\nNext: stowfront watch {job['id']}")

    @app.command()
    def jobs(
        state: Annotated[list[str] | None, typer.Option(help="queued, running, done, stopped or failed")] = None,
        title: Annotated[str, typer.Option(help="titles that hold this text")] = "",
        most: Annotated[int, typer.Option(min=1, help="so many of the youngest")] = 50,
        url: Url = None,
        token_file: TokenFile = None,
        json_: Json = False,
    ) -> None:
        """List the jobs of a service, the youngest first."""
        from synth.app.remote import client, jobs_text

        found = list(client(url, token_file).jobs(tuple(state or ()), title, most=most))
        answer(json_, {"jobs": found}, lambda: jobs_text(found))


def _add_waiting(app: typer.Typer, answer: Answer) -> None:
    @app.command()
    def watch(job: Job, url: Url = None, token_file: TokenFile = None, json_: Json = False) -> None:
        """Tell the news of a job until it is over; the exit code is that of the job."""
        from synth.app.remote import client, job_text, watched

        found = watched(client(url, token_file), job, _say)
        answer(json_, found, lambda: job_text(found))
        raise typer.Exit(found["exit_code"])

    @app.command()
    def cancel(
        job: Job,
        wait: Annotated[bool, typer.Option(help="until it has stopped")] = True,
        url: Url = None,
        token_file: TokenFile = None,
        json_: Json = False,
    ) -> None:
        """Stop a job, with what it found so far."""
        from synth.app.remote import cancelled, client, job_text

        found = cancelled(client(url, token_file), job, wait)
        go_on = f"\nGo on with: stowfront requeue {job}" if found["state"] == "stopped" else ""
        answer(json_, found, lambda: f"{job_text(found)}{go_on}")

    @app.command()
    def requeue(job: Job, url: Url = None, token_file: TokenFile = None, json_: Json = False) -> None:
        """Queue a stopped or failed job of a service anew; it goes on from its last checkpoint, to the same front.

        (A run folder on this machine is gone on with by: stowfront resume DIR.)
        """
        from synth.app.remote import client, job_text

        found = client(url, token_file).resume(job)
        answer(json_, found, lambda: f"{job_text(found)}\nNext: stowfront watch {job}")

    @app.command()
    def fetch(
        job: Job,
        candidate: Annotated[str | None, typer.Option(help="its seed package instead of the run folder")] = None,
        out: Annotated[Path | None, typer.Option(help="folder to write, or zip file with --candidate")] = None,
        url: Url = None,
        token_file: TokenFile = None,
        json_: Json = False,
    ) -> None:
        """Write the run folder of a job here, or the seed package of one candidate."""
        from synth.app.remote import client, fetched

        answer(json_, *fetched(client(url, token_file), job, candidate, out))


def _token(answer: Answer) -> typer.Typer:
    token = typer.Typer(
        help="Make, list and revoke the tokens of a service (on its own machine).", no_args_is_help=True
    )

    @token.command("new")
    def new(
        name: Annotated[str, typer.Argument(help="who or what it is for")],
        scope: Annotated[str, typer.Option(help="read, submit or admin")] = "submit",
        data: Data = DATA,
        json_: Json = False,
    ) -> None:
        """Make a token and print it: it is shown this once. From the first one on every request needs one."""
        from synth.service.tokens import Tokens

        text = Tokens(data).new(name, scope)
        answer(json_, {"name": name, "scope": scope, "token": text}, text)

    @token.command("list")
    def list_(data: Data = DATA, json_: Json = False) -> None:
        """Show the tokens there are, not their texts."""
        from synth.service.tokens import Tokens

        found = [{"name": t.name, "scope": t.scope, "created": t.created} for t in Tokens(data).list()]
        answer(json_, {"tokens": found}, "\n".join(f"{t['name']}  {t['scope']}" for t in found) or "No tokens.")

    @token.command("revoke")
    def revoke(name: str, data: Data = DATA, json_: Json = False) -> None:
        """Take a token back: a running service refuses it from now on."""
        from synth.service.tokens import Tokens

        Tokens(data).revoke(name)
        answer(json_, {"revoked": name}, f"Revoked {name}.")

    return token
