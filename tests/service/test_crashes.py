"""kill -9 of the service, its job processes and its database at any instant: no accepted job is lost, none runs twice,
and every front is what `stowfront run` finds."""

import contextlib
import json
import os
import random
import signal
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from synth.app.running import run_problem
from synth.service import events
from tests.service.postgres import PASSWORD, Postgres
from tests.service.served import SMALL, Service

SEEDS = (4, 5)


@pytest.fixture(scope="module")
def fronts(tmp_path_factory: pytest.TempPathFactory) -> dict[int, dict[str, bytes]]:
    """What undisturbed runs find, by seed."""
    folder = tmp_path_factory.mktemp("undisturbed")
    (folder / "p.toml").write_text(SMALL)
    return {seed: found(run_problem(folder / "p.toml", folder / str(seed), None, seed, 0).folder) for seed in SEEDS}


def found(run: Path) -> dict[str, bytes]:
    """All that a run found: front, history and records."""
    files = [run / "front.csv", run / "history.csv", *sorted((run / "candidates").iterdir())]
    return {str(f.relative_to(run)): f.read_bytes() for f in files}


def alive(pid: int) -> bool:
    """Whether a process still runs (not a zombie)."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except (OSError, IndexError):
        return False


class Watcher:
    """Notes how many processes of one job are ever alive at once and get past the job's lock."""

    def __init__(self, data: Path) -> None:
        self._data, self.doubled = data, [""]
        self._over = threading.Event()
        self._thread = threading.Thread(target=self._watch, daemon=True)
        self._thread.start()

    def _watch(self) -> None:
        while not self._over.wait(0.02):
            for file in self._data.glob("jobs/*/events.jsonl"):
                pids = [e.data["pid"] for e in events.read(file, 0) if e.kind == "process"]
                working = [p for p in pids if alive(p)]
                if len(working) > 1:
                    self.doubled.append(f"{file.parent.name}: {working}")

    def stop(self) -> list[str]:
        """What it noted."""
        self._over.set()
        self._thread.join()
        return self.doubled[1:]


def survives(service: Service, kills: int, jobs: int, chance: random.Random, fronts: dict[int, dict[str, bytes]],
             strike: Callable[[Service], None]) -> None:  # fmt: skip
    """Submits jobs while the service is struck again and again; in the end each must have been worked once, rightly."""
    service.start()
    watcher = Watcher(service.data)
    accepted: dict[str, tuple[str, int]] = {}

    def submit() -> None:
        for k in range(jobs):
            seed = SEEDS[k % len(SEEDS)]
            job = service.client.submit(SMALL, seed=seed, key=f"key-{k}")  # tried again while the service is away
            accepted[f"key-{k}"] = (job["id"], seed)
            time.sleep(chance.uniform(0.0, 0.3))

    submitter = threading.Thread(target=submit)
    submitter.start()
    for _ in range(kills):
        time.sleep(chance.uniform(0.3, 6.0))
        strike(service)
        if not any(not j["finished"] for j in service.client.jobs(most=500)) and not submitter.is_alive():
            service.client.submit(SMALL, seed=SEEDS[0], key=f"more-{time.monotonic_ns()}")
    submitter.join()
    assert len(accepted) == jobs
    listed = {j["id"]: j for j in service.client.jobs(most=500)}
    assert {id for id, _ in accepted.values()} <= set(listed), "an accepted job was lost"
    assert sum(j["owner"] == "local" for j in listed.values()) >= jobs
    for id, told in listed.items():
        ended = service.client.wait(id)
        assert (ended["state"], ended["message"]) == ("done", ""), service.log.read_text()[-4000:]
        assert found(service.data / "runs" / id) == fronts[told["seed"]]
        states = [e.data["state"] for e in events.read(service.data / "jobs" / id / "events.jsonl", 0)
                  if e.kind == "state"]  # fmt: skip
        assert states.count("done") <= 2 and states[-1] == "done", states
    keyed = [j for j in listed.values() if j["id"] in {id for id, _ in accepted.values()}]
    assert len(keyed) == jobs, "one request became two jobs"
    assert watcher.stop() == [], "a job was worked by two processes at once"


def kill_service(service: Service) -> None:
    """kill -9, and a new one."""
    service.kill()
    service.start()


def restarted(postgres: Postgres) -> Callable[[Service], None]:
    """Strikes the service or its database, in turn."""
    turn = [0]

    def strike(service: Service) -> None:
        turn[0] += 1
        if turn[0] % 4 == 2:
            postgres.stop("immediate")
            time.sleep(0.5)
            postgres.start()
        else:
            kill_service(service)

    return strike


def test_kills_of_the_service_on_sqlite(
    new_service: Callable[..., Service], fronts: dict[int, dict[str, bytes]]
) -> None:
    survives(new_service("--no-page", "--workers", "1"), 2, 2, random.Random(1), fronts, kill_service)


def test_kills_of_the_service_and_a_crash_of_the_database_on_postgres(
    new_service: Callable[..., Service], postgres: Postgres, fronts: dict[int, dict[str, bytes]]
) -> None:
    service = new_service("--no-page", "--workers", "1", "--database", postgres.url)
    survives(service, 2, 2, random.Random(2), fronts, restarted(postgres))
    assert PASSWORD not in service.log.read_text()


@pytest.mark.slow
@pytest.mark.timeout(3600)
def test_twenty_kills_on_sqlite(new_service: Callable[..., Service], fronts: dict[int, dict[str, bytes]]) -> None:
    service = new_service("--no-page", "--running", "2", "--workers", "1")
    survives(service, 20, 12, random.Random(3), fronts, kill_service)


@pytest.mark.slow
@pytest.mark.timeout(3600)
def test_twenty_kills_on_postgres(
    new_service: Callable[..., Service], postgres: Postgres, fronts: dict[int, dict[str, bytes]]
) -> None:
    service = new_service("--no-page", "--running", "2", "--workers", "1", "--database", postgres.url)
    survives(service, 27, 12, random.Random(4), fronts, restarted(postgres))  # every fourth is the database's


def pid_of(service: Service, job: str) -> int:
    """The process that works a job now."""
    told = [e for e in events.read(service.data / "jobs" / job / "events.jsonl", 0) if e.kind == "process"]
    return int(told[-1].data["pid"])


def first_progress(service: Service, job: str, after: int = 0) -> int:
    """Waits until a job has got somewhere; the id of the news."""
    for news in service.client.events(job, after):
        if news.kind == "progress":
            return news.id
    raise AssertionError("over before it began")


def test_a_job_whose_process_is_killed_goes_on_and_a_stopped_service_leaves_it_where_it_was(
    new_service: Callable[..., Service], fronts: dict[int, dict[str, bytes]]
) -> None:
    service = new_service("--no-page", "--workers", "1").start()
    job = service.client.submit(SMALL, seed=4)["id"]
    at = first_progress(service, job)
    pid = pid_of(service, job)
    os.kill(pid, signal.SIGKILL)
    first_progress(service, job, at)
    assert pid_of(service, job) != pid
    assert service.stop() == 0
    assert not alive(pid_of(service, job))
    run = json.loads((service.data / "runs" / job / "run.json").read_text())
    assert run["state"] in ("stopped", "running")
    service.start()
    assert service.client.wait(job)["state"] == "done"
    assert found(service.data / "runs" / job) == fronts[4]


def test_a_second_service_in_the_same_folder_is_sent_away(new_service: Callable[..., Service]) -> None:
    service = new_service("--no-page").start()
    second = Service(service.data, ("--no-page",))
    with contextlib.suppress(AssertionError):
        second.start()
    assert second.process is not None and second.process.wait() == 2
    assert "another service works in this folder" in second.log.read_text()


def test_a_key_makes_one_job_however_often_and_from_how_many_at_once(service: Service) -> None:
    made: list[str] = []
    threads = [
        threading.Thread(target=lambda: made.append(service.client.submit(SMALL, key="once")["id"])) for _ in range(12)
    ]
    for t in threads:
        t.start()
    for t in threads:
        t.join()
    assert len(made) == 12 and len(set(made)) == 1
    assert len([j for j in service.client.jobs(most=200) if j["id"] == made[0]]) == 1
    other = service.submit(SMALL, "?seed=99", Idempotency_Key="once")
    assert other.status == 422 and other.document["errors"][0]["field"] == "Idempotency-Key"
    service.client.cancel(made[0])
