"""A client of the service for scripts: the standard library alone, so that a desk needs no more than the program."""

import http.client
import json
import ssl
import time
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any
from urllib.parse import quote, urlencode, urlsplit

from synth.core.errors import InputError, StowfrontError, writing

ADDRESS = "http://127.0.0.1:8750"
OVER = ("done", "stopped", "failed")
_REFUSED_INPUT = (400, 401, 403, 404, 409, 413, 415, 422)


class ServiceFailed(StowfrontError):  # noqa: N818  (told to people as a sentence)
    """The service is away or failed."""


@dataclass(frozen=True)
class News:
    """One event of a job. id: to go on after it; kind: "state", "process" or "progress"."""

    id: int
    kind: str
    data: dict[str, Any]


class Client:
    """Talks to one service. address: such as https://fold.example/; token: text of a token, where one is needed.

    Every method raises InputError where the service refuses what was given (its sentence is the message), and
    ServiceFailed where it is away. wait_s: how long a request is tried again while the service is away or busy.
    """

    def __init__(self, address: str = ADDRESS, token: str | None = None, wait_s: float = 0.0) -> None:
        parts = urlsplit(address)
        if parts.scheme not in ("http", "https") or not parts.hostname:
            raise InputError(f"url: must be http://HOST:PORT or https://HOST; got '{address}'")
        self._parts, self._token, self._wait = parts, token, wait_s

    # -- jobs

    def health(self) -> dict[str, Any]:
        """Status and version."""
        return self._json("GET", "health")

    def submit(
        self, problem: str | bytes | Path | Mapping[str, Any], *, evaluations: int | None = None,
        seed: int | None = None, key: str | None = None,
    ) -> dict[str, Any]:  # fmt: skip
        """Submits a problem: a file, its text, or a mapping of its fields. The same key: the same job."""
        body, kind = _body(problem)
        headers = {"Content-Type": kind} | ({} if key is None else {"Idempotency-Key": key})
        return self._json("POST", "jobs", {"evaluations": evaluations, "seed": seed}, body, headers)

    def validate(self, problem: str | bytes | Path | Mapping[str, Any]) -> dict[str, Any]:
        """What `check` tells of a problem."""
        body, kind = _body(problem)
        return self._json("POST", "validate", {}, body, {"Content-Type": kind})

    def jobs(
        self, states: tuple[str, ...] = (), title: str = "", owner: str = "", most: int = 50
    ) -> Iterator[dict[str, Any]]:
        """Jobs, the youngest first, page after page."""
        after, left = None, most
        while left > 0:
            asked = {"state": list(states), "title": title or None, "owner": owner or None, "after": after}
            page = self._json("GET", "jobs", asked | {"limit": min(left, 200)})
            yield from page["jobs"]
            left -= len(page["jobs"])
            after = page["next"]
            if after is None:
                return

    def job(self, id: str) -> dict[str, Any]:
        """One job with the latest figures of its search."""
        return self._json("GET", f"jobs/{quote(id, safe='')}")

    def cancel(self, id: str) -> dict[str, Any]:
        """Stops a job with what it found so far."""
        return self._json("POST", f"jobs/{quote(id, safe='')}/cancel")

    def resume(self, id: str) -> dict[str, Any]:
        """Queues a stopped or failed job anew."""
        return self._json("POST", f"jobs/{quote(id, safe='')}/resume")

    def delete(self, id: str) -> None:
        """Removes a job that is over, with its files."""
        self._bytes("DELETE", f"jobs/{quote(id, safe='')}")

    def wait(self, id: str) -> dict[str, Any]:
        """The job once it is over."""
        for _ in self.events(id):
            pass
        return self.job(id)

    # -- results

    def front(self, id: str) -> dict[str, Any]:
        """Objectives, envelopes, and a row a candidate."""
        return self._json("GET", f"jobs/{quote(id, safe='')}/front")

    def candidate(self, id: str, candidate: str) -> dict[str, Any]:
        """The record of a candidate."""
        return self._json("GET", f"jobs/{quote(id, safe='')}/candidates/{quote(candidate, safe='')}")

    def compare(self, *ids: str) -> dict[str, Any]:
        """What `compare --json` tells of these jobs."""
        return self._json("GET", "compare", {"job": list(ids)})

    def file(self, id: str, name: str) -> bytes:
        """A file of a job: front.csv, history.csv, front.svg, run.json, problem.toml, candidates/ID,
        candidates/ID/seed.zip, candidates/ID/deployed.svg, ..."""
        return self._bytes("GET", f"jobs/{quote(id, safe='')}/{quote(name)}")

    def fetch(self, id: str, out: Path) -> list[Path]:
        """Writes the run folder of a job: problem, run.json, front, history, picture, records."""
        made = []
        (out / "candidates").mkdir(parents=True, exist_ok=True)
        for name in ("problem.toml", "run.json", "history.csv", "front.svg"):
            made.append(_written(out / name, self.file(id, name)))
        for row in self.front(id)["candidates"]:
            name = f"candidates/{row['id']}"
            made.append(_written(out / f"{name}.json", self.file(id, name)))
            made.append(_written(out / f"{name}.review.md", self.file(id, f"{name}/review.md")))
        return [*made, _written(out / "front.csv", self.file(id, "front.csv"))]

    def events(self, id: str, after: int = 0) -> Iterator[News]:
        """News of a job until it is over. A connection that breaks is taken up where it was, for wait_s seconds."""
        lost: float | None = None
        while True:
            try:
                for news in self._stream(id, after):
                    yield news
                    after, lost = news.id, None
                return
            except (OSError, http.client.HTTPException) as fault:
                lost = lost or time.monotonic()
                if time.monotonic() - lost > max(self._wait, 1.0):
                    raise ServiceFailed(f"{self._where()}: does not answer: {fault}") from None
                time.sleep(0.5)

    def _stream(self, id: str, after: int) -> Iterator[News]:
        headers = {"Accept": "text/event-stream"} | ({"Last-Event-ID": str(after)} if after else {})
        connection, answer = self._asked("GET", f"jobs/{quote(id, safe='')}/events", {}, None, headers, 60.0)
        try:
            told: dict[str, str] = {}
            while True:
                line = answer.readline(1 << 20).decode()
                if not line:
                    if self.job(id)["state"] in OVER:
                        return
                    raise ConnectionResetError("the stream ended early")
                name, _, value = line.rstrip("\r\n").partition(": ")
                if name:
                    told[name] = value
                elif "data" in told:
                    yield News(int(told["id"]), told["event"], json.loads(told["data"]))
                    told = {}
        finally:
            connection.close()

    # -- requests

    def _where(self) -> str:
        return f"{self._parts.scheme}://{self._parts.netloc.rpartition('@')[2]}"

    def _json(self, method: str, path: str, query: Mapping[str, Any] | None = None, body: bytes | None = None,
              headers: Mapping[str, str] | None = None) -> dict[str, Any]:  # fmt: skip
        found: dict[str, Any] = json.loads(self._bytes(method, path, query, body, headers))
        return found

    def _bytes(self, method: str, path: str, query: Mapping[str, Any] | None = None, body: bytes | None = None,
               headers: Mapping[str, str] | None = None) -> bytes:  # fmt: skip
        given_up = time.monotonic() + self._wait
        while True:
            try:
                connection, answer = self._asked(method, path, query or {}, body, headers or {}, 330.0)
                try:
                    return answer.read()
                finally:
                    connection.close()
            except (OSError, http.client.HTTPException, ServiceFailed) as fault:
                if time.monotonic() > given_up:
                    if isinstance(fault, ServiceFailed):
                        raise
                    raise ServiceFailed(f"{self._where()}: does not answer: {fault}") from None
                time.sleep(0.3)

    def _asked(
        self, method: str, path: str, query: Mapping[str, Any], body: bytes | None, headers: Mapping[str, str],
        timeout: float,
    ) -> tuple[http.client.HTTPConnection, http.client.HTTPResponse]:  # fmt: skip
        host, port = self._parts.hostname or "", self._parts.port
        connection: http.client.HTTPConnection
        if self._parts.scheme == "https":
            connection = http.client.HTTPSConnection(host, port, timeout=timeout, context=ssl.create_default_context())
        else:
            connection = http.client.HTTPConnection(host, port, timeout=timeout)
        asked = urlencode({k: v for k, v in query.items() if v is not None}, doseq=True)
        target = f"{self._parts.path.rstrip('/')}/api/v1/{path}" + (f"?{asked}" if asked else "")
        known = {} if self._token is None else {"Authorization": f"Bearer {self._token}"}
        try:
            connection.request(method, target, body, {**headers, **known})
            answer = connection.getresponse()
            if answer.status >= 400:
                raise _fault(answer.status, answer.read(1 << 20), self._where())
            return connection, answer
        except BaseException:
            connection.close()
            raise


def _fault(status: int, content: bytes, where: str) -> StowfrontError:
    try:
        detail = str(json.loads(content)["detail"])
    except (ValueError, KeyError, TypeError):
        detail = f"answered {status}"
    return InputError(detail) if status in _REFUSED_INPUT else ServiceFailed(f"{where}: {detail}")


def _body(problem: str | bytes | Path | Mapping[str, Any]) -> tuple[bytes, str]:
    if isinstance(problem, Mapping):
        return json.dumps(problem).encode(), "application/json"
    if isinstance(problem, Path):
        try:
            return problem.read_bytes(), "application/toml"
        except OSError as fault:
            raise InputError(f"{problem}: cannot be read: {fault.strerror}") from None
    return problem.encode() if isinstance(problem, str) else problem, "application/toml"


def _written(path: Path, content: bytes) -> Path:
    with writing(path):
        path.write_bytes(content)
    return path
