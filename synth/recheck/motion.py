"""The path of a record: poses against hinge angles, attachment, and stations between the frames."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from synth.recheck.finding import Notes
from synth.recheck.solid import Array

ATTACHED = 1e-9
"""Both leaves of a true hinge carry its axis to the same line within this (m)."""
RIGID = 1e-9
TURNED = 1e-8
"""Poses are written with about 12 digits; an angle read back from them is good to 1e-9 or so."""


def turn(axis: Array, angle: Array) -> Array:
    """Poses [n, 3, 4] of right-handed turns by angles [n] about the line axis [2, 3].

    The part of a point along the line stays; the part across it turns in the plane that it spans with its
    product with the line's direction: R = a a^T + cos (1 - a a^T) + sin [a x].
    """
    along = (axis[1] - axis[0]) / np.linalg.norm(axis[1] - axis[0])
    stays = np.outer(along, along)
    product = np.cross(along[None], np.eye(3)).T
    c, s = np.cos(angle)[:, None, None], np.sin(angle)[:, None, None]
    rotation = stays + c * (np.eye(3) - stays) + s * product
    out = np.empty((len(angle), 3, 4))
    out[:, :, :3] = rotation
    out[:, :, 3] = axis[0] - rotation @ axis[0]
    return out


def relative(a: Array, b: Array) -> Array:
    """a_from_b [..., 3, 4] of two poses in one frame."""
    back = np.swapaxes(a[..., :3], -1, -2)
    return np.concatenate([back @ b[..., :3], back @ (b[..., 3:] - a[..., 3:])], axis=-1)


def chained(a: Array, b: Array) -> Array:
    """Pose a after pose b."""
    return np.concatenate([a[..., :3] @ b[..., :3], a[..., :3] @ b[..., 3:] + a[..., 3:]], axis=-1)


def carried(pose: Array, points: Array) -> Array:
    """Points [N, 3] by poses [..., 3, 4]: [..., N, 3]."""
    return np.asarray(points @ np.swapaxes(pose[..., :3], -1, -2) + pose[..., None, :, 3])


def check_path(record: Mapping[str, Any], notes: Notes) -> bool:
    """Stations, angles, rigid poses, root, ends, hinges. Returns whether poses and angles tell one motion."""
    before = len(notes.found)
    path = record["path"]
    s, poses, angles = (np.asarray(path[k], dtype=np.float64) for k in ("s", "poses", "angles"))
    notes.true(len(s) <= 200, "path", "frames", "at most 200", len(s))
    notes.true(bool((np.diff(s) > 0).all()), "path", "s", "rising", "not rising")
    notes.near("path", "first s", 0.0, float(s[0]), 1e-12)
    notes.near("path", "last s", 1.0, float(s[-1]), 1e-12)
    rotation = poses[..., :3]
    unit = np.abs(rotation @ np.swapaxes(rotation, -1, -2) - np.eye(3)).max(axis=(0, 2, 3))
    handed = np.linalg.det(rotation).min(axis=0)
    for p in np.flatnonzero((unit > RIGID) | (handed < 0.0)):
        notes.add("pose rigid", f"panel {p}", "a rotation", f"off by {unit[p]:.3g}, determinant {handed[p]:.3g}", RIGID)
    still = np.eye(3, 4)
    notes.near("root", "panel 0 never moves", 0.0, float(np.abs(poses[:, 0] - still).max()), ATTACHED)
    away = np.abs(poses[-1] - still).max(axis=(1, 2))
    for p in np.flatnonzero(away > ATTACHED):
        notes.near("deployed", f"panel {p} in the last frame", 0.0, float(away[p]), ATTACHED)
    for hinge in record["hinges"]:
        _hinge(hinge, poses, angles[:, hinge["id"]], notes)
    _stages(record, s, angles, notes)
    return len(notes.found) == before


def _hinge(hinge: Mapping[str, Any], poses: Array, angle: Array, notes: Notes) -> None:
    """Attachment at every frame, agreement of angle and poses, first and last angle."""
    name, (i, j) = f"hinge {hinge['id']}", hinge["panels"]
    axis = np.asarray(hinge["axis"], dtype=np.float64)
    length = float(np.linalg.norm(axis[1] - axis[0]))
    if not notes.true(length > 1e-6, "hinge axis", name, "two different points", length):
        return
    apart = np.linalg.norm(carried(poses[:, i], axis) - carried(poses[:, j], axis), axis=-1).max(axis=1)
    allowed = ATTACHED + float(hinge["slack_m"])
    worst = int(apart.argmax())
    notes.true(apart[worst] <= allowed, "attachment", f"{name} at frame {worst}", 0.0, float(apart[worst]), allowed)
    notes.near("angles", f"{name} stowed", float(hinge["stowed_angle_rad"]), float(angle[0]), RIGID)
    notes.near("angles", f"{name} deployed", 0.0, float(angle[-1]), RIGID)
    if hinge["slack_m"] > 0.0:
        return  # its leaves may also shift and tilt, so the angle alone does not give the pose
    told = turn(axis, angle)[..., :3]
    got = relative(poses[:, i], poses[:, j])[..., :3]
    off = np.abs(told - got).max(axis=(1, 2))
    worst = int(off.argmax())
    notes.true(off[worst] <= TURNED, "angles", f"{name} against poses at frame {worst}", 0.0, float(off[worst]), TURNED)


def _stages(record: Mapping[str, Any], s: Array, angles: Array, notes: Notes) -> None:
    """No hinge moves outside its stages."""
    allowed = np.zeros((len(s) - 1, angles.shape[1]), dtype=bool)
    for k, stage in enumerate(record["path"].get("stages", [])):
        low, high = stage["s"]
        fine = low < high and all(0 <= h < angles.shape[1] for h in stage["hinges"])
        if notes.true(fine, "stages", f"stage {k}", "known hinges, rising s", [stage["hinges"], stage["s"]]):
            # an interval belongs to a stage when its middle does, and both ends lie no farther out than rounding
            inside = (s[:-1] >= low - 1e-9) & (s[1:] <= high + 1e-9)
            allowed[np.ix_(inside, np.asarray(stage["hinges"], dtype=np.int64))] = True
    stray = (np.abs(np.diff(angles, axis=0)) > RIGID) & ~allowed
    for h in np.flatnonzero(stray.any(axis=0)):
        k = int(np.flatnonzero(stray[:, h])[0])
        notes.add("stages", f"hinge {h} between s {s[k]:.4g} and {s[k + 1]:.4g}", "still outside its stages", "moves")


def tree_order(record: Mapping[str, Any]) -> list[tuple[int, int, int, float]]:
    """(hinge, known panel, new panel, +1 or -1) from the root to every panel; true hinges before slack ones."""
    waiting = sorted(record["hinges"], key=lambda h: (h["slack_m"] > 0.0, h["id"]))
    known, order = {0}, []
    while True:
        for hinge in waiting:
            i, j = hinge["panels"]
            if (i in known) != (j in known):
                new, old, sign = (j, i, 1.0) if i in known else (i, j, -1.0)
                order.append((int(hinge["id"]), int(old), int(new), sign))
                known.add(new)
                break
        else:
            return order


def between(record: Mapping[str, Any], order: list[tuple[int, int, int, float]], k: int, shares: Array) -> Array:
    """Poses [n, P, 3, 4] at shares [n] of the way from frame k to frame k + 1, angles linear, by the tree.

    A slack hinge's leaf follows its written poses: along the screw from one to the other.
    """
    path = record["path"]
    count = len(record["panels"])
    out = np.tile(np.eye(3, 4), (len(shares), count, 1, 1))
    for hinge, old, new, sign in order:
        told = record["hinges"][hinge]
        axis = np.asarray(told["axis"], dtype=np.float64)
        first, second = path["angles"][k][hinge], path["angles"][k + 1][hinge]
        turned = np.array([first]) if first == second else first + shares * (second - first)
        step = turn(axis, sign * turned)
        if told["slack_m"] > 0.0:
            ends = np.asarray([path["poses"][f] for f in (k, k + 1)], dtype=np.float64)
            step = _evenly(relative(ends[:, old], ends[:, new]), shares)
        out[:, new] = chained(out[:, old], step)
    return out


def parted(record: Mapping[str, Any], poses: Array) -> Array:
    """[H]: how far the lines of hinges part beyond their slack at worst, at poses [n, P, 3, 4]."""
    out = np.zeros(len(record["hinges"]))
    for hinge in record["hinges"]:
        i, j = hinge["panels"]
        axis = np.asarray(hinge["axis"], dtype=np.float64)
        apart = np.linalg.norm(carried(poses[:, i], axis) - carried(poses[:, j], axis), axis=-1)
        out[hinge["id"]] = max(0.0, float(apart.max()) - float(hinge["slack_m"]))
    return out


def _evenly(ends: Array, shares: Array) -> Array:
    """Poses between two along the one screw that joins them, at a constant rate.

    exp(x (w, v)) ends[0]: w the turn vector of the step, V(w) v its shift, V the mean of the turns by 0..w.
    """
    from scipy.spatial.transform import Rotation

    step = ends[1, :, :3] @ ends[0, :, :3].T
    w = Rotation.from_matrix(step).as_rotvec()
    v = np.linalg.solve(_mean_turn(w[None])[0], ends[1, :, 3] - step @ ends[0, :, 3])
    part = np.concatenate(
        [
            Rotation.from_rotvec(shares[:, None] * w).as_matrix(),
            (_mean_turn(shares[:, None] * w) @ (shares[:, None] * v)[..., None]),
        ],
        axis=-1,
    )
    return chained(part, np.broadcast_to(ends[0], part.shape))


def _mean_turn(w: Array) -> Array:
    """[n, 3, 3]: the mean of the rotations by x w, x from 0 to 1, for turn vectors w [n, 3]: five-point Gauss, exact to
    rounding for the small turns between two frames."""
    from scipy.spatial.transform import Rotation

    at, weight = np.polynomial.legendre.leggauss(5)
    turns = [Rotation.from_rotvec(w * (1.0 + x) / 2.0).as_matrix() for x in at]
    return np.asarray(sum(k * t / 2.0 for k, t in zip(weight, turns, strict=True)))
