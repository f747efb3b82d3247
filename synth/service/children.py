"""The processes that work jobs: started, watched, asked to stop, started again when something else kills one."""

import json
import os
import subprocess
import threading
import time
from collections.abc import Callable
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any

from synth.service.engine import Engine
from synth.service.settings import Settings
from synth.service.store import Job

GRACE_S = 15.0
"""A process that is asked to stop checkpoints and goes within a second or two; then it is killed, losing at most the
seconds since its last checkpoint."""
TRIES = 5
"""A job whose process is killed from outside is taken up again, so many times in a row without getting further."""
LOG_BYTES = 1 << 20
_PROGRESS = ("searching:", "verifying the fronts:")
"""How lines of progress begin in a log: no part of what went wrong."""


@dataclass(frozen=True)
class Place:
    """Where a job's files lie: its run folder, and beside it what only the service needs."""

    data: Path
    id: str

    @property
    def run(self) -> Path:
        """The run folder."""
        return self.data / "runs" / self.id

    @property
    def folder(self) -> Path:
        """Problem, events, log, lock, and pictures and packages once they were asked for."""
        return self.data / "jobs" / self.id

    @property
    def events(self) -> Path:
        """News, a line each."""
        return self.folder / "events.jsonl"

    @property
    def made(self) -> Path:
        """Pictures and packages: may be removed at any time."""
        return self.folder / "made"


@dataclass(eq=False)
class Child:
    """One job under way. stop: set where somebody asked it to stop."""

    stop: threading.Event = field(default_factory=threading.Event)
    pid: int | None = None


@dataclass(frozen=True)
class Ended:
    """How a process ended: its exit code (negative: a signal), what it said last, whether it was asked to stop."""

    code: int
    said: str
    asked: bool = False


class Children:
    """The jobs under way in this service."""

    def __init__(self, engine: Engine, settings: Settings) -> None:
        self._engine, self._settings = engine, settings
        self._under_way: dict[str, Child] = {}
        self.closing = threading.Event()

    def stop(self, id: str) -> None:
        """Asks a job's process to stop; nothing where there is none."""
        child = self._under_way.get(id)
        if child is not None:
            child.stop.set()

    def pids(self) -> dict[str, int]:
        """Job id to process id."""
        return {id: c.pid for id, c in list(self._under_way.items()) if c.pid is not None}

    def wait(self) -> None:
        """Waits until no process is left, which closing makes come soon."""
        given_up = time.monotonic() + GRACE_S + 5.0
        while self._under_way and time.monotonic() < given_up:
            time.sleep(0.05)

    def work(self, job: Job, place: Place, stopped: Callable[[], bool]) -> Ended:
        """Works a job until its process ends for a reason of its own, it is asked to stop, or the service closes.

        stopped(): asked once, when stop() can reach the job, whether it was asked to stop before that.
        """
        child = self._under_way.setdefault(job.id, Child())
        tries, mark = 0, -1.0
        try:
            if stopped():
                return Ended(130, "", asked=True)
            while True:
                ended = self._once(job, place, child)
                outside = ended.code < 0 or ended.code == 130
                if not outside or child.stop.is_set() or self.closing.is_set():
                    return replace(ended, asked=child.stop.is_set())
                now = _checkpointed(place)
                tries = tries + 1 if now == mark else 1
                mark = now
                if tries >= TRIES:
                    return Ended(1, f"its process was ended from outside {tries} times in a row ({ended.code})")
                self.closing.wait(0.2 * 2**tries)
        finally:
            self._under_way.pop(job.id, None)

    def _once(self, job: Job, place: Place, child: Child) -> Ended:
        about = {
            "problem": str(place.folder / "problem.toml"),
            "folder": str(place.run),
            "events": str(place.events),
            "lock": str(place.folder / "lock"),
            "objectives": list(job.objectives),
            "evaluations": job.evaluations,
            "seed": job.seed,
            "workers": self._settings.workers,
            "ray": self._settings.ray,
            "nice": self._settings.nice,
        }
        log = place.folder / "log.txt"
        if log.exists() and log.stat().st_size > LOG_BYTES:
            log.unlink()
        before = log.stat().st_size if log.exists() else 0
        with open(log, "ab") as out:
            process = subprocess.Popen(
                [*self._engine.job, json.dumps(about)],
                stdin=subprocess.PIPE,  # held open as long as this service lives
                stdout=out,
                stderr=out,
                start_new_session=True,
                env=_environment(),
            )
        child.pid = process.pid
        try:
            code = _watched(process, lambda: child.stop.is_set() or self.closing.is_set())
        finally:
            child.pid = None
            if process.stdin is not None:
                process.stdin.close()
        return Ended(code, _said(log, before, place))


def _watched(process: "subprocess.Popen[bytes]", wanted_over: Callable[[], bool]) -> int:
    """Waits for the end; once it is wanted over asks for it, and in the end insists."""
    asked: float | None = None
    while True:
        try:
            return process.wait(timeout=0.1)
        except subprocess.TimeoutExpired:
            now = time.monotonic()
            if asked is None and wanted_over():
                process.terminate()
                asked = now
            elif asked is not None and now - asked > GRACE_S:
                process.kill()


def _environment() -> dict[str, str]:
    """What a job's process may know: the service's environment without its secrets."""
    return {k: v for k, v in os.environ.items() if k not in ("STOWFRONT_DATABASE", "STOWFRONT_TOKEN")}


def _checkpointed(place: Place) -> float:
    try:
        return (place.run / ".work" / "state").stat().st_mtime
    except OSError:
        return 0.0


def _said(log: Path, before: int, place: Place) -> str:
    """The last lines that a process wrote, with paths of this machine shortened."""
    try:
        with open(log, "rb") as said:
            said.seek(max(before, log.stat().st_size - 4000))
            text = said.read().decode("utf-8", "replace")
    except OSError:
        return ""
    lines = [line for line in text.splitlines() if line.strip() and not line.startswith(_PROGRESS)]
    shown: Any = "\n".join(lines[-8:])
    return str(shown).replace(f"{place.data.absolute()}{os.sep}", "").replace(f"{place.data}{os.sep}", "")
