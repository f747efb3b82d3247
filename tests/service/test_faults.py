"""Disks that are full, databases that are away, clients that do not read, backups read back, limits reached."""

import json
import os
import re
import resource
import shutil
import socket
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from synth.app.running import run_problem
from synth.service import events
from tests.service.postgres import Postgres
from tests.service.served import LONG, SMALL, Service, leave_idle
from tests.service.test_crashes import first_progress, found, pid_of

HALF = SMALL.replace("evaluations = 24", "evaluations = 48")


@pytest.fixture(scope="module")
def front(tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    """What an undisturbed run of HALF finds."""
    folder = tmp_path_factory.mktemp("undisturbed")
    (folder / "p.toml").write_text(HALF)
    return found(run_problem(folder / "p.toml", folder / "run", None, None, 0).folder)


def may_write(pid: int, most: int) -> None:
    """No file of that process may grow beyond so many bytes: what a full disk does, without filling one."""
    resource.prlimit(pid, resource.RLIMIT_FSIZE, (most, resource.RLIM_INFINITY))


def test_a_job_on_a_full_disk_fails_in_words_and_goes_on_once_there_is_room(
    new_service: Callable[..., Service], front: dict[str, bytes]
) -> None:
    service = new_service("--no-page", "--workers", "1").start()
    job = service.client.submit(HALF)["id"]
    first_progress(service, job)
    may_write(pid_of(service, job), 2000)
    failed = service.client.wait(job)
    assert failed["state"] == "failed" and "cannot be written" in failed["message"], failed
    assert failed["exit_code"] == 1 and str(service.data) not in failed["message"]
    service.client.resume(job)
    assert service.client.wait(job)["state"] == "done"
    assert found(service.data / "runs" / job) == front


def test_a_service_on_a_full_disk_refuses_what_it_cannot_keep_and_takes_it_later(
    new_service: Callable[..., Service],
) -> None:
    service = new_service("--no-page").start()
    running = service.submit(LONG).document["id"]
    assert service.process is not None
    may_write(service.process.pid, 4096)
    refused = service.submit(SMALL + "# " + "x" * 100_000)
    assert refused.status == 503 and int(refused.headers["retry-after"]) > 0, refused
    assert "/tmp" not in refused.body.decode() and "INSERT" not in refused.body.decode()
    assert service.ask("GET", f"/api/v1/jobs/{running}").status == 200
    may_write(service.process.pid, resource.RLIM_INFINITY)
    assert service.submit(SMALL).status == 201
    assert len(list(service.client.jobs())) == 2


def test_a_database_that_is_away_is_told_and_comes_back(
    new_service: Callable[..., Service], postgres: Postgres, front: dict[str, bytes], tmp_path: Path
) -> None:
    service = new_service("--no-page", "--workers", "1", "--database", postgres.url).start()
    job = service.client.submit(HALF)["id"]
    first_progress(service, job)
    postgres.stop("immediate")
    assert service.ask("GET", "/api/v1/health").status == 200
    for method, path in (("GET", "ready"), ("GET", "jobs"), ("GET", f"jobs/{job}"), ("POST", f"jobs/{job}/cancel")):
        answer = service.ask(method, f"/api/v1/{path}")
        assert answer.status == 503 and "the database does not answer" in answer.document["detail"], path
        assert re.search(r"127\.0\.0\.1|password|SELECT", answer.body.decode()) is None
    assert service.submit(SMALL).status == 503
    postgres.start()
    assert service.client.wait(job)["state"] == "done"
    assert found(service.data / "runs" / job) == front

    # the backup of docs/service.md, read back after everything was lost
    waiting = service.client.submit(LONG)["id"]
    assert service.stop() == 0
    postgres.dump(tmp_path / "backup.sql")
    shutil.copytree(service.data, tmp_path / "backup")
    shutil.rmtree(service.data)
    shutil.copytree(tmp_path / "backup", service.data)
    postgres.restore(tmp_path / "backup.sql")
    service.start()
    assert service.client.file(job, "front.csv") == front["front.csv"]
    assert service.client.cancel(waiting)["id"] == waiting


def test_a_copy_of_the_folder_is_a_backup(
    new_service: Callable[..., Service], front: dict[str, bytes], tmp_path: Path
) -> None:
    service = new_service("--no-page", "--workers", "1").start()
    first, second = service.client.submit(HALF, key="0")["id"], service.client.submit(LONG, key="1")["id"]
    first_progress(service, first)
    assert service.stop() == 0
    shutil.copytree(service.data, tmp_path / "restored")
    shutil.rmtree(service.data)
    for file in (tmp_path / "restored").glob("queue.sqlite*"):
        file.unlink()  # what waits is queued anew from the table
    restored = new_service("--no-page", "--workers", "1", data="restored").start()
    assert restored.client.wait(first)["state"] == "done"
    assert found(restored.data / "runs" / first) == front
    assert restored.client.submit(HALF, key="0")["id"] == first
    assert restored.client.job(second)["state"] in ("queued", "running")


def resident(service: Service) -> int:
    """Bytes of memory of the service's own process."""
    text = service.ask("GET", "/api/v1/metrics").body.decode()
    return int(re.search(r"^stowfront_resident_bytes (\d+)$", text, re.M)[1])  # type: ignore[index]


def test_clients_that_do_not_read_cost_little_and_miss_nothing(service: Service) -> None:
    job = service.submit(SMALL).document["id"]
    service.client.cancel(job)
    file = service.data / "jobs" / job / "events.jsonl"
    line = json.dumps({"event": "progress", "at": 0.0, "filler": "x" * 900}) + "\n"
    with open(file, "a", encoding="utf-8") as out:
        out.writelines(line for _ in range(20_000))
    list(service.client.events(job, after=file.stat().st_size - 2 * len(line)))
    before = resident(service)
    request = f"GET /api/v1/jobs/{job}/events HTTP/1.1\r\nHost: 127.0.0.1:{service.port}\r\n\r\n".encode()
    slow = []
    for _ in range(30):
        slow.append(socket.create_connection(("127.0.0.1", service.port)))
        slow[-1].sendall(request)
    times = []
    for _ in range(20):
        begun = time.monotonic()
        assert service.ask("GET", f"/api/v1/jobs/{job}").status == 200
        times.append(time.monotonic() - begun)
    assert sorted(times)[10] < 1.0
    assert resident(service) - before < 60e6  # 20 MB of news for each of 30 clients would be 600 MB
    for connection in slow[1:]:
        connection.close()
    slow[0].settimeout(30.0)
    got = b""
    while b"0\r\n\r\n" not in got[-4096:]:
        piece = slow[0].recv(1 << 20)
        if not piece:
            break
        got += piece
    ids = [int(m) for m in re.findall(rb"^id: (\d+)\r?$", got, re.M)]
    assert len(ids) == len(events_of(file)) and ids == sorted(set(ids))
    slow[0].close()


def events_of(file: Path) -> list[events.Event]:
    """All news of a file."""
    out: list[events.Event] = []
    while more := events.read(file, out[-1].id if out else 0):
        out += more
    return out


def test_limits_are_told_with_what_is_allowed(limited: Service) -> None:
    too_long = limited.submit(SMALL, "?evaluations=501")
    assert too_long.status == 422 and too_long.document["errors"][0]["field"] == "search.evaluations"
    assert "at most 500" in too_long.document["detail"]
    assert [limited.submit(LONG, "?evaluations=500").status for _ in range(3)] == [201, 201, 429]
    full = limited.submit(SMALL)
    leave_idle(limited)
    assert full.status == 429 and "2 jobs are waiting or running" in full.document["detail"]


def test_news_half_written_by_a_killed_process_are_passed_over(tmp_path: Path) -> None:
    file = tmp_path / "events.jsonl"
    events.append(file, "state", {"state": "queued"})
    with open(file, "ab") as out:
        out.write(b'{"event": "progress", "seco')
    assert [e.kind for e in events.read(file, 0)] == ["state"]
    events.append(file, "state", {"state": "running"})
    told = events.read(file, 0)
    assert [e.data["state"] for e in told] == ["queued", "running"]
    assert events.read(file, told[0].id) == told[1:] and events.read(file, told[1].id) == []
    assert events.read(file, told[0].id - 3) == told[1:]  # a place inside a line
    assert events.latest(file, "state") == told[1].data
    assert os.path.getsize(file) == told[1].id
