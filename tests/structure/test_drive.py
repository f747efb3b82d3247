"""Torque margins against the worked examples of the standards, inertia against elementary bodies, laws."""

from dataclasses import replace

import numpy as np
import pytest

from synth.core.design import Design
from synth.core.turning import TurnLaw
from synth.structure.drive import (
    COLD_FRICTION,
    COLD_HARNESS,
    HARNESS_HYSTERESIS,
    HARNESS_TORQUE,
    HOT_SPRING,
    PEAK_ACCELERATION,
    STAGE_SECONDS,
    drive,
    moved_inertia,
    turning,
)
from synth.structure.stowed import carried_mass
from tests.near import near
from tests.structure.make import strip

SPRING = TurnLaw(drive_torque=np.array([[0.1, 0.1]]), drive_rate=np.array([[0.01, 0.01]]),
                 friction=np.array([[0.002, 0.002]]), largest_angle=np.array([[3.3, 3.3]]))  # fmt: skip


def folded(law: TurnLaw = SPRING) -> Design:
    """Three strips in a row along x, hinges at half turns."""
    made = strip(3, 0.3, 0.2, thickness=0.01)
    ends = made.geometry.outline[0, :, :, 0].max(axis=1)[:2]
    axis = np.array([[[[x, 0.0, 0.003], [x, 0.2, 0.003]] for x in ends]])
    geometry = replace(made.geometry, axis=axis, stowed_angle=np.full((1, 2), np.pi))
    return replace(made, geometry=geometry, turns=law)


def test_inertia_beyond_each_hinge_is_that_of_slabs_on_a_line() -> None:
    """m (L^2 / 12 + d^2 + (z - h)^2 + t^2 / 12) of a slab about a line along its width (elementary)."""
    made = folded()
    mass = np.array([[1.0, 0.8, 0.5]])
    got = moved_inertia(made, mass)
    outline, axis = made.geometry.outline[0], made.geometry.axis[0]
    for h, beyond in ((0, (1, 2)), (1, (2,))):
        line, height = axis[h, 0, 0], axis[h, 0, 2]
        total = 0.0
        for p in beyond:
            low, high = outline[p, :, 0].min(), outline[p, :, 0].max()
            middle = 0.5 * (low + high) - line
            total += mass[0, p] * ((high - low) ** 2 / 12 + middle**2 + (-0.005 - height) ** 2 + 0.01**2 / 12)
        assert near(got[0, h], total, rel=1e-9)


def test_margin_of_a_plain_hinge_by_hand() -> None:
    """Worst at the end of travel, cold: springs are weakest and the harness pulls hardest there."""
    made = folded()
    mass = carried_mass(made)
    inertia = moved_inertia(made, mass)[0, 0]
    swing = inertia * PEAK_ACCELERATION * np.pi / STAGE_SECONDS**2
    varying = COLD_FRICTION * 0.002 + COLD_HARNESS * HARNESS_TORQUE * (1.0 + HARNESS_HYSTERESIS)
    nasa = 0.1 / (3.0 * varying + 1.25 * swing) - 1.0
    ecss = 0.8 * 0.1 / (2.0 * 3.0 * varying + 1.25 * swing) - 1.0
    found = drive(made)
    assert near(found.nasa[0, 0], nasa, rel=1e-9) and near(found.ecss[0, 0], ecss, rel=1e-9)
    assert near(found.ratio, 1.0 + min(found.ecss.min(), found.nasa.min()), rel=1e-12)


def test_hot_springs_decide_where_nothing_is_colder(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("synth.structure.drive.COLD_FRICTION", 1.0)
    monkeypatch.setattr("synth.structure.drive.COLD_HARNESS", 1.0)
    made = folded()
    hot = drive(made).nasa[0, 0] + 1.0
    monkeypatch.setattr("synth.structure.drive.HOT_SPRING", 1.0)
    assert near(hot / (drive(made).nasa[0, 0] + 1.0), HOT_SPRING, rel=1e-9)


def test_bent_parts_help_or_hold_back() -> None:
    """A flexure at rest half way drives before it and holds back behind it, known and elastic: no credit at the end."""
    rest = TurnLaw(drive_torque=np.full((1, 2), 0.1), flexure_rate=np.full((1, 2), 0.02),
                   rest_angle=np.full((1, 2), np.pi / 2), largest_angle=np.full((1, 2), 3.3))  # fmt: skip
    t = turning(folded(rest), np.full((1, 3), 0.5))
    assert near(t.supplied[0, 0, 0], 0.1 + 0.02 * np.pi / 2, rel=1e-9) and t.resisting.spring[0, 0, 0] == 0.0
    assert near(t.supplied[0, 0, -1], 0.1, rel=1e-9)
    assert near(t.resisting.spring[0, 0, -1], 0.02 * np.pi / 2, rel=1e-9)


def test_a_tape_drives_until_it_snaps() -> None:
    """The way ends at the angle of the peak moment, where the tape holds itself; energy has both pieces of its law."""
    tape = TurnLaw(fold_moment=np.full((1, 2), 0.02), peak_moment=np.full((1, 2), 0.3),
                   peak_angle=np.full((1, 2), 0.1), largest_angle=np.full((1, 2), 3.3))  # fmt: skip
    t = turning(folded(tape), np.full((1, 3), 0.5))
    assert near(t.angle[0, 0, [0, -1]], [np.pi, 0.1], rel=1e-12)
    assert near(t.supplied[0, 0, 3], 0.02, rel=1e-12)
    assert near(drive(folded(tape)).energy, 0.3 * 0.1 / 2 + 0.02 * (np.pi - 0.1), rel=1e-12)


def test_a_tape_that_is_not_folded_stays_where_it_is() -> None:
    tape = TurnLaw(fold_moment=np.full((1, 2), 0.02), peak_moment=np.full((1, 2), 0.3),
                   peak_angle=np.full((1, 2), 0.1), largest_angle=np.full((1, 2), 3.3))  # fmt: skip
    made = folded(tape)
    geometry = replace(made.geometry, stowed_angle=np.array([[0.0, np.pi]]))
    t = turning(replace(made, geometry=geometry), np.full((1, 3), 0.5))
    assert (t.angle[0, 0] == 0.0).all() and near(t.angle[0, 1, [0, -1]], [np.pi, 0.1], rel=1e-12)


def test_a_loop_is_judged_as_one_mechanism() -> None:
    """Hinges of a loop drive each other: twice the spring in one and none in the other is as good as both."""
    uneven = TurnLaw(drive_torque=np.array([[0.2, 0.0]]), friction=np.array([[0.002, 0.002]]),
                     largest_angle=np.array([[3.3, 3.3]]))  # fmt: skip
    even = TurnLaw(drive_torque=np.array([[0.1, 0.1]]), friction=np.array([[0.002, 0.002]]),
                   largest_angle=np.array([[3.3, 3.3]]))  # fmt: skip

    def tied(law: TurnLaw) -> Design:
        made = folded(law)
        return replace(made, geometry=replace(made.geometry, slack=np.full((1, 2), 1e-3)))

    assert drive(folded(uneven)).ratio[0] == 0.0
    assert near(drive(tied(uneven)).ratio, drive(tied(even)).ratio, rel=1e-9)
    way = np.linspace(np.pi, 0.0, 21)[None, None] * np.ones((1, 2, 1))
    assert near(drive(tied(even), way).ratio, drive(tied(even)).ratio, rel=1e-9)


def test_tapes_of_a_loop_are_judged_up_to_where_they_snap() -> None:
    """A way that goes on to deployed, where a straight tape pulls no more, asks for no more than one up to the snap."""
    tape = TurnLaw(fold_moment=np.full((1, 2), 0.02), peak_moment=np.full((1, 2), 0.3), friction=np.full((1, 2), 0.002),
                   peak_angle=np.full((1, 2), 0.1), largest_angle=np.full((1, 2), 3.3))  # fmt: skip
    made = folded(tape)
    tied = replace(made, geometry=replace(made.geometry, slack=np.full((1, 2), 1e-3)))
    until = np.linspace(np.pi, 0.1, 101)
    ways = [a[None, None] * np.ones((1, 2, 1)) for a in (until, np.append(until, [0.05, 0.0]))]
    upto, whole = (drive(tied, w).ratio for w in ways)
    assert near(whole, upto, rel=1e-9) and 0.0 < upto[0] < 1.0


def test_a_hinge_that_rests_asks_for_nothing() -> None:
    made = folded(TurnLaw(largest_angle=np.full((1, 2), 3.3)))
    still = replace(made, geometry=replace(made.geometry, stowed_angle=np.zeros((1, 2))))
    assert drive(still).ratio[0] == 100.0 and drive(made).ratio[0] == 0.0
