import numpy as np

from synth.search import bandit, outlook
from synth.search.candidate import Candidate
from synth.search.lives import births, deaths
from synth.search.outlook import Outlook
from synth.search.rounds import form
from synth.search.settings import Settings
from synth.search.state import CellState, State
from tests.near import near
from tests.search.runs import new, run
from tests.search.toys import Toy, ToyEvaluator

TOY = Toy()


def started(holder: int | None = None) -> State:
    """A state whose cells have all been told once, without gain; holder: the cell of the only member of archive 0."""
    state = new(TOY, 2000)
    births(Outlook(state), ToyEvaluator(TOY))
    for cell in state.cells:
        cell.started = True
        cell.spent = 24
        bandit.note(cell, np.zeros(2), 24)
    if holder is not None:
        ones, none = np.full((2, 3), 0.5), np.zeros(2)
        state.archives[0].members = [Candidate("m", holder, np.zeros(3), ones, none, None, ones, none)]
    return state


def drawn(state: State, times: int = 600) -> dict[int, int]:
    found: dict[int, int] = {}
    for _ in range(times):
        cell = bandit.choose(state, 0, {})
        assert cell is not None
        found[cell.number] = found.get(cell.number, 0) + 1
    return found


def test_a_cell_that_pays_gets_most_and_the_least_known_gets_its_share() -> None:
    state = started(holder=2)
    bandit.note(state.cells[2], np.array([0.02, 0.0]), 24)
    state.cells[4].spent = 1
    found = drawn(state)
    assert found[2] > 0.7 * 600
    assert abs(found[4] / 600 - state.settings.explore) < 0.04
    assert set(found) == {2, 4}


def test_while_an_envelope_holds_nothing_the_least_known_cell_gets_more() -> None:
    state = started()
    state.cells[4].spent = 1
    found, cells = drawn(state), len(state.cells)
    blind = bandit.BLIND * state.settings.explore
    assert abs(found[4] / 600 - (blind + (1.0 - blind) / cells)) < 0.06


def test_old_gains_fade() -> None:
    state = started(holder=0)
    bandit.note(state.cells[1], np.array([0.02, 0.0]), 24)
    for _ in range(20):
        bandit.note(state.cells[1], np.zeros(2), 24)
    bandit.note(state.cells[2], np.array([0.02, 0.0]), 24)
    chance = bandit.chances(state, 0, state.cells)
    assert chance[2] > 10 * chance[1] > 0.0


def test_refused_cells_are_trusted_less() -> None:
    state = started(holder=0)
    for k in (1, 2):
        bandit.note(state.cells[k], np.array([0.02, 0.0]), 24)
    state.cells[1].failed = 3
    chance = bandit.chances(state, 0, state.cells)
    assert near(chance[2] / chance[1], 4.0, rel=1e-9)


def test_where_nothing_is_feasible_the_nearest_cell_gets_most() -> None:
    state = started()
    for k, cell in enumerate(state.cells):
        cell.best = np.full(2, 0.5 * k)
    chance = bandit.chances(state, 0, state.cells)
    assert int(np.argmax(chance)) == 0 and (np.diff(chance) < 0.0).all()


def test_a_round_spreads_its_batches() -> None:
    state = started(holder=2)
    bandit.note(state.cells[2], np.array([0.02, 0.0]), 24)
    bandit.note(state.cells[3], np.array([0.01, 0.0]), 24)
    alone = bandit.chances(state, 0, state.cells)
    assert alone[2] > alone[3] > 0.15
    state.rng = np.random.default_rng(0)
    often = sum(bandit.choose(state, 0, {2: 3}) is state.cells[3] for _ in range(400))
    state.rng = np.random.default_rng(0)
    seldom = sum(bandit.choose(state, 0, {}) is state.cells[3] for _ in range(400))
    assert often > 1.8 * seldom


def test_relatives_of_cells_that_hold_members_are_born_with_their_parents_columns() -> None:
    state = new(TOY, 1500)
    run(TOY, state)
    children = [c for c in state.cells if c.parent >= 0]
    assert children and all(state.cells[c.parent].family == c.family for c in children)
    assert {c.cell.n for c in children} - {2, 4}
    assert len({repr(c.cell) for c in state.cells}) == len(state.cells)


def test_cells_die_without_gain_and_the_last_of_a_family_is_sheltered_at_first() -> None:
    state = started()
    state.queue = list(state.queue) or [object()]

    def idle(cells: list[CellState]) -> None:
        for c in cells:
            c.idle = state.settings.patience

    fans = [c for c in state.cells if c.family == "fan"]
    idle(fans)
    deaths(state)
    assert [c.alive for c in fans].count(True) == 1
    state.spent[:] = 1500
    deaths(state)
    assert not any(c.alive for c in fans)
    assert all(c.cause == "its batches brought nothing" and not c.breeding for c in fans)
    assert all(c.alive for c in state.cells if c.family != "fan")


def test_a_round_is_formed_from_the_state_alone_and_charged_evenly() -> None:
    state, again = new(TOY, 2000), new(TOY, 2000)
    first, second = form(state, ToyEvaluator(TOY)), form(again, ToyEvaluator(TOY))
    assert [s.task.X.tobytes() for s in first] == [s.task.X.tobytes() for s in second]
    assert len(first) == state.settings.tasks
    assert state.spent.max() - state.spent.min() <= state.settings.batch
    assert [s.task.cell.family for s in first][:3] == ["fan", "roll", "stack"]


def test_a_cell_promises_something_in_envelopes_that_none_of_its_batches_was_for() -> None:
    """Else it would wait there for a batch by chance."""
    state = new(TOY, 2000)
    run(TOY, state, stop=lambda: state.rounds >= 6)
    cell = next(c for c in state.living if c.hopes)
    envelope = next(iter(cell.hopes))
    cell.hopes = {}
    outlook.glance(Outlook(state), ToyEvaluator(TOY), envelope, [cell])
    assert len(cell.hopes[envelope]) == outlook.HOPES
    assert bandit.hopes(state, envelope, [cell])[0] >= 0.0
    before = cell.hopes[envelope]
    outlook.glance(Outlook(state), ToyEvaluator(TOY), envelope, [cell])
    assert cell.hopes[envelope] is before, "what batches told is not overwritten"


def test_a_small_budget_tries_cells_by_fewer_rows() -> None:
    first = [Settings.for_budget(n, 1, 3).first for n in (100, 500, 2000, 20_000)]
    assert first == [4, 6, 8, 8]
