"""The room a record says it sweeps is held against its frames; loops that part between frames are told."""

import copy
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from synth.recheck.asked import Room
from synth.recheck.finding import Notes
from synth.recheck.room import check_swept, check_walls
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


def walls(record: Record, allowed: tuple[float, float, float], told: dict[str, float]) -> bool:
    """Whether the recheck finds fault with walls told for a room of that size."""
    notes = Notes("x")
    record["swept"]["leaves_envelope"] = [{"face": face, "s": s} for face, s in told.items()]
    check_walls(record, Room("box", False, allowed), notes)
    return bool(notes.found)


def test_walls_of_the_envelope_that_are_passed() -> None:
    record = miura()
    notes = Notes("x")
    check_walls(record, Room("box", False, (1.99, 1.59, 1.19)), notes)
    assert "leaves_envelope" in record["swept"] and not notes.found
    # a room 10 mm taller than the stack: the sheet rises out of it through both walls beside the stack
    rotation, s = np.array(record["stowed"]["rotation"]), record["path"]["s"]
    poses, corners = np.array(record["path"]["poses"]), []
    for solid in [*record["panels"], *record["fittings"]]:
        plan, panel = np.array(solid["outline"]), solid.get("panel", solid.get("id"))
        both = np.concatenate([np.c_[plan, np.full(len(plan), solid[z])] for z in ("z_back", "z_front")])
        corners.append(np.einsum("sij,nj->sni", rotation @ poses[:, panel, :, :3], both))
        corners[-1] += (rotation @ poses[:, panel, :, 3:])[:, None, :, 0]
    there = np.concatenate(corners, axis=1)
    low, high = there.min(axis=1), there.max(axis=1)
    size = high[0] - low[0] + 0.01
    beyond = np.concatenate([low[0] - 0.005 - low, high - high[0] - 0.005], axis=1) > 0.0
    faces = ("-x", "-y", "-z", "+x", "+y", "+z")
    told = {f: float(s[int(beyond[:, k].argmax())]) for k, f in enumerate(faces) if beyond[:, k].any()}
    assert len(told) >= 3 and not walls(record, tuple(size), told)
    first = next(iter(told))
    assert walls(record, tuple(size), {**told, first: told[first] + 0.05})
    assert walls(record, tuple(size), {**told, first: told[first] - 0.05})
    assert walls(record, tuple(size), {f: v for f, v in told.items() if f != first})
