"""How fast the service answers while jobs run beside it: 50 clients, 500 jobs queued. Printed, never asserted.

python -m tests.bench.service_load [--clients 50] [--jobs 500] [--seconds 20] [--database URL]
"""

import argparse
import asyncio
import json
import random
import re
import subprocess
import tempfile
import time
from collections import defaultdict
from pathlib import Path

from synth.service.tokens import Tokens
from tests.service.served import LONG, Service, ended

Times = dict[str, list[float]]


def percentile(values: list[float], share: float) -> float:
    """The value below which so large a share lies."""
    return sorted(values)[min(int(share * len(values)), len(values) - 1)]


def told(times: Times, seconds: float) -> None:
    """A line a kind of request."""
    for kind, values in sorted(times.items()):
        median, late, worst = (1e3 * percentile(values, q) for q in (0.5, 0.95, 1.0))
        print(
            f"  {kind:10s} {len(values):6d} answers  median {median:.1f} ms  95 % {late:.1f} ms  worst {worst:6.0f} ms"
        )
    every = sum(map(len, times.values()))
    print(f"  {every / seconds:.0f} answers a second")


class Caller:
    """One client: one connection, one request at a time. Plain, so that the measured is the service, not the client."""

    def __init__(self, port: int, token: str) -> None:
        self._port, self._token = port, token
        self._to: tuple[asyncio.StreamReader, asyncio.StreamWriter] | None = None

    async def ask(self, times: Times, kind: str, method: str, path: str, body: bytes = b"") -> bytes:
        """One request and how long it took, the connection's opening included."""
        begun = time.perf_counter()
        if self._to is None:
            self._to = await asyncio.open_connection("127.0.0.1", self._port)
        reader, writer = self._to
        head = f"{method} /api/v1/{path} HTTP/1.1\r\nHost: 127.0.0.1\r\nAuthorization: Bearer {self._token}\r\n"
        head += f"Content-Type: application/toml\r\nContent-Length: {len(body)}\r\n\r\n"
        writer.write(head.encode() + body)
        answer = await reader.readuntil(b"\r\n\r\n")
        length = re.search(rb"content-length: (\d+)", answer)
        assert length is not None, answer
        content = await reader.readexactly(int(length[1]))
        times[kind].append(time.perf_counter() - begun)
        assert answer.split(b" ")[1] in (b"200", b"201"), content
        return content


async def submitting(caller: Caller, times: Times, count: int, ids: list[str]) -> None:
    """One client that submits its jobs one after the other."""
    for _ in range(count):
        answer = await caller.ask(times, "submit", "POST", "jobs?evaluations=5000", LONG.encode())
        ids.append(json.loads(answer)["id"])


async def looking(caller: Caller, times: Times, ids: list[str], until: float, pause: float, seed: int) -> None:
    """One client that looks at jobs, lists and figures, with a pause between requests."""
    chance = random.Random(seed)
    await asyncio.sleep(chance.uniform(0.0, pause))
    while time.perf_counter() < until:
        kind = chance.choice(["job", "job", "job", "list", "list", "metrics"])
        path = {"job": f"jobs/{chance.choice(ids)}", "list": "jobs?state=queued&limit=50", "metrics": "metrics"}[kind]
        await caller.ask(times, kind, "GET", path)
        if pause:
            await asyncio.sleep(pause)


async def measured(service: Service, tokens: list[str], jobs: int, seconds: float) -> None:
    """All phases against a running service."""
    clients = [Caller(service.port, t) for t in tokens]
    ids: list[str] = []
    times: Times = defaultdict(list)
    begun = time.perf_counter()
    await asyncio.gather(*(submitting(c, times, jobs // len(clients), ids) for c in clients))
    print(f"{len(clients)} clients submit {len(ids)} jobs, each the next as soon as the last is accepted:")
    told(times, time.perf_counter() - begun)
    print(f"then: {json.loads(await clients[0].ask(times, '', 'GET', 'jobs?limit=1'))['counts']}")
    for pause, what in (
        (1.0, "one request a second each"),
        (0.0, "each the next as soon as the last is answered"),
    ):
        times = defaultdict(list)
        begun = time.perf_counter()
        until = begun + seconds
        await asyncio.gather(*(looking(c, times, ids, until, pause, k) for k, c in enumerate(clients)))
        print(f"{len(clients)} clients look, {what}, while a job runs on all cores:")
        told(times, time.perf_counter() - begun)


def main() -> None:
    """Starts a service, makes tokens, measures, prints."""
    words = argparse.ArgumentParser()
    words.add_argument("--clients", type=int, default=50)
    words.add_argument("--jobs", type=int, default=500)
    words.add_argument("--seconds", type=float, default=20.0)
    words.add_argument("--database")
    asked = words.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        more = ("--no-page",) + (("--database", asked.database) if asked.database else ())
        service = Service(Path(folder) / "data", more)
        tokens = [Tokens(service.data).new(f"client-{k}", "submit") for k in range(asked.clients)]
        service.token = tokens[0]
        service.start()
        try:
            asyncio.run(measured(service, tokens, asked.jobs, asked.seconds))
            assert service.process is not None
            load = subprocess.run(["uptime"], capture_output=True, text=True, check=False).stdout.strip()
            print(f"load of the machine afterwards: {load.partition('load average: ')[2]}")
        finally:
            service.stop()
            ended(service)


if __name__ == "__main__":
    main()
