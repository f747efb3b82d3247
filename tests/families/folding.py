"""Slow, obvious twins for the tests of families: builds, poses by plain products, prisms by separating axes.

Nothing here uses the family code or the fold package: what the families claim is folded
anew from outlines, hinge lines and angles alone.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from scipy.spatial.transform import Rotation

from synth.core.arrays import Floats
from synth.core.build import Build
from synth.core.family import Family
from synth.core.geometry import Geometry
from synth.core.topology import Topology

DIAMETER = 0.85
PANEL_GAP = 0.5e-3


def build(rows: int, seed: int = 1, diameter: float = DIAMETER) -> Build:
    """Builds spread over thin and thick panels, narrow and wide gaps, every second one thin and small.

    The pitch leaves room for the knuckles.
    """
    rng = np.random.default_rng(seed)
    t, e, k = rng.uniform(1e-3, 12e-3, rows), rng.uniform(3e-3, 12e-3, rows), rng.uniform(1e-3, 5e-3, rows)
    t[::2], e[::2], k[::2] = 2e-3, 4e-3, 1e-3
    # and every fourth with room for packs and hinges that pass
    e[2::4] = 10e-3
    gap = np.maximum(PANEL_GAP, np.maximum(2 * (k - t), (k + 0.5e-3 - t) / 1.5))
    width = rng.uniform(5e-3, 20e-3, rows)
    width[::2] = 6e-3
    return Build(diameter, PANEL_GAP, t, e, t + gap, k, width)


def plain_build(rows: int, t: float = 4e-3, e: float = 6e-3, g: float = 1e-3, k: float = 2e-3) -> Build:
    """The same numbers in every row: thickness, edge gap, face gap, knuckle."""
    one = np.ones(rows)
    return Build(DIAMETER, PANEL_GAP, t * one, e * one, (t + g) * one, k * one, 15e-3 * one)


def take(whole: Build, rows: Any) -> Build:
    """Some rows of a build."""
    names = ("thickness", "edge_gap", "pitch", "knuckle", "unit_width")
    return replace(whole, **{n: getattr(whole, n)[rows] for n in names})


def scaled(whole: Build, factor: float) -> Build:
    """All lengths times factor."""
    names = ("diameter", "panel_gap", "thickness", "edge_gap", "pitch", "knuckle", "unit_width")
    return replace(whole, **{n: getattr(whole, n) * factor for n in names})


def columns(family: type[Family], rows: int, seed: int = 2) -> dict[str, Floats]:
    """Real variables: the two corners of the box first, then random points."""
    rng = np.random.default_rng(seed)
    out = {}
    for name, real in family.reals().items():
        x = rng.uniform(real.low, real.high, rows)
        x[:1], x[1:2] = real.low, real.high
        out[name] = x
    return out


def batch(family: type[Family], cell: Mapping[str, Any], whole: Build, seed: int = 2) -> tuple[Topology, Geometry]:
    made = family.of(cell, columns(family, whole.rows, seed))
    return made.topology(), made.geometry(whole)


def poses(parent: Any, axis: Floats, angle: Floats) -> Floats:
    """[P, 4, 4] of one candidate: turns about the deployed hinge lines, multiplied from the root outwards."""
    out = [np.eye(4)]
    for h in range(len(parent) - 1):
        first, second = axis[h]
        turn = np.eye(4)
        turn[:3, :3] = Rotation.from_rotvec((second - first) / np.linalg.norm(second - first) * angle[h]).as_matrix()
        turn[:3, 3] = first - turn[:3, :3] @ first
        out.append(out[int(parent[h + 1])] @ turn)
    return np.stack(out)


def stations(topology: Topology, stowed: Floats, each: int) -> Floats:
    """Angles [S, H]: every stage moves linearly while earlier ones are open and later ones still stowed."""
    out = [stowed]
    for stage in range(int(topology.stage.max(initial=0)) + 1):
        for u in np.linspace(0.0, 1.0, each + 1)[1:]:
            left = np.where(topology.stage < stage, 0.0, np.where(topology.stage == stage, 1.0 - u, 1.0))
            out.append(stowed * left)
    return np.stack(out)


@dataclass(frozen=True)
class Solids:
    """Corners [P, 2 V, 3], unit face normals [P, V + 1, 3] and edge directions [P, V + 1, 3] of prisms."""

    corners: Floats
    normals: Floats
    edges: Floats


def solids(outline: Floats, thickness: float, pose: Floats) -> Solids:
    """Prisms -thickness <= z <= 0 over outlines [P, V, 2], moved by poses [P, 4, 4]."""
    count, v = outline.shape[:2]
    z = np.zeros((count, v, 1))
    corners = np.concatenate([np.concatenate([outline, z - thickness], -1), np.concatenate([outline, z], -1)], 1)
    edge = np.roll(outline, -1, axis=1) - outline
    edge = np.concatenate([edge, z], axis=-1)
    length = np.linalg.norm(edge, axis=-1, keepdims=True)
    up = np.broadcast_to([0.0, 0.0, 1.0], (count, 1, 3))
    edge = np.where(length > 1e-9, edge / np.maximum(length, 1e-9), up)
    normal = np.where(length > 1e-9, np.stack([edge[..., 1], -edge[..., 0], 0 * edge[..., 0]], axis=-1), up)
    turn = np.swapaxes(pose[:, :3, :3], 1, 2)
    return Solids(
        corners @ turn + pose[:, None, :3, 3],
        np.concatenate([normal, up], axis=1) @ turn,
        np.concatenate([edge, up], axis=1) @ turn,
    )


def gaps(bodies: Solids, pairs: Floats) -> Floats:
    """Widest gap [N] over separating axes of pairs [N, 2] of convex prisms: > 0 proves them apart by at least that."""
    i, j = pairs.T
    cross = np.cross(bodies.edges[i][:, :, None], bodies.edges[j][:, None])
    size = np.linalg.norm(cross, axis=-1, keepdims=True)
    parallel = size < 1e-6
    cross = np.where(parallel, bodies.normals[i][:, -1:, None], cross / np.where(parallel, 1.0, size))
    axes = np.concatenate([bodies.normals[i], bodies.normals[j], cross.reshape(len(i), -1, 3)], axis=1)
    a = axes @ np.swapaxes(bodies.corners[i], 1, 2)
    b = axes @ np.swapaxes(bodies.corners[j], 1, 2)
    gap = np.maximum(b.min(-1) - a.max(-1), a.min(-1) - b.max(-1))
    return np.asarray(gap.max(axis=1))


def least_gap(bodies: Solids, pairs: Floats, far: float) -> float:
    """Least gap of the pairs; pairs whose boxes are `far` apart are skipped."""
    low, high = bodies.corners.min(axis=1), bodies.corners.max(axis=1)
    i, j = pairs.T
    apart = np.maximum(low[j] - high[i], low[i] - high[j]).max(axis=1)
    close = pairs[apart < far]
    return min(far, float(gaps(bodies, close).min())) if len(close) else far


def all_pairs(count: int) -> np.ndarray:
    return np.stack(np.triu_indices(count, 1), axis=-1)


def stowed_size(bodies: Solids) -> Floats:
    """Extents [3] along the root's own axes."""
    flat = bodies.corners.reshape(-1, 3)
    return np.asarray(flat.max(axis=0) - flat.min(axis=0))
