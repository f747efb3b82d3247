"""Jobs from submission to result through HTTP: the same front as the command, in every state, named faults."""

import json
from pathlib import Path

import pytest

from synth.app.running import run_problem
from synth.service.client import News
from tests.service.served import LONG, SMALL, Service


@pytest.fixture(scope="module")
def by_command(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The run folder that `stowfront run` makes of the small problem."""
    folder = tmp_path_factory.mktemp("command")
    (folder / "p.toml").write_text(SMALL)
    return run_problem(folder / "p.toml", folder / "run", None, None, 0).folder


@pytest.fixture(scope="module")
def done(one_service: Service) -> str:
    """A job of the small problem that is done."""
    job = one_service.submit(SMALL).document
    assert job["state"] == "queued"
    ended = one_service.client.wait(job["id"])
    assert (ended["state"], ended["message"]) == ("done", ""), one_service.log.read_text()
    return str(job["id"])


def test_a_job_finds_what_the_command_finds_byte_for_byte(service: Service, done: str, by_command: Path) -> None:
    assert service.client.file(done, "front.csv") == (by_command / "front.csv").read_bytes()
    assert service.client.file(done, "history.csv") == (by_command / "history.csv").read_bytes()
    for record in sorted((by_command / "candidates").glob("*.json")):
        assert service.client.file(done, f"candidates/{record.stem}") == record.read_bytes()
    exit_code = service.client.job(done)["exit_code"]
    run = json.loads((by_command / "run.json").read_text())
    feasible = any(f["on_front"] for e in run["envelopes"] for f in e["families"].values())
    assert exit_code == (0 if feasible else 3)


def test_news_come_once_each_in_order_and_go_on_after_a_given_one(service: Service, done: str) -> None:
    news: list[News] = list(service.client.events(done))
    kinds = [n.kind for n in news]
    assert kinds[0] == "state" and kinds[-1] == "state" and "progress" in kinds
    assert [n.data["state"] for n in news if n.kind == "state"] == ["queued", "running", "done"]
    assert [n.id for n in news] == sorted({n.id for n in news})
    assert list(service.client.events(done, after=news[2].id)) == news[3:]
    last = [n for n in news if n.kind == "progress"][-1].data
    assert {e["name"] for e in last["envelopes"]} == {"drawer", "tube"}
    assert all(set(e["families"]) <= {"accordion", "wing"} for e in last["envelopes"])


def test_a_running_job_is_cancelled_within_seconds_and_resumed_and_a_queued_one_at_once(service: Service) -> None:
    first, second = (service.submit(LONG).document["id"] for _ in range(2))
    for news in service.client.events(first):
        if news.kind == "progress":
            break
    assert service.client.job(second)["state"] == "queued"
    assert service.client.cancel(second)["state"] == "stopped"
    assert service.client.cancel(first)["stopping"]
    stopped = service.client.wait(first)
    assert (stopped["state"], stopped["exit_code"]) == ("stopped", 130)
    assert stopped["finished"] is not None
    assert service.ask("POST", f"/api/v1/jobs/{first}/cancel").status == 409
    assert service.client.resume(first)["attempt"] == 2
    assert service.ask("DELETE", f"/api/v1/jobs/{first}").status == 409
    service.client.cancel(first)
    assert service.client.wait(first)["state"] == "stopped"
    service.client.delete(first)
    service.client.delete(second)
    assert service.ask("GET", f"/api/v1/jobs/{first}").status == 404
    assert not (service.data / "runs" / first).exists() and not (service.data / "jobs" / first).exists()
