"""The commands that talk to a service: one JSON document, exit codes of the contract, files as the service has them."""

import json
import subprocess
import sys
from collections.abc import Callable
from contextlib import redirect_stderr, redirect_stdout
from dataclasses import dataclass
from io import StringIO
from pathlib import Path
from typing import Any

import pytest

from synth.cli import main
from synth.service.tokens import Tokens
from tests.service.served import LONG, ROOT, SMALL, Service, environment


@dataclass(frozen=True)
class Ended:
    """How a command ended."""

    returncode: int
    stdout: str
    stderr: str


def told(service: Service, *words: str | Path, code: int = 0) -> Any:
    """What a command prints with --json."""
    done = command(service, *words, "--json")
    assert done.returncode == code, done.stderr
    return json.loads(done.stdout)


def command(service: Service, *words: str | Path) -> Ended:
    """A command of the program in this process, with the service's address."""
    code: Any = 0
    with pytest.MonkeyPatch.context() as patch, redirect_stdout(StringIO()) as out, redirect_stderr(StringIO()) as err:
        patch.setenv("STOWFRONT_URL", f"http://127.0.0.1:{service.port}")
        patch.setattr(sys, "argv", ["stowfront", *map(str, words)])
        try:
            main()
        except SystemExit as end:
            code = end.code or 0
    return Ended(code, out.getvalue(), err.getvalue())


def test_a_job_from_submit_to_fetch_by_commands(service: Service, tmp_path: Path) -> None:
    problem = tmp_path / "p.toml"
    problem.write_text(SMALL)
    job = told(service, "submit", problem, "--evaluations", "16", "--seed", "2", "--key", "abc")
    assert (job["evaluations"], job["seed"]) == (16, 2)
    assert told(service, "submit", problem, "--evaluations", "16", "--seed", "2", "--key", "abc")["id"] == job["id"]
    watched = command(service, "watch", job["id"])
    assert watched.returncode in (0, 3) and watched.returncode == service.client.job(job["id"])["exit_code"]
    assert "running" in watched.stderr and "done" in watched.stdout
    assert job["id"] in [j["id"] for j in told(service, "jobs", "--state", "done")["jobs"]]
    out = tmp_path / "out"
    made = told(service, "fetch", job["id"], "--out", out)
    assert set(made["files"]) >= {"front.csv", "run.json", "problem.toml", "history.csv", "front.svg"}
    assert (out / "front.csv").read_bytes() == (service.data / "runs" / job["id"] / "front.csv").read_bytes()
    assert command(service, "fetch", job["id"], "--out", out).returncode == 2
    one = next((out / "candidates").glob("*.json")).stem
    assert one in json.dumps(told(service, "show", out))
    package = told(service, "fetch", job["id"], "--candidate", one, "--out", tmp_path / "seed.zip")
    assert (tmp_path / "seed.zip").read_bytes()[:2] == b"PK" and package["bytes"] > 1000
    assert told(service, "recheck", out)["ok"]


def test_a_cancelled_job_ends_with_130_for_who_watches_it_and_is_queued_anew(service: Service, tmp_path: Path) -> None:
    problem = tmp_path / "p.toml"
    problem.write_text(LONG)
    job = told(service, "submit", problem)["id"]
    assert told(service, "cancel", job)["state"] == "stopped"
    assert told(service, "watch", job, code=130)["state"] == "stopped"
    again = told(service, "requeue", job)
    assert (again["state"], again["attempt"]) == ("queued", 2)
    refused = command(service, "requeue", job)
    assert refused.returncode == 2 and "only a stopped or failed job can be resumed" in refused.stderr
    told(service, "cancel", job)


def test_faults_are_told_in_a_sentence_with_the_exit_code_of_the_contract(
    service: Service, new_service: Callable[..., Service], tmp_path: Path
) -> None:
    (tmp_path / "bad.toml").write_text(SMALL.replace('limit = "4 kg"', 'limit = "4 m"'))
    (tmp_path / "good.toml").write_text(SMALL)
    refused = command(service, "submit", tmp_path / "bad.toml")
    assert refused.returncode == 2 and "mass.limit" in refused.stderr and refused.stdout == ""
    assert command(service, "submit", tmp_path / "none.toml").returncode == 2
    assert command(service, "watch", "nosuchjobnosuchj").returncode == 2
    too_many = command(service, "submit", tmp_path / "good.toml", "--evaluations", "300000")
    assert too_many.returncode == 2 and "at most 200000" in too_many.stderr
    away = new_service()
    gone = command(away, "jobs")
    assert gone.returncode == 1 and "does not answer" in gone.stderr
    assert command(service, "jobs", "--url", "ftp://x").returncode == 2


def test_a_token_is_made_shown_once_and_used_from_a_file(new_service: Callable[..., Service], tmp_path: Path) -> None:
    service = new_service("--no-page")
    made = told(service, "token", "new", "desk", "--scope", "read", "--data", service.data)
    assert made["scope"] == "read" and Tokens(service.data).list()[0].name == "desk"
    listed = command(service, "token", "list", "--data", service.data)
    assert "desk" in listed.stdout and made["token"] not in listed.stdout
    service.token = made["token"]
    service.start()
    (tmp_path / "token").write_text(made["token"] + "\n")
    assert command(service, "jobs").returncode == 2
    assert told(service, "jobs", "--token-file", tmp_path / "token") == {"jobs": []}


def test_a_missing_package_of_the_service_is_told_with_how_to_get_it(tmp_path: Path) -> None:
    script = "import sys; sys.modules['dbos'] = None; from synth import cli; cli.main()"
    words = [sys.executable, "-c", script, "serve", "--data", str(tmp_path)]
    done = subprocess.run(words, cwd=ROOT, env=environment(), capture_output=True, text=True, check=False, timeout=60)
    assert done.returncode == 2 and "pip install '.[service]'" in done.stderr, done.stderr
