"""What still moves when a stage stops half-way."""

import numpy as np
import pytest

from synth.fold.course import Course
from synth.fold.interference import prove_solids
from synth.fold.partial import ONE_MECHANISM, angles_at, stopped
from synth.fold.route import motion_of
from synth.fold.solids import solids_of
from tests.fold.test_interference import meets_at
from tests.fold.test_route import laid
from tests.near import near

NOTHING = np.zeros((0, 2, 3))


def test_a_staged_ring_tells_which_stages_go_on() -> None:
    family, build, design = laid("segment_stack", rings=1)
    motion = motion_of(family, build, design)
    last = len(motion.stages) - 1
    assert last >= 2
    solids = solids_of(design.topology, design.geometry, design.fittings, NOTHING)
    seen = set()
    for stage, share in ((0, 0.4), (0, 0.9), (1, 0.9), (last, 0.4)):
        found = stopped(design, motion, stage, share)
        assert [o.stage for o in found.onward] == list(range(stage + 1, last + 1))
        assert bool(found.note) == (stage == last)
        span = motion.stages[stage]
        held = angles_at(motion, span.start + share * (span.end - span.start))
        near(held[list(span.hinges)], (1.0 - share) * design.geometry.stowed_angle[0, list(span.hinges)], rel=1e-9)
        for onward in found.onward:
            seen.add(onward.alone.clear)
            # the same way by hand, judged by sampling with another engine
            end = held.copy()
            end[list(motion.stages[onward.stage].hinges)] = 0.0
            course = Course.along(design.topology, design.geometry.axis[0], np.array([0.0, 1.0]), np.stack([held, end]))
            assert prove_solids(course, solids).clear == onward.alone.clear
            if not onward.alone.clear:
                assert meets_at(course, solids, onward.alone.s)
            else:
                assert not any(meets_at(course, solids, s) for s in np.linspace(0.0, 1.0, 9))
    assert seen == {True, False}, "some stages can go on, others cannot"


def test_a_stage_that_ended_lets_the_rest_go_on_in_order() -> None:
    family, build, design = laid("segment_stack", rings=1)
    motion = motion_of(family, build, design)
    done = stopped(design, motion, 0, 1.0)
    assert all(o.in_order.clear for o in done.onward)


def test_loops_stop_as_one() -> None:
    family, build, design = laid("miura", columns=2, rows=2, sector=1.2)
    found = stopped(design, motion_of(family, build, design), 0, 0.5)
    assert found.onward == () and found.note == ONE_MECHANISM


def test_nonsense_is_refused() -> None:
    family, build, design = laid("accordion", strips=4)
    motion = motion_of(family, build, design)
    for stage, share in ((9, 0.5), (-1, 0.5), (0, 1.5), (0, -0.1)):
        with pytest.raises(ValueError, match="must be 0 to"):
            stopped(design, motion, stage, share)
