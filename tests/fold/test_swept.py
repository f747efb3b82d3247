"""Room that the motion needs: closed forms for one swinging strip, and bounds around sampling."""

import numpy as np

from synth.fold.course import Course
from synth.fold.solids import solids_of
from synth.fold.swept import Swept, swept
from tests.fold import chains
from tests.near import near


def room(laid: chains.Laid, pieces: int = 60) -> Swept:
    course = Course.of(laid.topology, laid.geometry.axis[0], laid.geometry.stowed_angle[0])
    return swept(course, solids_of(laid.topology, laid.geometry, None, np.zeros((0, 2, 3))), pieces)


def test_one_swinging_strip_needs_a_half_circle() -> None:
    laid = chains.accordion(2, width=0.3, thickness=0.004)
    z = laid.geometry.axis[0, 0, 0, 2]
    reach = np.hypot(0.3 - 0.0005, z + 0.004)
    found = room(laid)
    near(found.box[1, 2], z + reach, rel=1e-3, why="bound within D^2 of the top of the circle")
    near(found.reached[1, 2], z + reach, rel=1e-3)
    assert found.reached[1, 2] <= z + reach <= found.box[1, 2]
    near(found.box[0], laid.geometry.corners[0].min(axis=(0, 1)), rel=5e-3, abs=2e-4)
    assert set(found.leaves) == {"+z", "+x"}
    assert 0.0 < found.leaves["+z"] < 0.05 and 0.0 < found.leaves["+x"] < 0.05, (
        "lifts, and its thick end turns outwards"
    )


def test_finer_intervals_close_in_from_both_sides() -> None:
    laid = chains.star()
    coarse, fine = room(laid, 10), room(laid, 160)
    assert np.all(coarse.box[0] <= fine.box[0] + 1e-12) and np.all(coarse.box[1] >= fine.box[1] - 1e-12)
    assert np.all(fine.reached[0] >= fine.box[0]) and np.all(fine.reached[1] <= fine.box[1])
    assert np.abs(fine.box - fine.reached).max() < 2e-3 < np.abs(coarse.box - coarse.reached).max()
    assert fine.radius_reached <= fine.radius <= coarse.radius
