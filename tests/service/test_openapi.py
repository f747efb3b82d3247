"""The interface does what its OpenAPI description says: schemathesis, over every operation."""

import contextlib
import json
import os
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.service.served import LONG, SMALL, Service, environment, leave_idle
from tests.service.test_crashes import first_progress, pid_of


def described(service: Service) -> dict[str, Any]:
    """The description with examples of jobs that exist: a done one to look at, stopped ones to change."""
    done = service.submit(SMALL).document["id"]
    assert service.client.wait(done)["state"] == "done"
    first = service.client.front(done)["candidates"][0]["id"]
    waiting = [service.submit(SMALL).document["id"] for _ in range(3)]
    for id in waiting:
        service.client.cancel(id)
    told: dict[str, Any] = service.ask("GET", "/api/v1/openapi.json").document
    changing = {("/cancel", "post"): waiting[0], ("/resume", "post"): waiting[1], ("{id}", "delete"): waiting[2]}
    for path, operations in told["paths"].items():
        for method, operation in operations.items():
            use = next((v for (end, m), v in changing.items() if path.endswith(end) and method == m), done)
            examples = {
                "id": use,
                "cid": first,
                "after": waiting[0],
                "job": [done],
                "view": "stowed",
                "state": ["done"],
            }
            for parameter in operation.get("parameters", ()):
                if parameter["name"] in examples:
                    parameter["example"] = examples[parameter["name"]]
            if "application/toml" in operation.get("requestBody", {}).get("content", {}):
                operation["requestBody"]["content"]["application/toml"]["example"] = SMALL
    return told


@contextlib.contextmanager
def held(service: Service) -> Iterator[None]:
    """The queue's slot is taken by a job whose process stands still, and what the tool submits is cancelled while it
    waits: it costs nothing, and its news end."""
    job = service.client.submit(LONG)["id"]
    first_progress(service, job)
    process, over = pid_of(service, job), threading.Event()
    os.kill(process, signal.SIGSTOP)

    def cancel() -> None:
        while not over.wait(0.3):
            leave_idle(service, ("queued",))

    canceller = threading.Thread(target=cancel)
    canceller.start()
    try:
        yield
    finally:
        over.set()
        canceller.join()
        service.client.cancel(job)
        os.kill(process, signal.SIGCONT)
        leave_idle(service)


def keeps_to_it(service: Service, folder: Path, examples: int, phases: str) -> str:
    """What the tool says of the whole interface; fails where it found a server error or a contract violation."""
    file = folder / "openapi.json"
    file.write_text(json.dumps(described(service)))
    words = [sys.executable, "-c", "from schemathesis.cli import schemathesis; schemathesis()", "run", str(file)]
    words += ["--url", f"http://127.0.0.1:{service.port}", "--max-examples", str(examples), "--phases", phases]
    # a problem of the right shape may still be wrong (units, bounds): the description cannot say all of it
    words += ["--exclude-checks", "positive_data_acceptance", "--seed", "7", "--continue-on-failure", "--no-color"]
    words += ["--generation-database", "none", "--request-timeout", "60"]
    words += ["--header", f"Authorization: Bearer {service.token}"]
    known = {**environment(), "SCHEMATHESIS_HOOKS": "tests.service.schema_hooks"}
    with held(service):
        done = subprocess.run(words, cwd=folder, env=known, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout[-12000:] + done.stderr[-3000:]
    return done.stdout


def test_every_operation_keeps_to_the_description(locked: Service, tmp_path: Path) -> None:
    told = keeps_to_it(locked, tmp_path, 4, "examples,coverage,fuzzing")
    operations = sum(len(v) for v in locked.ask("GET", "/api/v1/openapi.json").document["paths"].values())
    assert f"{operations} selected" in told or f"{operations} / {operations}" in told, told[-3000:]


@pytest.mark.slow
@pytest.mark.timeout(3000)
def test_every_operation_keeps_to_the_description_for_long(locked: Service, tmp_path: Path) -> None:
    keeps_to_it(locked, tmp_path, 100, "examples,coverage,fuzzing,stateful")
