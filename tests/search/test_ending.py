"""When a search ends before its budget, what it tells of what it tried, and goals that focus it."""

import pickle
from dataclasses import replace

import numpy as np
import pytest

from synth.problem.bounds import objective_box
from synth.search import run as running
from synth.search.pool import InProcess
from synth.search.run import search
from synth.search.state import State
from tests.near import near
from tests.samples import problem
from tests.search.runs import new, run, shares, told
from tests.search.toys import Toy, ToyEvaluator, work

TOY = Toy(levels=10, bias=0.05)
WIDE = {"archive": 1000, "front": 1000, "verifications": 3000}


def stopping(state: State, gain: float = 0.0, window: int = 0, limit: float = 0.0) -> State:
    state.settings = state.settings.stopping(gain, window, limit)
    return state


def test_a_stalled_envelope_gets_no_more_candidates_and_the_front_found_by_then_is_good() -> None:
    whole = run(TOY, new(TOY, 20_000, **WIDE))
    early = run(TOY, stopping(new(TOY, 20_000, **WIDE), 1e-3, 1500))
    assert whole.ended == ["budget", "budget"] or "nothing new left" in whole.ended
    assert early.ended == ["stalled", "stalled"]
    assert all(a < b / 2 for a, b in zip(early.evaluations, whole.evaluations, strict=True))
    assert min(shares(TOY, early)) > 0.99
    assert told(early) == told(run(TOY, stopping(new(TOY, 20_000, **WIDE), 1e-3, 1500)))


def test_a_window_without_gain_must_be_whole() -> None:
    outcome = run(TOY, stopping(new(TOY, 900, **WIDE), 1.0, 600))
    for e, spent in enumerate(outcome.evaluations):
        assert outcome.ended[e] == "stalled" and spent >= 600
    assert run(TOY, stopping(new(TOY, 500, **WIDE), 1.0, 600)).ended == ["budget", "budget"]


def test_at_the_time_limit_the_search_goes_to_verification_and_then_ends(monkeypatch: pytest.MonkeyPatch) -> None:
    clock = iter(np.arange(0.0, 1e6, 0.5))
    monkeypatch.setattr(running.time, "monotonic", lambda: float(next(clock)))
    state = stopping(new(TOY, 50_000, **WIDE), limit=10.0)
    outcome = run(TOY, state)
    assert outcome.state == "done" and outcome.ended == ["time limit", "time limit"]
    assert 10.0 <= state.elapsed_s < 11.5, "half a second a look at the clock, a few looks a round"
    assert any(m.verified for front in outcome.fronts for m in front)
    assert all(0 < n < 50_000 for n in outcome.evaluations)


def test_time_counts_over_interruptions(monkeypatch: pytest.MonkeyPatch) -> None:
    clock = iter(np.arange(0.0, 1e6, 0.5))
    monkeypatch.setattr(running.time, "monotonic", lambda: float(next(clock)))
    saved: list[bytes] = []

    def keep(state: State) -> None:
        saved.append(pickle.dumps(state))
        if len(saved) == 4:
            raise KeyboardInterrupt

    with InProcess(work, TOY) as pool:
        begun = stopping(new(TOY, 50_000, **WIDE), limit=10.0)
        first = search(begun, ToyEvaluator(TOY), pool, save=keep, save_every_s=0.0)
        state: State = pickle.loads(saved[3])
        assert first.state == "stopped" and 2.0 < state.elapsed_s < 6.0
        search(state, ToyEvaluator(TOY), pool)
    assert state.done and state.late and 10.0 <= state.elapsed_s < 11.5


def test_cells_that_were_tried_are_told_with_their_share_of_the_budget() -> None:
    outcome = run(TOY, new(TOY, 600))
    near(sum(c.share for c in outcome.cells), 1.0, rel=1e-12)
    assert sum(c.spent for c in outcome.cells) == sum(outcome.evaluations)
    assert sum(c.on_front for c in outcome.cells) == sum(m.feasible for front in outcome.fronts for m in front)
    assert sum(c.passed + c.failed for c in outcome.cells) == outcome.verifications


def test_what_a_family_fell_short_of_is_its_least_violation() -> None:
    toy = replace(TOY, impossible=True)
    outcome = run(toy, new(toy, 300))
    assert {e for e, _ in outcome.nearest} == {0, 1}
    for (e, family), (violation, worst, margin, _) in outcome.nearest.items():
        assert family in outcome.families[e] and outcome.families[e][family].feasible == 0
        assert violation > 0.0 and worst >= 0 and -violation <= margin < 0.0
    ends = [m.violation for front in outcome.fronts for m in front]
    assert min(v for v, *_ in outcome.nearest.values()) <= min(ends) + 0.2


def test_a_goal_takes_the_place_of_the_reference_where_it_asks_for_more() -> None:
    objectives = ["mass", "first_mode", "surface_rms"]
    plain = problem(search={"objectives": objectives})
    low, high = objective_box(plain, plain.envelope[0]) or ((), ())
    asked = problem(search={"objectives": objectives, "goals": {"mass": "30 kg", "first_mode": "0.05 Hz"}})
    focused = objective_box(asked, asked.envelope[0])
    assert focused is not None and focused[0] == low
    near(focused[1], [30.0, -0.05, high[2]], rel=1e-12)
    far = problem(search={"objectives": objectives, "goals": {"mass": "1 g"}})
    assert objective_box(far, far.envelope[0]) == (low, high), "a goal that nothing can meet leaves the box as it is"
