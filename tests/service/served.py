"""A real service in a process of its own, on a free port, for tests to talk to."""

import contextlib
import http.client
import json
import os
import random
import socket
import subprocess
import sys
import time
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from synth.core.errors import InputError
from synth.service.client import Client, ServiceFailed
from tests.test_cli import TINY

ROOT = Path(__file__).resolve().parents[2]
SMALL = TINY.replace("evaluations = 150", "evaluations = 24")
"""Done in some seconds."""
LONG = TINY.replace("evaluations = 150", "evaluations = 150000")
"""Never done while a test runs."""


_PORTS = random.Random(os.getpid())


def free_port() -> int:
    """A port that nobody listens on now, below those that systems lend to whoever opens a connection: one of these may
    be lent again before a service has it."""
    while True:
        port = _PORTS.randrange(20_000, 32_000)
        with socket.socket() as probe, contextlib.suppress(OSError):
            probe.bind(("127.0.0.1", port))
            return port


def environment() -> dict[str, str]:
    """Of a process that finds the sources."""
    return {**os.environ, "PYTHONPATH": str(ROOT), "OMP_NUM_THREADS": "1", "OPENBLAS_NUM_THREADS": "1"}


@dataclass
class Answer:
    """One HTTP answer."""

    status: int
    headers: dict[str, str]
    body: bytes

    @property
    def document(self) -> Any:
        """Its JSON."""
        return json.loads(self.body)


@dataclass
class Service:
    """data: its folder; more: further words of the command; source: the address that requests come from."""

    data: Path
    more: tuple[str, ...] = ()
    token: str | None = None
    port: int = field(default_factory=free_port)
    process: "subprocess.Popen[bytes] | None" = None
    source: str = "127.0.0.1"

    @property
    def log(self) -> Path:
        """What it wrote."""
        return self.data.parent / f"{self.data.name}.log"

    @property
    def client(self) -> Client:
        """A client that waits out a restart."""
        return Client(f"http://127.0.0.1:{self.port}", self.token, wait_s=60.0)

    def start(self) -> "Service":
        """Starts it and waits until it answers."""
        words = [sys.executable, "-m", "synth.cli", "serve", "--port", str(self.port), "--data", str(self.data)]
        with open(self.log, "ab") as out:
            self.process = subprocess.Popen(
                [*words, *self.more], cwd=ROOT, env=environment(), stdout=out, stderr=out, start_new_session=True
            )
        deadline = time.monotonic() + 60.0
        while True:
            with contextlib.suppress(OSError, http.client.HTTPException, ServiceFailed):
                if self.ask("GET", "/api/v1/health").status == 200:
                    return self
            assert self.process.poll() is None, self.log.read_text()
            assert time.monotonic() < deadline, self.log.read_text()
            time.sleep(0.05)

    def kill(self) -> None:
        """kill -9, of the service alone."""
        assert self.process is not None
        self.process.kill()
        self.process.wait()

    def stop(self) -> int:
        """Asks it to stop and waits; its exit code."""
        assert self.process is not None
        self.process.terminate()
        return self.process.wait(timeout=60)

    def ask(self, method: str, path: str, body: bytes | None = None, **headers: str) -> Answer:
        """One request, told as it is answered. Header names with _ for -."""
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=120, source_address=(self.source, 0))
        try:
            named = {k.replace("_", "-"): v for k, v in headers.items()}
            if self.token is not None and "Authorization" not in named:
                named["Authorization"] = f"Bearer {self.token}"
            connection.request(method, path, body, named)
            answer = connection.getresponse()
            return Answer(answer.status, {k.lower(): v for k, v in answer.getheaders()}, answer.read())
        finally:
            connection.close()

    def submit(self, problem: str, query: str = "", **headers: str) -> Answer:
        """Submits a problem file's text."""
        return self.ask("POST", f"/api/v1/jobs{query}", problem.encode(), Content_Type="application/toml", **headers)


def ended(service: Service) -> None:
    """Ends what a test started, however it stands."""
    if service.process is not None and service.process.poll() is None:
        service.process.kill()
        service.process.wait()


def leave_idle(service: Service, states: tuple[str, ...] = ("queued", "running")) -> None:
    """Cancels what waits or runs, so that the next test has the one slot of the queue to itself."""
    for job in service.client.jobs(states, most=1000):
        with contextlib.suppress(InputError):  # over by now
            service.client.cancel(job["id"])
