"""What the pool does with answers, losses and machines, against a made-up cluster (no Ray)."""

import logging
import time
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import pytest

from synth.search.pool import InProcess, Interrupted
from synth.search.processes import PoolFailed
from synth.search.types import Failed, Result, Task
from tests.search.test_processes import same, tasks
from tests.search.toys import Toy, work
from workers.link import Lost
from workers.ray_pool import RayPool
from workers.tasks import Answered, Chunk, Refused, Reply
from workers.versions import CODE, LIBRARIES, differences, mine

TOY = Toy()
Fate = Callable[[Chunk, int], Reply | Lost | None]
"""What becomes of a chunk that is sent for the n-th time in all; None: it hangs."""


class Cluster:
    """A made-up way to a cluster: chunks come back in any order, with the fate that a test gives them."""

    address, cargo = "somewhere:1", "toy"

    def __init__(self, fate: Fate | None = None, slots: Sequence[int | None] = (2,), seed: int = 0) -> None:
        self.fate, self.counts, self.chance = fate or answered, list(slots), np.random.default_rng(seed)
        self.sent: list[Chunk] = []
        self.most = self.cancelled = 0
        self.flying: dict[int, Chunk] = {}
        self.ends: set[int] = set()
        self.here, self.closed = True, False

    def slots(self) -> int | None:
        return self.counts.pop(0) if len(self.counts) > 1 else self.counts[0]

    def send(self, chunk: Chunk) -> int:
        self.sent.append(chunk)
        self.flying[chunk.number] = chunk
        self.most = max(self.most, len(self.flying))
        return chunk.number

    def ready(self, handles: Sequence[Any], timeout_s: float) -> list[Any]:
        able = [h for h in handles if h in self.ends or self.fate(self.flying[h], len(self.sent)) is not None]
        if not able:
            time.sleep(0.01)
            return []
        return [able[int(self.chance.integers(len(able)))]]

    def take(self, handle: Any) -> Reply | Lost:
        chunk = self.flying.pop(handle)
        reply = Lost("cancelled", "cancelled") if handle in self.ends else self.fate(chunk, len(self.sent))
        assert reply is not None
        return reply

    def cancel(self, handle: Any) -> None:
        self.ends.add(handle)
        self.cancelled += 1

    def who(self, run: str, number: int) -> str | None:
        return "17@there"

    def forget(self, run: str) -> None:
        pass

    def alive(self) -> bool:
        return self.here

    def close(self) -> None:
        self.closed = True


def answered(chunk: Chunk, _: int = 0) -> Answered:
    return Answered([work(TOY, t) for t in chunk.tasks], "17@there", 1e-4 * len(chunk.tasks))


def over(cluster: Cluster, **other: Any) -> RayPool:
    return RayPool(work, TOY, way=cluster, **other)


def right(answers: Sequence[Result], asked: Sequence[Task]) -> bool:
    with InProcess(work, TOY) as one:
        return all(same(a, b) for a, b in zip(answers, one.map(asked), strict=True))


@pytest.mark.parametrize("seed", range(5))
def test_answers_keep_their_order_however_they_arrive(seed: int) -> None:
    cluster, asked = Cluster(seed=seed), tasks(23)
    pool = over(cluster)
    assert right(pool.map(asked), asked)
    assert right(pool.map(asked), asked)
    assert pool.map([]) == []
    assert sum(len(c.tasks) for c in cluster.sent) == 46  # each task once
    assert pool.state().retries == 0 and pool.state().workers == 2 and pool.state().in_flight == 0


def test_cheap_tasks_are_sent_together_once_their_pace_is_known_and_never_more_than_can_be_worked() -> None:
    cluster, asked = Cluster(slots=(4,)), [Task(t.cell, t.X, cost=1.0) for t in tasks(400)]
    pool = over(cluster)
    pool.map(asked)
    sizes = [len(c.tasks) for c in cluster.sent]
    assert sizes[0] == 1 and max(sizes) >= 20
    assert len(cluster.sent) >= 3 * 4  # yet every worker gets several
    assert cluster.most == 8

    def slow(chunk: Chunk, _: int) -> Answered:
        return Answered([work(TOY, t) for t in chunk.tasks], "17@there", 1.0 * len(chunk.tasks))

    cluster = Cluster(slow)
    over(cluster).map(asked[:40])
    assert {len(c.tasks) for c in cluster.sent} == {1}


def test_a_lost_chunk_is_sent_again_one_by_one_and_only_what_is_alone_is_blamed() -> None:
    killer = 37

    def fate(chunk: Chunk, _: int) -> Reply | Lost:
        if any(t.cost == killer for t in chunk.tasks):
            return Lost("crash", "the worker process died")
        return answered(chunk)

    asked = [Task(t.cell, t.X, cost=float(k + 1)) for k, t in enumerate(tasks(60))]
    cluster = Cluster(fate)
    pool = over(cluster, attempts=3)
    answers = pool.map(asked)
    assert answers[killer - 1] == Failed("the worker process died")
    rest = [k for k in range(60) if k != killer - 1]
    assert right([answers[k] for k in rest], [asked[k] for k in rest])
    alone = [c for c in cluster.sent if len(c.tasks) == 1 and c.tasks[0].cost == killer]
    assert len(alone) == 3
    assert pool.state().failed == 1 and "17@there: the worker process died" in pool.state().note


def test_a_task_whose_machine_goes_away_is_not_blamed(caplog: pytest.LogCaptureFixture) -> None:
    def fate(chunk: Chunk, count: int) -> Reply | Lost:
        return Lost("node", "NodeDiedError: it is gone") if count <= 20 else answered(chunk)

    cluster, asked = Cluster(fate), tasks(3)
    pool = over(cluster, attempts=2)
    with caplog.at_level(logging.WARNING):
        assert right(pool.map(asked), asked)
    assert pool.state().failed == 0 and pool.state().retries >= 15
    assert "worker 17@there: NodeDiedError: it is gone" in caplog.messages


def test_a_hung_task_is_cancelled_after_its_deadline_counted_from_its_start() -> None:
    asked = tasks(4)
    begun = time.monotonic()

    def fate(chunk: Chunk, _: int) -> Reply | None:
        return None if chunk.tasks[0].cost == 3.0 else answered(chunk)

    cluster = Cluster(fate)
    pool = over(cluster, deadline_s=0.2, attempts=2)
    answers = pool.map(asked)
    assert 0.4 <= time.monotonic() - begun < 5.0
    assert answers[3] == Failed("no answer within 0 s") and cluster.cancelled == 2
    assert right(answers[:3], asked[:3])

    class Queue(Cluster):
        def who(self, run: str, number: int) -> str | None:
            return None  # nobody began: the cluster is busy with other people's work

    waits = Queue(lambda chunk, _: answered(chunk) if time.monotonic() - later > 0.6 else None)
    later = time.monotonic()
    assert right(over(waits, deadline_s=0.2, attempts=1).map(asked), asked)
    assert waits.cancelled == 0


def test_rubbish_is_no_answer() -> None:
    def fate(chunk: Chunk, _: int) -> Answered:
        return Answered([], "17@there", 0.1)

    assert all(isinstance(a, Failed) for a in over(Cluster(fate)).map(tasks(3)))


def test_what_cannot_go_on_is_told() -> None:
    def strange(chunk: Chunk, _: int) -> Refused:
        return Refused("17@there", "numpy 1.0 (there 2.0)")

    with pytest.raises(PoolFailed, match=r"17@there has other versions .* numpy 1.0 .there 2.0."):
        over(Cluster(strange)).map(tasks(3))
    with pytest.raises(PoolFailed, match="cannot run the tasks: ModuleNotFoundError"):
        over(Cluster(lambda *_: Lost("fault", "ModuleNotFoundError"))).map(tasks(3))
    gone = Cluster(lambda *_: None)
    gone.here = False
    with pytest.raises(PoolFailed, match="connection to the cluster at somewhere:1 is lost"):
        over(gone).map(tasks(3))


def test_a_stop_cancels_what_is_under_way_and_leaves_the_pool_of_use() -> None:
    hang = [True]
    cluster = Cluster(lambda chunk, _: None if hang[0] else answered(chunk))
    pool, begun = over(cluster), time.monotonic()
    with pytest.raises(Interrupted):
        pool.map(tasks(5), stop=lambda: time.monotonic() - begun > 0.1)
    assert time.monotonic() - begun < 1.0 and cluster.cancelled == 4
    hang[0] = False
    assert right(pool.map(tasks(5)), tasks(5))
    pool.close()
    assert cluster.closed


def test_it_waits_while_a_cluster_has_no_workers(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("workers.ray_pool.SLOTS_EVERY_S", 0.0)
    cluster = Cluster(slots=(0, 0, None, 0, 3))
    pool = over(cluster)
    assert right(pool.map(tasks(6)), tasks(6))
    assert pool.state().workers == 3


def test_versions_tell_the_code_apart() -> None:
    here = mine()
    assert len(here[CODE]) == 12 and {"python", "stowfront", *LIBRARIES} < set(here)
    assert differences(here, {**here, "scipy": "0.1"}) == f"scipy {here['scipy']} (there 0.1)"
    assert differences(here, here) == differences(here, {}) == ""
