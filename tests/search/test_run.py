import copy
import pickle

import numpy as np
import pytest

from synth.search.pool import InProcess
from synth.search.progress import Progress
from synth.search.run import SearchFailed, advance, search
from synth.search.types import Goals, Scores, Task
from tests.search.runs import new, points, run, shares, told
from tests.search.toys import Toy, ToyEvaluator, figures, work

TOY = Toy(bias=0.05)
WIDE = {"archive": 1000, "front": 1000, "verifications": 3000}


@pytest.mark.parametrize("seed", [1, 2])
def test_the_search_finds_the_front_that_listing_all_designs_finds(seed: int) -> None:
    toy = Toy(levels=10, bias=0.05)  # 24 cells of 1,000 designs
    outcome = run(toy, new(toy, 2400, seed, **WIDE))
    assert min(shares(toy, outcome)) > 0.995
    assert outcome.evaluations == [2400, 2400]
    # not vacuous: a twelfth of the budget does not get there
    assert min(shares(toy, run(toy, new(toy, 200, seed, **WIDE)))) < 0.99


def test_every_row_shown_is_verified_feasible_and_dominated_by_none() -> None:
    outcome = run(TOY, new(TOY, 600))
    for e, front in enumerate(outcome.fronts):
        assert front and all(m.verified and m.feasible and m.violation == 0.0 for m in front)
        f = points(outcome, e)
        for k in range(len(f)):
            worse = (f[k] <= f).all(axis=1)
            assert worse.sum() == 1
        for m in front:
            settled, margins = figures(TOY, m.cell, m.x[None], True)
            assert (settled[0] == m.objectives).all() and (margins[0, e] >= 0.0).all()


def test_the_budget_is_spent_to_the_candidate_in_every_envelope() -> None:
    for evaluations in (1, 7, 100, 333):
        outcome = run(TOY, new(TOY, evaluations))
        assert outcome.evaluations == [evaluations, evaluations]
        for e in range(2):
            counts = outcome.families[e]
            assert sum(c.evaluations for c in counts.values()) == evaluations
            assert sum(c.on_front for c in counts.values()) == sum(m.feasible for m in outcome.fronts[e])
            assert all(c.feasible <= c.evaluations for c in counts.values())


def test_what_is_still_to_verify_is_told_once_the_budget_is_spent() -> None:
    heard: list[Progress] = []
    state = new(TOY, 600)
    outcome = search(state, ToyEvaluator(TOY), InProcess(work, TOY), watch=heard.append)
    searching = [n for n in heard if n.phase == "search"]
    verifying = [n.to_verify for n in heard if n.phase == "verify"]
    assert searching and not any(n.to_verify for n in searching)
    assert max(verifying) > 0 and verifying[-1] == 0
    assert all(m.verified for front in outcome.fronts for m in front)
    assert max(verifying) <= sum(state.settings.front for _ in outcome.fronts)


def test_the_same_seed_finds_the_same_and_another_seed_something_else() -> None:
    first = told(run(TOY, new(TOY, 300)))
    assert first == told(run(TOY, new(TOY, 300)))
    assert first != told(run(TOY, new(TOY, 300, seed=2)))


def test_a_run_that_is_cut_at_any_round_and_taken_up_again_ends_the_same() -> None:
    whole = run(TOY, new(TOY, 250))
    state, pool, evaluator = new(TOY, 250), InProcess(work, TOY), ToyEvaluator(TOY)
    while not state.done:
        kept = pickle.dumps(state)
        advance(state, evaluator, pool)  # this round is lost
        state = pickle.loads(kept)
        advance(state, evaluator, pool)
    again = search(state, evaluator, pool)
    assert told(again) == told(whole)
    assert again.history == whole.history and again.rounds == whole.rounds


def test_a_stopped_search_tells_what_it_verified_so_far_and_goes_on_to_the_same_end() -> None:
    calls = 0
    saved: list[bytes] = []

    def stop() -> bool:
        nonlocal calls
        calls += 1
        return calls > 160

    state = new(TOY, 600)
    with InProcess(work, TOY) as pool:
        stopped = search(
            state, ToyEvaluator(TOY), pool, save=lambda s: saved.append(pickle.dumps(s)), save_every_s=0.0, stop=stop
        )
        assert stopped.state == "stopped" and 0 < sum(stopped.evaluations) < 1200
        assert all(m.verified for front in stopped.fronts for m in front if m.feasible)
        resumed = search(pickle.loads(saved[-1]), ToyEvaluator(TOY), pool)
    assert resumed.state == "done"
    assert told(resumed) == told(run(TOY, new(TOY, 600)))


def test_a_larger_envelope_never_has_the_worse_front() -> None:
    for seed in range(3):
        outcome = run(TOY, new(TOY, 400, seed, front=25, verifications=60))
        small, large = points(outcome, 0), points(outcome, 1)
        for p in small:
            assert (large <= p).all(axis=1).any()


def test_where_nothing_is_feasible_the_ten_least_violators_are_told() -> None:
    toy = Toy(impossible=True)
    outcome = run(toy, new(toy, 400))
    for e, front in enumerate(outcome.fronts):
        assert outcome.blocked[e] and outcome.hypervolume[e] == 0.0
        assert len(front) == 10 and not any(m.feasible for m in front)
        violations = [m.violation for m in front]
        assert violations == sorted(violations) and violations[0] > 0.0
        assert all(m.verified for m in front)  # settled, so that what blocks is told in settled figures


def test_nothing_is_spent_on_an_envelope_that_bounds_rule_out() -> None:
    goals = Goals(TOY.goals.names, np.array([[np.nan] * 3, [0.0] * 3]), np.array([[np.nan] * 3, [1.0, 3.0, 1.5]]))
    state = new(TOY, 200)
    state.goals = goals
    for archive in state.archives:
        archive.scale = goals.normalised
    outcome = run(TOY, state)
    assert outcome.evaluations == [0, 200]
    assert outcome.fronts[0] == [] and not outcome.blocked[0] and len(outcome.fronts[1]) > 5


def test_rows_that_break_the_evaluation_are_set_aside_and_the_rest_counts() -> None:
    toy = Toy(levels=1001, crash="raise")
    outcome = run(toy, new(toy, 600))
    assert outcome.evaluations == [600, 600] and outcome.fronts[0]
    assert outcome.aside and all("breaks the evaluation" in reason for _, _, _, reason in outcome.aside)
    assert all("n=4" in cell and x[0] > 0.8 for _, cell, x, _ in outcome.aside)


def test_figures_that_are_not_finite_never_reach_a_front() -> None:
    toy = Toy(levels=1001, crash="rubbish")
    outcome = run(toy, new(toy, 600))
    assert any("not finite" in reason for _, _, _, reason in outcome.aside)
    assert all(np.isfinite(m.objectives).all() for front in outcome.fronts for m in front)


def broken(toy: Toy, task: Task) -> Scores:
    raise RuntimeError("no library")


def misshapen(toy: Toy, task: Task) -> Scores:
    right = work(toy, task)
    return Scores(right.objectives[:, :1], right.violation, right.reason)


@pytest.mark.parametrize(("bad", "word"), [(broken, "no library"), (misshapen, "wrong shape")])
def test_a_search_in_which_nothing_can_be_evaluated_says_so(bad: object, word: str) -> None:
    with InProcess(bad, TOY) as pool, pytest.raises(SearchFailed, match=word):  # type: ignore[arg-type]
        search(new(TOY, 600), ToyEvaluator(TOY), pool)


def test_history_rises_with_the_evaluations_and_holds_every_family() -> None:
    outcome = run(TOY, new(TOY, 400))
    for e in range(2):
        rows = [(n, v) for envelope, family, n, v in outcome.history if envelope == e and family == "all"]
        assert [n for n, _ in rows] == sorted(n for n, _ in rows) and rows[-1][0] == 400
        assert rows[-1][1] > rows[2][1] > 0.0
        families = {f for envelope, f, _, _ in outcome.history if envelope == e}
        assert families == {"all", "fan", "roll", "stack"}


def test_a_state_is_plain_data() -> None:
    state = new(TOY, 300)
    run(TOY, state)
    body = pickle.dumps(state)
    assert len(body) < 600_000
    assert told_state(copy.deepcopy(state)) == told_state(pickle.loads(body))


def told_state(state: object) -> list[str]:
    return [c.id for a in state.archives for c in a.members]  # type: ignore[attr-defined]
