from collections.abc import Sequence

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from synth.core.arrays import Floats
from synth.search.archive import Archive, share, thin
from synth.search.candidate import Candidate


def plain(_: int, objectives: Floats) -> Floats:
    return objectives


def candidate(name: str, objectives: Sequence[float], violation: float = 0.0) -> Candidate:
    f = np.array([objectives], dtype=float)
    v = np.array([violation])
    return Candidate(name, 0, np.zeros(2), f, v, None, f, v)


def archive(cap: int = 1000, objectives: int = 3) -> Archive:
    return Archive(0, cap, plain, points=np.zeros((0, objectives)))


POINT = st.tuples(*(st.integers(0, 9).map(lambda k: k / 10) for _ in range(3)))
POINTS = st.lists(POINT, min_size=1, max_size=30)


@given(POINTS)
def test_members_are_mutually_nondominated_and_meet_every_point_offered(points: list[tuple[float, ...]]) -> None:
    held = archive()
    for k, p in enumerate(points):
        held.offer([candidate(f"{k:02d}", p)])
    values = held.points
    for a in range(len(values)):
        for b in range(len(values)):
            assert a == b or not (values[a] <= values[b]).all()
    for p in points:
        assert any((m <= np.array(p)).all() for m in values)


@given(POINTS, st.randoms(use_true_random=False), st.integers(1, 7))
def test_the_order_and_the_batches_of_offers_do_not_matter(points: list[tuple[float, ...]], random, size: int) -> None:  # type: ignore[no-untyped-def]
    candidates = [candidate(f"{k:02d}", p) for k, p in enumerate(points)]
    first, second = archive(), archive()
    first.offer(candidates)
    shuffled = list(candidates)
    random.shuffle(shuffled)
    for k in range(0, len(shuffled), size):
        second.offer(shuffled[k : k + size])
    assert [c.id for c in first.members] == [c.id for c in second.members]
    assert (first.points == second.points).all()


@given(st.integers(0, 10**6))
@settings(max_examples=25)
def test_a_full_archive_keeps_the_extremes_and_nearly_all_of_its_volume(seed: int) -> None:
    rng = np.random.default_rng(seed)
    points = np.abs(rng.standard_normal((200, 3)))
    points = 1.0 - 0.95 * points / np.linalg.norm(points, axis=1, keepdims=True)
    held = archive(cap=40)
    for k in range(0, 200, 20):
        held.offer([candidate(f"{j:03d}", points[j]) for j in range(k, k + 20)])
    assert len(held.members) <= 50
    held.cut(40)
    assert len(held.members) == 40
    assert (held.points.min(axis=0) == points.min(axis=0)).all()
    # random forty of these points hold about 80 % of the volume; forty well chosen ones most of it
    assert held.hypervolume() > 0.88 * share(points)
    assert len({c.id for c in [*held.members, *held.reserve]}) <= 200


def test_what_must_stay_stays_when_a_front_is_thinned() -> None:
    line = np.linspace(0.05, 0.95, 30)
    points = np.stack([line, 1.0 - line], axis=1)
    crowded = np.concatenate([points, [[0.5001, 0.4999]]])
    assert 30 not in thin(crowded, 12)
    rows = thin(crowded, 12, always=[30])
    assert 30 in rows and 0 in rows and 29 in rows and len(rows) == 12
    assert len(thin(crowded, 2, always=range(31))) == 31
    assert thin(points, 50).tolist() == list(range(30))


def test_infeasible_and_refused_candidates_do_not_enter() -> None:
    held = archive(objectives=2)
    refused = candidate("r", (0.1, 0.1))
    refused.settled = True
    assert held.offer([candidate("v", (0.1, 0.1), violation=0.2), refused, candidate("g", (0.5, 0.5))]) == 1
    assert [c.id for c in held.members] == ["g"]


def test_what_a_fallen_member_hid_comes_back() -> None:
    held = archive(objectives=2)
    best = candidate("a", (0.1, 0.1))
    held.offer([candidate("b", (0.3, 0.2)), candidate("c", (0.2, 0.4)), best])
    assert [c.id for c in held.members] == ["a"]
    assert held.wanted(np.array([[0.15, 0.15], [0.05, 0.9]]), np.array([True, True])).all()
    held.offer([candidate("d", (0.15, 0.15))])
    best.settled, best.verified = True, False
    held.refresh()
    assert [c.id for c in held.members] == ["d"]
    held.members[0].settled = True
    held.refresh()
    assert [c.id for c in held.members] == ["c", "b"]


def test_the_same_candidate_is_taken_once() -> None:
    held = archive(objectives=2)
    assert held.offer([candidate("a", (0.1, 0.1))]) == 1
    assert held.offer([candidate("a", (0.1, 0.1)), candidate("b", (0.1, 0.1))]) == 0
    assert len(held.members) == 1
    assert held.hypervolume() == 0.81
