"""Freedoms and redundant constraints of every stage, from the motions of the panels themselves.

Every panel but the root may move with a turn rate and a velocity: six unknowns. A hinge that moves ties two panels by
five equations (its middle stays together, no turn across its line), a hinge of another stage by six. What is left free
is the stage's freedoms; equations beyond the rank are redundant. The program counts loops and hinge screws instead.
"""

from collections.abc import Mapping
from typing import Any

import numpy as np

from synth.recheck.finding import Notes
from synth.recheck.motion import carried
from synth.recheck.solid import Array

CUT = 1e-8
"""Singular values below this share of the largest count as zero: frames are written with twelve digits."""


def check_freedoms(record: Mapping[str, Any], notes: Notes) -> None:
    """Told freedoms of each stage at the frame nearest to its middle, the hinges of other stages locked.

    Stages that tell none (hinges with slack hold nothing exactly) are left alone.
    """
    path = record["path"]
    s, poses = (np.asarray(path[k], dtype=np.float64) for k in ("s", "poses"))
    loops = len(record["hinges"]) - (len(record["panels"]) - 1)
    for k, stage in enumerate(path.get("stages", [])):
        if stage.get("freedoms") is None:
            continue
        if loops == 0:
            free, redundant = len(stage["hinges"]), 0
        else:
            at = int(np.abs(s - sum(stage["s"]) / 2.0).argmin())
            free, redundant = counted(record, poses[at], set(stage["hinges"]))
        notes.true(stage["freedoms"] == free, "freedoms", f"stage {k}", free, stage["freedoms"])
        told = stage.get("redundant_constraints")
        notes.true(told == redundant, "freedoms", f"redundant constraints of stage {k}", redundant, told)


def counted(record: Mapping[str, Any], placed: Array, moving: set[int]) -> tuple[int, int]:
    """Freedoms and redundant equations at poses placed [P, 3, 4] when the hinges `moving` turn and others rest.

    Velocities are told of the origin, v + w x c at a point c; lengths are scaled by how far hinges lie apart.
    """
    lines = [carried(placed[h["panels"][0]], np.asarray(h["axis"], dtype=np.float64)) for h in record["hinges"]]
    middle = np.array([line.mean(axis=0) for line in lines])
    scale = float(np.sqrt(((middle - middle.mean(axis=0)) ** 2).sum(axis=1).mean())) or 1.0
    rows = []
    for hinge, line, c in zip(record["hinges"], lines, middle / scale, strict=True):
        way = (line[1] - line[0]) / np.linalg.norm(line[1] - line[0])
        across = np.linalg.svd(way[None])[2][1:] if hinge["id"] in moving else np.eye(3)
        # w x c = -[c] w
        shift = -np.array([[0.0, -c[2], c[1]], [c[2], 0.0, -c[0]], [-c[1], c[0], 0.0]])
        part = np.zeros((len(across) + 3, len(placed), 6))
        for panel, sign in zip(hinge["panels"], (-1.0, 1.0), strict=True):
            part[: len(across), panel, :3] = sign * across
            part[len(across) :, panel, :3] = sign * shift
            part[len(across) :, panel, 3:] = sign * np.eye(3)
        rows.append(part[:, 1:].reshape(len(part), -1))
    table = np.concatenate(rows)
    values = np.linalg.svd(table, compute_uv=False)
    rank = int((values > CUT * values[0]).sum())
    return table.shape[1] - rank, table.shape[0] - rank
