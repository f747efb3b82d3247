"""The mechanism of a record: its spanning tree of true hinges, loops, poses, degrees of freedom."""

from dataclasses import dataclass
from typing import Any

import numpy as np

from synth.core.arrays import Floats, invert, transform
from synth.core.arrays import compose as chained
from synth.export.parts import Record


@dataclass(frozen=True)
class Branch:
    """A panel hung on its parent by a hinge; sign -1 where the record's hinge is told from child to parent."""

    hinge: int
    parent: int
    child: int
    sign: float
    slack: bool


def tree(record: Record) -> list[Branch]:
    """Branches from the root outwards, true hinges before slack ones, low ids first."""
    waiting = sorted(record["hinges"], key=lambda h: (h["slack_m"] > 0.0, h["id"]))
    known, found = {0}, []
    while True:
        for hinge in waiting:
            i, j = hinge["panels"]
            if (i in known) != (j in known):
                parent, child, sign = (i, j, 1.0) if i in known else (j, i, -1.0)
                found.append(Branch(int(hinge["id"]), parent, child, sign, hinge["slack_m"] > 0.0))
                known.add(child)
                break
        else:
            return found


def loops(record: Record) -> list[Record]:
    """True hinges that close loops: those not in the tree."""
    used = {b.hinge for b in tree(record)}
    return [h for h in record["hinges"] if h["id"] not in used and h["slack_m"] == 0.0]


def poses(record: Record) -> Floats:
    """[S, P, 3, 4] of the record."""
    return np.asarray(record["path"]["poses"], dtype=np.float64)


def angles(record: Record) -> Floats:
    """[S, H] of the record."""
    return np.asarray(record["path"]["angles"], dtype=np.float64).reshape(len(record["path"]["s"]), -1)


def axis_of(hinge: Record) -> tuple[Floats, Floats]:
    """A point of the hinge line and its unit direction, deployed."""
    axis = np.asarray(hinge["axis"], dtype=np.float64)
    return axis[0], (axis[1] - axis[0]) / np.linalg.norm(axis[1] - axis[0])


def relative(record: Record, parent: int, child: int) -> Floats:
    """Parent-from-child motion [S, 3, 4] in deployed coordinates: the identity when deployed."""
    all_poses = poses(record)
    return chained(invert(all_poses[:, parent]), all_poses[:, child])


def quaternion(rotation: Floats) -> Floats:
    """Unit quaternions [..., 4] (w, x, y, z) of rotations [..., 3, 3], w >= 0."""
    from scipy.spatial.transform import Rotation

    flat = Rotation.from_matrix(rotation.reshape(-1, 3, 3)).as_quat(canonical=True)
    return np.asarray(flat[:, [3, 0, 1, 2]], dtype=np.float64).reshape(*rotation.shape[:-2], 4)


def steady_signs(quaternions: Floats) -> Floats:
    """[S, 4] with signs chosen so that neighbours lie in one half-space: interpolation takes the short way."""
    flips = np.where((quaternions[1:] * quaternions[:-1]).sum(axis=-1) < 0.0, -1.0, 1.0)
    return np.concatenate([quaternions[:1], quaternions[1:] * np.cumprod(flips)[:, None]])


def freedoms(record: Record, frame: int) -> int | None:
    """Degrees of freedom at a frame: hinges less the rank of loop closure; None where slack hinges make it loose.

    Each loop hinge asks that both its panels turn with it: sum over the tree path of +-w_h (w, -w x p) = 0 (derived).
    """
    if any(h["slack_m"] > 0.0 for h in record["hinges"]):
        return None
    all_poses = poses(record)[frame]
    twists = np.zeros((len(record["hinges"]), 6))
    for hinge in record["hinges"]:
        point, along = axis_of(hinge)
        pose = all_poses[hinge["panels"][0]]
        here, w = transform(pose, point[None])[0], pose[:, :3] @ along
        twists[hinge["id"]] = [*w, *np.cross(here, w)]
    above = {b.child: b for b in tree(record)}
    rows: list[Floats] = []
    for hinge in loops(record):
        row = np.zeros((6, len(record["hinges"])))
        row[:, hinge["id"]] = twists[hinge["id"]]
        for panel, sign in ((hinge["panels"][0], 1.0), (hinge["panels"][1], -1.0)):
            for branch in _to_root(panel, above):
                row[:, branch.hinge] += sign * branch.sign * twists[branch.hinge]
        rows.append(row)
    if not rows:
        return len(record["hinges"])
    return len(record["hinges"]) - int(np.linalg.matrix_rank(np.concatenate(rows), tol=1e-7))


def _to_root(panel: int, above: dict[int, Branch]) -> list[Branch]:
    found = []
    while panel in above:
        found.append(above[panel])
        panel = above[panel].parent
    return found


def moved_by(record: Record, hinge: int) -> set[int]:
    """Panels that a tree hinge carries: its child and all that hang on it; none for a hinge that closes a loop."""
    branches = tree(record)
    start = next((b.child for b in branches if b.hinge == hinge), None)
    if start is None:
        return set()
    carried: set[int] = {start}
    for b in branches:
        if b.parent in carried:
            carried.add(b.child)
    return carried


def stage_of(record: Record, hinge: int) -> list[int]:
    """Numbers of the stages in which a hinge moves."""
    return [k for k, stage in enumerate(record["path"]["stages"]) if hinge in stage["hinges"]]


def stage_frames(record: Record) -> list[int]:
    """Frames nearest to stowed, the end of every stage, deployed."""
    s = np.asarray(record["path"]["s"])
    ends: list[Any] = [0.0, *sorted({float(stage["s"][1]) for stage in record["path"]["stages"]})]
    return sorted({int(np.abs(s - e).argmin()) for e in [*ends, 1.0]})
