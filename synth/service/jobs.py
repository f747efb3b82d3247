"""The one object behind the commands, the HTTP interface and the page: jobs accepted, worked, watched, looked at."""

import contextlib
import hashlib
import json
import shutil
import threading
from collections.abc import AsyncIterator, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from synth.core.errors import InputError, RunFolderError, StowfrontError
from synth.fronts.store import read_front, read_run
from synth.problem.template import template
from synth.service import events
from synth.service.aside import Aside
from synth.service.children import Place
from synth.service.engine import Engine
from synth.service.errors import Conflict, NotFound, Refused, TooMany, Unavailable, Wrong
from synth.service.settings import Settings
from synth.service.store import Job, Store
from synth.service.working import Working


@dataclass(frozen=True)
class Submitted:
    """A job as accepted. new: False where an earlier request with the same key accepted it."""

    job: Job
    new: bool


class Jobs:
    """Every method may be called from any thread; those that take longer than some milliseconds say so.

    Raises errors.Refused (NotFound, Conflict, Wrong, TooMany, Unavailable, ...) for what cannot be granted.
    """

    def __init__(self, engine: Engine, settings: Settings) -> None:
        self.engine, self.settings = engine, settings
        for name in ("runs", "jobs"):
            (settings.data / name).mkdir(parents=True, exist_ok=True)
        self._store = Store(settings.database, settings.data)
        self._working = Working(engine, settings, self._store)
        self._aside = Aside(settings.limits.aside, settings.nice)

    # -- life of the service

    def start(self) -> None:
        """Takes up what an earlier service left, and begins to work jobs."""
        # catalogues and units are loaded by the first problem that is read: better now than by fifty at once
        with contextlib.suppress(StowfrontError):
            self.engine.read(template().encode(), "template")
        self._working.start()
        if self.settings.page:
            threading.Thread(target=self._warm, daemon=True, name="warm").start()

    def _warm(self) -> None:
        """The first check loads what it needs for seconds: better before a person waits for it."""
        with contextlib.suppress(StowfrontError):
            self._aside.do(self.engine.check, template().encode(), "template")

    def close(self) -> None:
        """Stops: jobs under way save their state and go on at the next start. Takes up to some seconds."""
        self._aside.close()
        self._working.close()
        self._store.close()

    def ready(self) -> None:
        """Raises Unavailable where no job could be accepted now."""
        self._store.ready()
        if self._working.closing:
            raise Unavailable("the service is stopping", after_s=10)

    # -- problems

    def read(self, problem: bytes, json_body: bool = False) -> Any:
        """The problem of a text: TOML, or JSON of the same fields. Raises Wrong that names the fields."""
        try:
            if not json_body:
                return self.engine.read(problem, "problem")
            return self.engine.read_json(_mapping(problem), "problem")
        except InputError as fault:
            raise _wrong(fault) from None

    def validate(self, problem: bytes, json_body: bool = False) -> dict[str, Any]:
        """What `stowfront check --json` tells of it: understood in SI, bounds, families ruled out. About 0.2 s; raises
        Wrong that names the fields."""
        source = self.read(problem, json_body).source
        return self._aside.do(self.engine.check, source, "problem")

    def catalogue(self) -> dict[str, Any]:
        """Families, materials, envelopes and hinges that may be chosen. About 0.1 s."""
        return self._aside.do(self.engine.catalogue)

    # -- jobs

    def submit(
        self,
        problem: bytes,
        *,
        json_body: bool = False,
        evaluations: int | None = None,
        seed: int | None = None,
        key: str | None = None,
        owner: str = "local",
    ) -> Submitted:
        """Accepts a job: once this returns it outlives any crash. The same owner and key: the job of the first time.

        Raises Wrong (problem or numbers), Conflict (the key was used for something else), TooMany.
        """
        asked = hashlib.sha256(repr((problem, json_body, evaluations, seed)).encode()).hexdigest()
        if key is not None and (earlier := self._earlier(owner, key, asked)) is not None:
            return earlier
        try:
            found = self.read(problem, json_body).with_search(evaluations, seed)
        except InputError as fault:
            raise _wrong(fault) from None
        limits, search = self.settings.limits, found.search
        if search.evaluations > limits.evaluations:
            sentence = f"must be at most {limits.evaluations} on this service; given {search.evaluations}"
            raise Wrong(f"evaluations: {sentence}", [("search.evaluations", sentence)])
        if self._store.waiting() >= limits.queued:
            raise TooMany(
                f"{limits.queued} jobs are waiting or running, which is the limit of this service", after_s=60
            )
        row = {
            "title": found.title,
            "owner": owner,
            "evaluations": search.evaluations,
            "seed": search.seed,
            "objectives": ",".join(search.objectives),
            "problem_digest": found.digest,
        }
        job = self._store.add(row, found.source, key, asked)
        if job is None:
            assert key is not None
            earlier = self._earlier(owner, key, asked)
            assert earlier is not None
            return earlier
        self._working.tell(job)
        self._working.put(job)
        return Submitted(job, new=True)

    def _earlier(self, owner: str, key: str, asked: str) -> Submitted | None:
        known = self._store.keyed(owner, key)
        if known is None:
            return None
        if known[1] != asked:
            sentence = "was used before for another problem or other numbers"
            raise Wrong(f"Idempotency-Key: {sentence}", [("Idempotency-Key", sentence)])
        return Submitted(known[0], new=False)

    def get(self, id: str) -> Job:
        """One job."""
        return self._store.get(id)

    def problem(self, id: str) -> bytes:
        """The problem (TOML) of a job, for a clone with changes."""
        return self._store.source(id)

    def list(
        self, states: Sequence[str] = (), title: str = "", owner: str = "", limit: int = 50, after: str | None = None
    ) -> tuple[Job, ...]:
        """Jobs, the youngest first; a page goes on after the last job of the page before."""
        return self._store.list(states, title, owner, limit, after)

    def counts(self) -> dict[str, int]:
        """How many jobs are in each state."""
        return self._store.counts()

    def under_way(self) -> int:
        """How many job processes run now."""
        return len(self._working.under_way())

    def cancel(self, id: str) -> Job:
        """Stops a job: a queued one at once, a running one within seconds, with what it found so far."""
        job = self._store.ask_stop(id)
        self._working.stop(id)
        if job.over:
            self._working.tell(job)
        return job

    def resume(self, id: str) -> Job:
        """Queues a stopped or failed job anew; it goes on from its last checkpoint, to the same front."""
        job = self._store.again(id)
        shutil.rmtree(self.place(id).made, ignore_errors=True)
        self._working.tell(job)
        self._working.put(job)
        return job

    def delete(self, id: str) -> None:
        """Removes a job that is over, with all its files."""
        job = self._store.remove(id)
        place = self.place(id)
        for folder in (place.run, place.folder):
            shutil.rmtree(folder, ignore_errors=True)
        self._working.forget(job)

    # -- news

    def progress(self, id: str) -> dict[str, Any] | None:
        """The latest figures of a search (app/job.py says which), or None before there are any. id: of a job."""
        return events.latest(self.place(id).events, "progress")

    def events(self, id: str, after: int = 0) -> AsyncIterator[events.Event]:
        """News of a job as they come, from the first, or after an event's id; ends when the job is over and all is
        told. Kinds: "state" (state, exit_code, message), "process" (a process took it up), "progress"."""

        def over() -> bool:
            try:
                return self.get(id).over
            except NotFound:
                return True
            except Unavailable:
                return False

        return events.follow(self.place(id).events, over, after)

    # -- what a job found

    def place(self, id: str) -> Place:
        """Where a job's files lie; id must be that of a job."""
        return Place(self.settings.data, id)

    def folder(self, id: str) -> Path:
        """The run folder of a job (front.csv, history.csv, front.svg, candidates/ID.json, ...). Its files are there
        once the job is done or was stopped while it ran; NotFound before."""
        job = self.get(id)
        folder = self.place(job.id).run
        if not (folder / "front.csv").is_file():
            raise NotFound(f"job {id} is {job.state} and has no front yet")
        return folder

    def front(self, id: str) -> dict[str, Any]:
        """The front as plain values: objectives, envelopes as in run.json, a row a candidate."""
        folder = self.folder(id)
        run, front = _read(lambda: (read_run(folder), read_front(folder)))
        fixed = ("id", "envelope", "family", "verified", "feasible")
        rows = [{**{k: getattr(r, k) for k in fixed}, "metrics": dict(r.metrics)} for r in front.rows]
        return {"objectives": run["objectives"], "envelopes": run["envelopes"], "candidates": rows}

    def candidate(self, id: str, candidate: str) -> Path:
        """The record's file; NotFound where the front has no such candidate."""
        folder = self.folder(id)
        if _read(lambda: read_front(folder)).find(candidate) is None:
            raise NotFound(f"job {id} has no candidate '{candidate}' on its front")
        file = folder / "candidates" / f"{candidate}.json"
        if not file.is_file():
            raise NotFound(f"the record of candidate '{candidate}' is missing")
        return file

    def review(self, id: str, candidate: str) -> Path:
        """The review sheet of a candidate (Markdown)."""
        file = self.candidate(id, candidate).with_suffix(".review.md")
        if not file.is_file():
            raise NotFound(f"candidate '{candidate}' has no review sheet")
        return file

    def picture(self, id: str, candidate: str, view: str, kind: str = "svg") -> Path:
        """A picture of a candidate; view: deployed, stowed or motion; kind: svg or png. Drawn when first asked for,
        which takes a second or two."""
        if view not in ("deployed", "stowed", "motion") or kind not in ("svg", "png"):
            raise NotFound("pictures are deployed, stowed or motion, as svg or png")
        self.candidate(id, candidate)
        folder = self.place(id).made / "pictures"
        file = folder / f"{candidate}-{view}.{kind}"
        if not file.is_file():
            folder.mkdir(parents=True, exist_ok=True)
            self._made(self.engine.pictures, self.place(id).run, candidate, folder)
        return file

    def seed_zip(self, id: str, candidate: str) -> Path:
        """The seed package of a candidate as one file. Made when first asked for, which takes some seconds."""
        self.candidate(id, candidate)
        folder = self.place(id).made / "seeds"
        file = folder / f"{candidate}.zip"
        if not file.is_file():
            folder.mkdir(parents=True, exist_ok=True)
            self._made(self.engine.seed, self.place(id).run, candidate, file)
        return file

    def compare(self, ids: Sequence[str]) -> dict[str, Any]:
        """What `stowfront compare --json` tells of the fronts of these jobs. Takes seconds."""
        folders = [self.folder(id) for id in ids]
        found: dict[str, Any] = self._made(self.engine.compare, folders)
        return found

    def _made(self, work: Any, *given: Any) -> Any:
        try:
            return self._aside.do(work, *given)
        except Refused:
            raise
        except StowfrontError as fault:
            text = str(fault).replace(str(self.settings.data), "data")
            raise Conflict(text) from None
        except OSError as fault:
            raise Unavailable(f"the file cannot be written: {fault.strerror}", after_s=60) from None


def _mapping(text: bytes) -> dict[str, Any]:
    try:
        found = json.loads(text.decode("utf-8-sig"))
    except (ValueError, RecursionError) as fault:
        raise InputError(f"problem: is not JSON: {fault}") from None
    if not isinstance(found, dict):
        raise InputError("problem: must be a JSON object of the fields of a problem file")
    return found


def _wrong(fault: InputError) -> Wrong:
    return Wrong(str(fault), fault.faults)


def _read(do: Any) -> Any:
    try:
        return do()
    except RunFolderError as fault:
        raise Conflict(f"the run folder cannot be read: {Path(str(fault).split(':')[0]).name}") from None
