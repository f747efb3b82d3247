"""The room that a record says its motion sweeps, against its frames."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from synth.recheck.asked import Room
from synth.recheck.finding import Notes
from synth.recheck.motion import carried
from synth.recheck.solid import Array

INSIDE = 1e-9
"""m, and of s: rounding of the record."""
PASSED = 1e-5
"""m: a face counts as passed when a frame has a corner farther out than this."""
FACES = ("-x", "-y", "-z", "+x", "+y", "+z")


def check_swept(record: Mapping[str, Any], notes: Notes) -> None:
    """Every corner at every frame lies in the box and the cylinder told, and faces of the stowed box are passed when
    told. A record without `swept` says nothing of it."""
    told = record.get("swept")
    if not told:
        return
    low, high, far = _reached(record, np.eye(3))
    box = np.asarray(told["box_m"], dtype=np.float64)
    stowed = np.asarray(told["stowed_box_m"], dtype=np.float64)
    for axis, name in enumerate("xyz"):
        least, most = float(low[:, axis].min()), float(high[:, axis].max())
        notes.true(box[0, axis] <= least + INSIDE, "swept box", f"least {name}", f"at most {least:.9g}", box[0, axis])
        notes.true(box[1, axis] >= most - INSIDE, "swept box", f"greatest {name}", f"at least {most:.9g}", box[1, axis])
        notes.near("stowed box", f"least {name}", float(low[0, axis]), float(stowed[0, axis]), 1e-8)
        notes.near("stowed box", f"greatest {name}", float(high[0, axis]), float(stowed[1, axis]), 1e-8)
    radius = float(told["cylinder_radius_m"])
    notes.true(radius >= far - INSIDE, "swept cylinder", "radius", f"at least {far:.9g}", radius)
    passed = {leave["face"]: float(leave["s"]) for leave in told["leaves"]}
    beyond = np.concatenate([stowed[0] - low, high - stowed[1]], axis=1)
    s = np.asarray(record["path"]["s"], dtype=np.float64)
    for k, face in enumerate(FACES):
        found = np.flatnonzero(beyond[:, k] > PASSED)
        if not len(found):
            continue
        # told at the path's stations, which need not be frames: it may be seen a frame later, no more
        first = float(s[min(int(found[0]) + 1, len(s) - 1)])
        notes.true(passed.get(face, 2.0) <= first + INSIDE, "swept box", f"face {face} is passed", f"by {first:.6g}",
                   passed.get(face, "never"))  # fmt: skip


def check_walls(record: Mapping[str, Any], room: Room | None, notes: Notes) -> None:
    """Walls of the envelope that frames find passed, the stowed solids in its middle; of a round one its ends alone."""
    told = record.get("swept")
    if not told or "leaves_envelope" not in told or room is None or room.allowed is None:
        return
    allowed = np.asarray(room.allowed)
    low, high, _ = _reached(record, np.asarray(record["stowed"]["rotation"], dtype=np.float64))
    centre = (low[0] + high[0]) / 2.0
    beyond = np.concatenate([centre - allowed / 2.0 - low, high - centre - allowed / 2.0], axis=1)
    passed = {leave["face"]: float(leave["s"]) for leave in told["leaves_envelope"]}
    s = np.asarray(record["path"]["s"], dtype=np.float64)
    for k, face in enumerate(FACES):
        if room.round and face[1] != "z":
            continue
        for bound, late in ((PASSED, True), (0.0, False)):
            found = np.flatnonzero(beyond[:, k] > bound)
            first = float(s[found[0]]) if len(found) else 2.0
            at = passed.get(face, 2.0)
            fine = at <= first + INSIDE if late else at >= first - INSIDE
            notes.true(fine, "envelope walls", f"wall {face} is passed", f"at {first:.6g}", passed.get(face, "never"))


def _reached(record: Mapping[str, Any], axes: Array) -> tuple[Array, Array, float]:
    """Least and greatest corners [frames, 3] of all solids along axes [3, 3], and how far they come from the last."""
    poses = axes @ np.asarray(record["path"]["poses"], dtype=np.float64)
    low, high, far = np.full((len(poses), 3), np.inf), np.full((len(poses), 3), -np.inf), 0.0
    solids = [(p["id"], p) for p in record["panels"]] + [(f["panel"], f) for f in record["fittings"]]
    for panel, solid in solids:
        plan = np.asarray(solid["outline"], dtype=np.float64)
        corners = np.concatenate([np.column_stack([plan, np.full(len(plan), solid[z])]) for z in ("z_back", "z_front")])
        placed = carried(poses[:, panel], corners)
        low, high = np.minimum(low, placed.min(axis=1)), np.maximum(high, placed.max(axis=1))
        far = max(far, float(np.hypot(placed[..., 0], placed[..., 1]).max()))
    return low, high, far
