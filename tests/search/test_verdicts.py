import numpy as np

from synth.search.candidate import Candidate
from synth.search.correction import Correction
from tests.near import near
from tests.search.runs import new, run, shares
from tests.search.toys import Toy, figures

WIDE = {"archive": 1000, "front": 1000, "verifications": 3000}


def test_cells_that_verification_refuses_die_and_the_front_is_that_of_the_rest() -> None:
    toy = Toy(levels=10, refuses=(("fan", 2), ("stack", 3), ("roll", 4)))
    state = new(toy, 2400, **WIDE)
    outcome = run(toy, state)
    assert min(shares(toy, outcome)) > 0.99
    shown = {(m.cell.family, m.cell.n) for front in outcome.fronts for m in front}
    assert not shown & set(toy.refuses)
    refused = [c for c in state.cells if (c.family, c.cell.n) in toy.refuses and c.failed]
    assert refused and all(c.passed == 0 for c in refused)
    ended = [c for c in refused if c.cause == "verification refused it again and again"]
    assert ended
    # a dead cell gets no more than a few verifications beyond those that ended it
    assert max(c.failed for c in ended) <= state.settings.failures + 24


def test_an_optimistic_cheap_order_is_corrected_by_what_verification_settled() -> None:
    honest, biased = Toy(levels=10), Toy(levels=10, bias=0.6)
    state = new(biased, 2400, **WIDE)
    outcome = run(biased, state)
    assert min(shares(biased, outcome)) > 0.99
    learned = [c.correction for c in state.cells if c.alive and len(c.correction.ratios) > 4]
    assert learned
    for cell in state.cells:
        if cell.alive and cell.correction.ratio is not None:
            bias = 1.0 + 0.6 * (1 + ("fan", "roll", "stack").index(cell.family)) / 3
            assert near(cell.correction.ratio[0], [1.0, 1.0, bias], rel=1e-9)
    # few verifications are lost on what does not hold once settled
    settled = list(state.verdicts.values())
    short = sum(bool((c.violation > 0.0).all()) for c in settled)
    assert short < 0.15 * len(settled)
    assert run(honest, new(honest, 300)).hypervolume[0] > 0.0


def candidate(objectives: list[float], margins: list[float]) -> Candidate:
    f, m = np.array([objectives]), np.array([margins])
    v = np.maximum(-m, 0.0).sum(axis=1)
    return Candidate("x", 0, np.zeros(1), f, v, m, f, v)


def test_a_correction_scales_objectives_and_shifts_margins() -> None:
    learned = Correction()
    raw = np.array([[[2.0, -10.0]]])
    assert learned.objectives(raw) is raw
    learned.learn(candidate([1.0, -20.0], [0.3, 0.1]), np.array([[1.1, -19.0]]), np.array([[0.3, 0.05]]))
    assert near(learned.objectives(raw)[0, 0], [2.2, -9.5], rel=1e-12)
    margins = np.array([[[0.02, 0.02]], [[0.02, 0.06]], [[-0.5, 0.06]]])
    computed = np.maximum(-margins, 0.0).sum(axis=2)
    assert near(learned.violation(computed, margins)[:, 0], [0.03, 0.0, 0.5], rel=1e-9, abs=1e-15)
    # what fails for another reason than a margin stays failed
    assert near(learned.violation(computed + 7.0, margins)[:, 0], [7.03, 7.0, 7.5], rel=1e-9)
    assert learned.violation(computed, None) is computed


def test_a_correction_that_varies_keeps_a_distance_of_one_deviation() -> None:
    learned = Correction()
    for off in (0.02, 0.06):
        learned.learn(candidate([1.0], [0.5]), np.array([[1.0]]), np.array([[0.5 - off]]))
    margins = np.array([[[0.061]], [[0.059]]])
    assert near(learned.violation(np.zeros((2, 1)), margins)[:, 0], [0.0, 0.001], rel=1e-9, abs=1e-15)


def test_verifications_stay_within_their_allowance() -> None:
    toy = Toy(levels=1001, bias=0.05)
    state = new(toy, 800, verifications=30, front=40)
    outcome = run(toy, state)
    assert state.tried.max() <= 30
    assert outcome.verifications == len(state.verdicts) <= 60
    assert all(0 < len(front) <= 60 for front in outcome.fronts)


def test_settled_candidates_reach_the_caller_once_each() -> None:
    from synth.search.pool import InProcess
    from synth.search.run import search
    from tests.search.toys import ToyEvaluator, work

    toy = Toy(levels=1001, bias=0.05)
    state, kept = new(toy, 300), []
    with InProcess(work, toy) as pool:
        search(state, ToyEvaluator(toy), pool, keep=lambda c, cell, extra: kept.append((c, cell)))
    assert sorted(c.id for c, _ in kept) == sorted(state.verdicts)
    c, cell = kept[0]
    assert (figures(toy, cell, c.x[None], True)[0][0] == c.objectives[0]).all()
