"""The torque law of hinges: closed forms at single angles, energy as the integral, shapes."""

from dataclasses import fields

import numpy as np

from synth.core.turning import TurnLaw
from tests.near import near

PIN = TurnLaw(drive_torque=0.05, drive_rate=0.01, friction=1e-3, largest_angle=3.3)
TAPE = TurnLaw(fold_moment=0.04, peak_moment=0.4, peak_angle=0.05, largest_angle=3.3)
BENT = TurnLaw(flexure_rate=0.02, rest_angle=0.5, largest_angle=2.0)


def test_torques_at_single_angles() -> None:
    near(PIN.spring(np.array([0.0, 2.0])), [0.05, 0.07], rel=1e-12)
    near(TAPE.spring(np.array([0.025, 0.05, 0.06, 3.0])), [0.2, 0.4, 0.04, 0.04], rel=1e-12)
    near(BENT.restoring(np.array([0.0, 0.5, 1.5])), [-0.01, 0.0, 0.02], rel=1e-12, abs=1e-15)
    near(PIN.resisting(np.array([0.0, 2.0])), [1e-3, 1e-3], rel=1e-12)


def test_energy_is_the_integral_of_the_torque() -> None:
    for law in (PIN, TAPE, BENT):
        for top in (0.03, 1.7):
            a = np.linspace(0.0, top, 200_001)
            whole = np.trapezoid(law.spring(a) + law.restoring(a), a)
            near(law.energy(np.array(top)), whole, rel=2e-4, why="trapezoids over the snap, one step of 1e-5 rad")


def test_columns_and_hinges_broadcast() -> None:
    three = {f.name: np.array([getattr(k, f.name) for k in (PIN, TAPE, BENT)]) for f in fields(TurnLaw)}
    laws = TurnLaw(**three).take(np.array([2, 0, 0, 1]))
    hinges = laws.times(4.0).columns((4, 5))
    angle = np.broadcast_to(np.linspace(0.0, 1.0, 7), (4, 5, 7))
    found = hinges.spring(angle)
    assert found.shape == (4, 5, 7)
    near(found[1, 3], 4.0 * PIN.spring(angle[1, 3]), rel=1e-12)
    near(hinges.restoring(angle)[0, 1], 4.0 * BENT.restoring(angle[0, 1]), rel=1e-12)
    near(hinges.largest_angle[3], np.full(5, 3.3), rel=1e-12, why="units side by side turn no farther")
    mixed = hinges.where(np.arange(5) == 2, TurnLaw(flexure_rate=1e-4, largest_angle=np.pi))
    near(mixed.restoring(angle)[1, 2], 1e-4 * angle[1, 2], rel=1e-12)
    assert not mixed.spring(angle)[1, 2].any() and mixed.spring(angle)[1, 1].all()
