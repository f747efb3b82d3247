"""The search against the truth: every design of a small discrete problem is worked out, and the fronts compared.

Two families of at most seven panels, every real variable on a grid of a few values, so that all designs can be listed
in the test itself. Larger lists, made once and stored: test_truths.py.
"""

from typing import Any

import numpy as np
import pytest

from synth.app.running import goals_of
from synth.core.arrays import Floats
from synth.fronts.indicators import hypervolume_share, nondominated
from synth.problem import Problem
from synth.search.outcome import Outcome
from synth.search.pool import InProcess
from synth.search.run import search
from synth.search.settings import Settings
from synth.search.state import begin
from synth.search.types import Task
from tests.references.grid import Grid, Snapping, cheap
from tests.samples import problem

LEVELS = {
    "build.thickness": 4,
    "accordion.cover": 3,
    "accordion.reach": 3,
    "map_fold.cover": 3,
    "map_fold.reach": 3,
}
"""Grid values of a real variable, evenly over its coordinate; 1 where not named (the middle)."""
LEAST = 5000
BUDGET = 700
UNLIMITED = {"archive": 2000, "front": 2000, "verifications": 6000}


def discrete() -> Problem:
    return problem(
        aperture={"clear_diameter": "600 mm", "min_collecting_area": "0.12 m^2", "max_panel_length": "620 mm"},
        envelope=[
            {"name": "slot", "size": ["560 mm", "260 mm", "140 mm"]},
            {"name": "crate", "size": ["620 mm", "360 mm", "200 mm"]},
        ],
        mass={"limit": "9 kg"},
        accuracy={"surface_rms_limit": "60 um", "in_plane_rms_limit": "200 um", "blur_limit": "800 urad"},
        structure={"deployed_first_mode_min": "2 Hz", "stowed_first_mode_min": "40 Hz", "launch_load_g": 10.0},
        search={"objectives": ["stowed_volume", "surface_rms", "collecting_area"]},
        choices={
            "families": ["accordion", "map_fold"],
            "max_panels": 7,
            "panel_materials": ["al_6061_t6", "cfrp_qi_m55j"],
            "hinge_kinds": ["pin_bearing", "tape_becu"],
            "variables": {
                "build.thickness": ["3 mm", "16 mm"],
                "build.edge_gap": "9 mm",
                "build.face_share": 0.1,
                "build.latches": "none",
                "build.pairs": 1,
                "build.passing": "gap",
            },
        },
    )


@pytest.fixture(scope="module")
def grid() -> Grid:
    return Grid(discrete(), LEVELS)


@pytest.fixture(scope="module")
def truth(grid: Grid) -> tuple[int, list[Floats]]:
    """Number of designs, and for each envelope the objectives of all feasible ones that nothing dominates."""
    total, good = 0, [np.zeros((0, 3)) for _ in grid.problem.envelope]
    for cell in grid.cells():
        X = grid.rows(cell)
        total += len(X)
        scores = cheap(grid.problem, Task(cell, X, "verify"))
        assert scores.verified is not None
        for e in range(len(good)):
            feasible = scores.verified & (scores.violation[:, e] <= 0.0)
            both = np.concatenate([good[e], scores.objectives[feasible, e]])
            good[e] = both[np.asarray(nondominated(both))]
    return total, good


def found(grid: Grid, evaluations: int, seed: int) -> Outcome:
    goals, evaluator = goals_of(grid.problem), Snapping(grid)
    settings = Settings.for_budget(evaluations, seed, len(grid.problem.envelope), **UNLIMITED)
    with InProcess(cheap, grid.problem) as pool:
        return search(begin(evaluator, goals, settings), evaluator, pool)


def shares(grid: Grid, outcome: Outcome, good: list[Floats]) -> list[float]:
    """Hypervolume of what was found over that of the truth, in each envelope."""
    goals, out = goals_of(grid.problem), []
    for e, points in enumerate(good):
        box = goals.ideal[e], goals.reference[e]
        front = [m.objectives for m in outcome.fronts[e] if m.feasible]
        mine = hypervolume_share(np.stack(front), *box) if front else 0.0
        out.append(mine / hypervolume_share(points, *box))
    return out


def test_the_grid_is_large_enough_and_the_problem_binds(grid: Grid, truth: tuple[int, list[Floats]]) -> None:
    total, good = truth
    assert total >= LEAST
    assert all(len(points) > 20 for points in good), [len(p) for p in good]
    assert {c.family for c in grid.cells()} == {"accordion", "map_fold"}


THERE = 0.995
"""Share of the true hypervolume that counts as found."""


def test_the_search_finds_the_front_that_listing_finds(grid: Grid, truth: tuple[int, list[Floats]]) -> None:
    total, good = truth
    assert total / 8 > BUDGET
    outcome = found(grid, BUDGET, 1)
    assert min(shares(grid, outcome, good)) > THERE, shares(grid, outcome, good)
    # none better than the truth: the search works the same designs out
    assert max(shares(grid, outcome, good)) < 1.0 + 1e-9
    # not vacuous: a twentieth of the budget does not get there
    assert min(shares(grid, found(grid, BUDGET // 20, 1), good)) < THERE


def test_every_point_found_is_a_design_of_the_list(grid: Grid, truth: tuple[int, list[Floats]]) -> None:
    outcome = found(grid, 200, 3)
    rows: dict[Any, Floats] = {}
    for front in outcome.fronts:
        for member in front:
            rows.setdefault(member.cell, grid.rows(member.cell))
            assert (np.abs(rows[member.cell] - member.x).max(axis=1) < 1e-12).any()
