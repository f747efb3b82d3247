"""Exchange rates: chords of a known front, steps between limits, and what counts as a step."""

import numpy as np
import pytest

from synth.fronts.entry import common_objectives
from synth.fronts.exchange import KNEE, along, between, resource_step, steps_up
from synth.fronts.staircase import staircase
from tests.fronts.entries import cloud, entry, problem
from tests.near import near

CURVE = np.array([[x, 4e-2 / x, 1e-6] for x in np.linspace(0.01, 0.02, 9)])
"""mass = 0.04 / volume."""


def test_staircase_is_the_least_for_at_most_so_much() -> None:
    p = cloud(3, 40)
    stairs = staircase(p[:, 0], p[:, 1])
    for x in np.linspace(p[:, 0].min(), p[:, 0].max(), 17):
        assert stairs.at(float(x)) == p[p[:, 0] <= x * (1 + 1e-12), 1].min()
    assert stairs.at(float(p[:, 0].min()) * 0.999) == np.inf
    assert (np.diff(stairs.x) > 0).all() and (np.diff(stairs.y) < 0).all()
    assert not len(staircase(np.zeros(0), np.zeros(0)).x)


def test_rates_along_a_known_curve() -> None:
    e = entry(CURVE)
    chords = [c for c in along(e, common_objectives([e]), 4)
              if (c.resource, c.objective, c.others) == ("stowed_volume_m3", "mass_kg", "free")]  # fmt: skip
    assert len(chords) == 4
    for c in chords:
        a, b = c.x
        assert near(c.rate, (4e-2 / a - 4e-2 / b) / (b - a), rel=1e-9)
        # the curve's own slope in the middle, as far as a chord of that width tells it
        assert near(c.rate, 4e-2 / (a * b), rel=1e-9)


def test_held_at_the_knee_counts_no_row_that_is_worse_elsewhere() -> None:
    points = np.array([[1.0, 9.0, 1.0], [2.0, 5.0, 1.0], [3.0, 1.0, 9.0], [3.0, 4.0, 1.0]])
    e = entry(points)
    held = [c for c in along(e, common_objectives([e]), 1)
            if (c.resource, c.objective) == ("stowed_volume_m3", "mass_kg")]  # fmt: skip
    assert {c.others: c.y[1] for c in held} == {"free": 1.0, KNEE: 4.0}


def test_more_of_one_limit_is_a_step_and_anything_else_is_none() -> None:
    def step(**b: object):
        return resource_step(entry(CURVE, asked=problem()), entry(CURVE, asked=problem(**b)))

    assert step(mass=12.0) == ("mass.limit", "kg", 10.0, 12.0)
    assert step(mass=8.0) is None
    assert step(size=(0.6, 0.45, 0.4)) == ("envelope.side", "m", 0.3, 0.4)
    name, unit, before, after = step(size=(0.7, 0.5, 0.3))
    assert (name, unit) == ("envelope.volume", "m^3")
    assert near((before, after), (0.6 * 0.45 * 0.3, 0.7 * 0.5 * 0.3), rel=1e-12)
    assert step(size=(0.7, 0.5, 0.2)) is None
    assert step(size=(0.6, 0.45, 0.4), mass=12.0) is None
    assert step(structure={"launch_load_g": 10.0}) is None
    tighter = problem(structure={"deployed_first_mode_min": 5.0})
    looser = problem(structure={"deployed_first_mode_min": 3.0})
    found = resource_step(entry(CURVE, asked=tighter), entry(CURVE, asked=looser))
    assert found == ("structure.deployed_first_mode_min", "Hz", 5.0, 3.0)


def test_steps_skip_no_entry_between() -> None:
    made = [entry(CURVE, str(m), asked=problem(mass=m)) for m in (12.0, 8.0, 10.0)]
    assert steps_up(made) == [(1, 2), (2, 0)]


def test_rates_between_two_fronts() -> None:
    a = entry(CURVE, "a", asked=problem(mass=8.0))
    b = entry(CURVE * [1.0, 0.9, 1.0], "b", asked=problem(mass=10.0))
    found = between(a, b, common_objectives([a, b]), 4)
    best = next(c for c in found if c.objective == "mass_kg" and c.given is None)
    assert near(best.rate, 0.1 * 2.0 / (10.0 - 8.0), rel=1e-12)
    held = [c for c in found if c.objective == "mass_kg" and isinstance(c.given, tuple)
            and c.given[0] == "stowed_volume_m3"]  # fmt: skip
    assert len(held) == 5
    for c in held:
        assert isinstance(c.given, tuple)
        floor = CURVE[CURVE[:, 0] <= c.given[1] * (1 + 1e-12), 1].min()
        assert near(c.y, (floor, 0.9 * floor), rel=1e-12) and near(c.rate, 0.05 * floor, rel=1e-9)


def test_a_larger_room_tells_the_side_and_the_volume() -> None:
    a = entry(CURVE, "a", asked=problem(size=(0.6, 0.4, 0.2)))
    b = entry(CURVE - [0.0, 0.3, 0.0], "b", asked=problem(size=(0.6, 0.4, 0.25)))
    rates = {c.resource: c.rate for c in between(a, b, common_objectives([a, b]))
             if c.objective == "mass_kg" and c.given is None}  # fmt: skip
    assert near(rates["envelope.side"], 0.3 / 0.05, rel=1e-9)
    assert near(rates["envelope.volume"], 0.3 / (0.6 * 0.4 * 0.05), rel=1e-9)


@pytest.mark.parametrize("points", [np.zeros((0, 3)), CURVE[:1]])
def test_fronts_too_small_for_a_chord(points: np.ndarray) -> None:
    e = entry(points)
    assert along(e, common_objectives([e])) == []
