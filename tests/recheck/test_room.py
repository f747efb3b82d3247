"""The room a record says it sweeps is held against its frames; loops that part between frames are told."""

import copy
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from synth.recheck.finding import Notes
from synth.recheck.room import check_swept
from synth.recheck.whole import recheck_record
from synth.record.draft import unpacked
from tests.samples import verified

Record = dict[str, Any]


def miura() -> Record:
    scores = verified("miura")[2]
    return copy.deepcopy({**unpacked(scores.extra)[0], "id": "box-1"})


def narrow_box(r: Record) -> None:
    r["swept"]["box_m"][1][2] = r["swept"]["stowed_box_m"][1][2]


def narrow_cylinder(r: Record) -> None:
    r["swept"]["cylinder_radius_m"] *= 0.9


def other_stowed_box(r: Record) -> None:
    r["swept"]["stowed_box_m"][0][0] -= 1e-3


def leaves_later(r: Record) -> None:
    r["swept"]["leaves"][0]["s"] = 0.9


def never_leaves(r: Record) -> None:
    r["swept"]["leaves"] = []


def test_what_the_program_writes_passes() -> None:
    notes = Notes("x")
    check_swept(miura(), notes)
    assert not notes.found


@pytest.mark.parametrize("fault", [narrow_box, narrow_cylinder, other_stowed_box, leaves_later, never_leaves])
def test_faults_are_found(fault: Callable[[Record], None]) -> None:
    record, notes = miura(), Notes("x")
    fault(record)
    check_swept(record, notes)
    assert notes.found


def test_loops_that_part_between_frames_more_than_told_are_found() -> None:
    record = miura()
    assert record["verification"]["between_frames_m"] > 1e-6
    assert not recheck_record(record, network=False)
    record["verification"]["between_frames_m"] = 0.0
    assert any("between frames" in f.what for f in recheck_record(record, network=False))
    assert all(s["freedoms"] == 1 for s in record["path"]["stages"])
    assert np.ptp([record["path"]["s"]]) == 1.0
