"""The least clearance that a record tells: the two solids that it names, at the place of the path that it names."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from synth.recheck.finding import Notes
from synth.recheck.motion import between, carried
from synth.recheck.solid import Solids, distance

TOLD = 1e-6
"""m: numbers are written with twelve digits, s among them."""


def check_least(
    record: Mapping[str, Any], solids: Solids, order: list[tuple[int, int, int, float]], notes: Notes
) -> None:
    """Exact distance of the named solids at the named s, less what the motion strays between frames."""
    told = record["verification"]
    names, s = told.get("least_clearance_between"), told.get("least_clearance_s")
    if not told["verified"] or names is None or s is None:
        return
    first, second = (_pieces(solids, name) for name in names)
    if not notes.true(bool(first and second), "least clearance", "its two solids", "solids of the record", names):
        return
    stations = np.asarray(record["path"]["s"], dtype=np.float64)
    k = int(np.clip(np.searchsorted(stations, s, side="right") - 1, 0, len(stations) - 2))
    share = (s - stations[k]) / (stations[k + 1] - stations[k])
    poses = between(record, order, k, np.array([share]))[0]
    poses = np.concatenate([poses, np.eye(3, 4)[None]])
    at = [[carried(poses[solids.panel[i]], solids.corners[i]) for i in some] for some in (first, second)]
    found = min(distance(a, b) for a in at[0] for b in at[1]) - float(told.get("between_frames_m", 0.0))
    what = f"{names[0]} and {names[1]} at s {s:.6g}"
    notes.near("least clearance", what, float(found), float(told["least_clearance_m"]), TOLD)


def _pieces(solids: Solids, name: str) -> list[int]:
    """Convex pieces of a solid by the name that a record gives it ("fitting 3 of hinge 0 on panel 1")."""
    wanted = name if name.startswith("keep-out") else " ".join(name.split()[:2])
    return [k for k, known in enumerate(solids.name) if known == wanted]
