"""The command: thin wrappers that read arguments, call the application, print, and set the exit code.

Heavy modules are imported inside the commands, so that --help answers at once.
"""

import json
import re
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Annotated, Any

import typer

from synth import cli_service

app = typer.Typer(
    name="stowfront",
    help="Ways to fold a large flat aperture into a small stowed envelope: search, verify, compare.",
    add_completion=False,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)

File = Annotated[Path, typer.Argument(help="problem file (TOML)", metavar="FILE")]
Folder = Annotated[Path, typer.Argument(help="run folder", metavar="DIR")]
Ray = Annotated[
    str | None,
    typer.Option(
        metavar="[ADDRESS]",
        help="work on Ray: the cluster at HOST:PORT, or a private one (without a value: RAY_ADDRESS, else private)",
    ),
]
Json = Annotated[bool, typer.Option("--json", help="print one JSON document and nothing else")]

DONE, FAILED, WRONG_INPUT, NOTHING_FEASIBLE, INTERRUPTED = 0, 1, 2, 3, 130


def say(text: str) -> None:
    """One line to the person, on standard error."""
    print(text, file=sys.stderr, flush=True)


def _version(asked: bool) -> None:
    if asked:
        from importlib.metadata import PackageNotFoundError, version

        try:
            print(f"stowfront {version('stowfront')}")
        except PackageNotFoundError:
            print("stowfront, from source")
        raise typer.Exit(DONE)


@app.callback()
def _top(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Show the version and exit.")
    ] = False,
) -> None:
    """Ways to fold a large flat aperture into a small stowed envelope: search, verify, compare."""


def answer(as_json: bool, document: Any, text: str | Callable[[], str]) -> None:
    """The result of a command on standard output: a JSON document, or text."""
    if as_json:
        print(json.dumps(document, indent=1, allow_nan=False))
    else:
        print(text() if callable(text) else text)


@app.command()
def new(file: File) -> None:
    """Write a commented problem file to start from."""
    from synth.app import write_template

    write_template(file)
    say(f"Wrote {file}. Edit it, then: stowfront check {file}")


@app.command()
def catalogue(
    kind: Annotated[str, typer.Argument(help="families, materials, envelopes, hinges, latches or all")] = "all",
    problem: Annotated[Path | None, typer.Option(help="with the entries that this problem file brings, marked")] = None,
    json_: Json = False,
) -> None:
    """Show what may be chosen, each value with its source."""
    from synth.app import catalogue_of

    document, text = catalogue_of(kind, problem)
    answer(json_, document, text)


@app.command()
def check(file: File, json_: Json = False) -> None:
    """Read a problem, print what was understood and the bounds that hold before any search."""
    from synth.app import check_problem

    report = check_problem(file)
    answer(json_, report.document(), report.text)
    if report.impossible:
        raise typer.Exit(NOTHING_FEASIBLE)


@app.command()
def run(
    file: File,
    out: Annotated[Path | None, typer.Option(help="run folder (default: a new one under results/)")] = None,
    evaluations: Annotated[
        int | None, typer.Option(min=1, help="candidates for each envelope (default: the file's)")
    ] = None,
    seed: Annotated[int | None, typer.Option(min=0, help="seed of the search (default: the file's)")] = None,
    workers: Annotated[
        int | None, typer.Option(min=0, help="worker processes; 0: in this process (default: one a core)")
    ] = None,
    sweep: Annotated[
        list[str] | None,
        typer.Option(help="one or two: FIELD=FIRST:LAST:COUNT, such as envelope.size[2]=100mm:300mm:9"),
    ] = None,
    ray: Ray = None,
    json_: Json = False,
) -> None:
    """Search, verify, and write a run folder; with --sweep over values of a limit, each using what the last found."""
    from synth.app import run_problem, sweep_problem

    if sweep:
        _finish(sweep_problem(file, sweep, out, evaluations, seed, workers, ray), json_)
    else:
        _finish(run_problem(file, out, evaluations, seed, workers, ray), json_)


@app.command()
def resume(
    folder: Folder,
    workers: Annotated[int | None, typer.Option(min=0, help="worker processes (default: one a core)")] = None,
    ray: Ray = None,
    json_: Json = False,
) -> None:
    """Go on with a run that was stopped or killed."""
    from synth.app import SWEEP, resume_run, resume_sweep

    if (folder / SWEEP).exists():
        _finish(resume_sweep(folder, workers, ray), json_)
    else:
        _finish(resume_run(folder, workers, ray), json_)


def _finish(summary: Any, as_json: bool) -> None:
    answer(as_json, summary.document(), summary.text)
    if summary.interrupted:
        raise typer.Exit(INTERRUPTED)
    if not summary.any_feasible:
        raise typer.Exit(NOTHING_FEASIBLE)


@app.command()
def worker(
    join: Annotated[str | None, typer.Option(metavar="HOST:PORT", help="join the cluster whose head is there")] = None,
    head: Annotated[str | None, typer.Option(metavar="HOST:PORT", help="start the head of a new cluster there")] = None,
    cpus: Annotated[
        int | None, typer.Option(min=0, help="tasks worked at once (default: one a core; of a head: none)")
    ] = None,
) -> None:
    """Make this machine a worker of a cluster, or its head, until Ctrl-C (workers/README.md has the recipe)."""
    from synth.app.joining import head_cluster, join_cluster
    from synth.core.errors import InputError

    if (join is None) == (head is None):
        raise InputError("worker: give either --join HOST:PORT or --head HOST:PORT")
    if join is not None:
        join_cluster(join, cpus)
    elif head is not None:
        head_cluster(head, cpus or 0)


def with_ray_value(arguments: list[str]) -> list[str]:
    """Arguments with "auto" put after a --ray that no address follows."""
    out: list[str] = []
    for k, word in enumerate(arguments):
        out.append(word)
        follows = arguments[k + 1] if k + 1 < len(arguments) else ""
        if word == "--ray" and follows not in ("local", "auto") and not re.fullmatch(r"[^/\s-][^/\s]*:\d+", follows):
            out.append("auto")
    return out


@app.command("try")
def try_(
    file: File,
    family: Annotated[str, typer.Option(help="family of the candidate")],
    set_: Annotated[list[str] | None, typer.Option("--set", help="NAME=VALUE, as often as needed")] = None,
    envelope: Annotated[str | None, typer.Option(help="envelope to judge it in (default: the first)")] = None,
    out: Annotated[Path | None, typer.Option(help="run folder (default: a new one under results/)")] = None,
    json_: Json = False,
) -> None:
    """Evaluate and verify one candidate given by hand, as a run folder with one row."""
    from synth.app import try_candidate

    _finish(try_candidate(file, family, set_ or [], envelope, out), json_)


@app.command()
def show(
    folder: Folder,
    candidate: Annotated[str | None, typer.Argument(help="candidate id")] = None,
    pictures: Annotated[Path | None, typer.Option(help="write pictures of the candidate into this folder")] = None,
    stopped: Annotated[
        str | None,
        typer.Option(
            metavar="STAGE[:SHARE]|all", help="what still moves if that stage stops there (share 0 to 1, 0.5)"
        ),
    ] = None,
    json_: Json = False,
) -> None:
    """Show the front of a run, or one candidate with its requirement table."""
    from synth.app import show_run
    from synth.app.stopping import stopped_stage
    from synth.core.errors import InputError

    document, text = show_run(folder, candidate, pictures)
    if stopped is not None:
        if candidate is None:
            raise InputError("show --stopped: name the candidate that it is asked of")
        document["stopped"], more = stopped_stage(folder, candidate, stopped)
        text += "\n\nPartial deployment\n" + more
    answer(json_, document, text)


@app.command()
def compare(
    folders: Annotated[list[Path], typer.Argument(help="run folders, or folders of sweeps", metavar="DIR...")],
    out: Annotated[Path | None, typer.Option(help="write a page, tables and JSON into this folder")] = None,
    json_: Json = False,
) -> None:
    """Compare fronts across envelopes, limits and runs: what more of one thing buys of the others."""
    from synth.app import compare_runs

    document, text = compare_runs(folders, out)
    answer(json_, document, text)


@app.command()
def seed(
    folder: Folder,
    candidate: Annotated[str | None, typer.Argument(help="candidate id (or use --top)")] = None,
    out: Annotated[Path | None, typer.Option(help="new folder to write (default: one under results/)")] = None,
    only: Annotated[str | None, typer.Option(help="formats, with commas, such as paper,step (default: all)")] = None,
    top: Annotated[int | None, typer.Option(help="packages of so many different candidates, compared")] = None,
    by: Annotated[str, typer.Option(help="knee, objective, metric, or weights such as mass=2,blur=1")] = "knee",
    envelope: Annotated[str | None, typer.Option(help="pick in this envelope only")] = None,
    set_: Annotated[
        list[str] | None,
        typer.Option("--set", help="NAME=VALUE, such as paper.size=letter or print.clearance='0.25 mm'"),
    ] = None,
    json_: Json = False,
) -> None:
    """Write the package that detailed design starts from: CAD, drawings, models, motion, network, tables."""
    from synth.app import seed as write_seed

    made = write_seed(folder, candidate, out, only, top, by, envelope, set_ or [])
    answer(json_, made.document(), made.text)


@app.command()
def recheck(folder: Folder, json_: Json = False) -> None:
    """Verify every candidate record of a run folder anew, from disk, with independent code."""
    from synth.app import recheck_run

    report = recheck_run(folder)
    answer(json_, report.document(), report.text)
    if not report.ok:
        raise typer.Exit(FAILED)


cli_service.add(app, answer)


def main() -> None:
    """Entry point: runs the command and turns errors into one message and an exit code."""
    from synth.core.errors import InputError, RunFolderError, StowfrontError

    try:
        app(with_ray_value(sys.argv[1:]), standalone_mode=True)
    except StowfrontError as fault:
        say(str(fault))
        sys.exit(WRONG_INPUT if isinstance(fault, InputError | RunFolderError) else FAILED)
    except KeyboardInterrupt:
        say("Interrupted.")
        sys.exit(INTERRUPTED)
    except BrokenPipeError:
        sys.exit(FAILED)
    except Exception as fault:
        if "--debug" in sys.argv:
            raise
        say(f"stowfront failed: {type(fault).__name__}: {fault}")
        sys.exit(FAILED)


if __name__ == "__main__":
    main()
