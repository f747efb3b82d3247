"""A candidate's solids and motion for the page's own renderer: triangles, edges, poses, as base64 of plain arrays."""

import base64
from collections.abc import Mapping
from typing import Any

import numpy as np

from synth.core.arrays import Floats, transform
from synth.export.parts import Prism, fitting_prisms, panel_prisms, prism_mesh
from synth.problem.envelope import Envelope
from synth.problem.problem import Problem
from synth.stow.circle import least_circle

FACE, BODY, ROOT, FITTING = range(4)
"""Tones, as the renderer numbers them."""
_ROUND = 64


def scene(record: Mapping[str, Any], problem: Problem) -> dict[str, Any]:
    """positions [v, 3] float32 (three a triangle), tones [v] uint8, edges [e, 2, 3] float32, sorted by panel;
    panels: first and count in both; s [F] and poses [F, P, 12] float32. Deployed frame, metres."""
    positions, tones, edges, panels = [], [], [], []
    at = line = 0
    fittings = fitting_prisms(record)
    for told in record["panels"]:
        number = int(told["id"])
        body = ROOT if number == 0 else BODY
        front = FACE if told["receiving"] else body
        solids = [(p, front, front if p.kind == "sheet" else body) for p in panel_prisms(told)]
        solids += [(f, FITTING, FITTING) for f in fittings if f.panel == number]
        meshes = [_triangles(*s) for s in solids]
        lines = [_edges(s[0]) for s in solids]
        count, length = sum(len(t) for _, t in meshes), sum(len(x) for x in lines)
        panels.append({"first": at, "count": count, "line": 2 * line, "lines": 2 * length})
        positions += [p for p, _ in meshes]
        tones += [t for _, t in meshes]
        edges += lines
        at, line = at + count, line + length
    poses = np.asarray(record["path"]["poses"], dtype=np.float64)
    envelope = next((e for e in problem.envelope if e.name == record["envelope"]), None)
    return {
        "panels": panels,
        "positions": packed(np.concatenate(positions)),
        "tones": base64.b64encode(np.concatenate(tones).astype(np.uint8).tobytes()).decode(),
        "edges": packed(np.concatenate(edges)),
        "s": [float(v) for v in record["path"]["s"]],
        "poses": packed(poses.reshape(len(poses), -1)),
        "guides": _guides(record, problem, envelope),
    }


def packed(values: Floats) -> str:
    """Single-precision little-endian bytes as base64."""
    return base64.b64encode(np.ascontiguousarray(values, dtype="<f4").tobytes()).decode()


def _triangles(prism: Prism, front: int, other: int) -> tuple[Floats, Any]:
    """Corners [3 m, 3] of outward triangles and the tone of each corner."""
    points, tri = prism_mesh(prism)
    corners = points[tri]
    top = (corners[:, :, 2] == prism.high).all(axis=1)
    return corners.reshape(-1, 3), np.repeat(np.where(top, front, other), 3)


def _edges(prism: Prism) -> Floats:
    """Edges [e, 2, 3] of a prism: both rings and the uprights."""
    found = []
    for ring in (prism.face.exterior, *prism.face.interiors):
        flat = np.asarray(ring.coords)[:-1]
        low, high = (np.column_stack([flat, np.full(len(flat), z)]) for z in (prism.low, prism.high))
        found += [np.stack([low, np.roll(low, -1, axis=0)], 1), np.stack([high, np.roll(high, -1, axis=0)], 1),
                  np.stack([low, high], 1)]  # fmt: skip
    return np.concatenate(found)


def _guides(record: Mapping[str, Any], problem: Problem, envelope: Envelope | None) -> dict[str, str]:
    """Lines that do not move: clear circle, the walls of the envelope about the stowed pack, keep-out boxes."""
    radius = problem.aperture.clear_diameter / 2.0
    found = {"aperture": packed(_loop(_circle(radius, 0.0)))}
    if envelope is not None:
        turn = np.asarray(record["stowed"]["rotation"], dtype=np.float64)
        middle = _stowed_middle(record, turn, envelope)
        for name, sides in (("walls", np.asarray(envelope.outside)), ("allowed", envelope.allowed)):
            if name == "walls" or envelope.clearance > 0.0:
                found[name] = packed((_room(envelope.kind, sides) + middle) @ turn)
    boxes = []
    for k in problem.keep_out:
        low, high = np.asarray(k.min, dtype=np.float64), np.asarray(k.max, dtype=np.float64)
        boxes.append(_room("box", high - low) + (low + high) / 2.0)
    if boxes:
        found["keep_out"] = packed(np.concatenate(boxes))
    return found


def _circle(radius: float, z: float) -> Floats:
    a = 2.0 * np.pi * np.arange(_ROUND) / _ROUND
    return np.column_stack([radius * np.cos(a), radius * np.sin(a), np.full(_ROUND, z)])


def _loop(ring: Floats) -> Floats:
    return np.stack([ring, np.roll(ring, -1, axis=0)], axis=1)


def _room(kind: str, sides: Any) -> Floats:
    """Edges [e, 2, 3] of a box or a cylinder about the origin."""
    x, y, z = (float(v) / 2.0 for v in sides)
    if kind == "round":
        uprights = np.stack([_circle(x, -z)[::16], _circle(x, z)[::16]], axis=1)
        return np.concatenate([_loop(_circle(x, -z)), _loop(_circle(x, z)), uprights])
    floor = np.array([[-x, -y, -z], [x, -y, -z], [x, y, -z], [-x, y, -z]])
    roof = floor + np.array([0.0, 0.0, 2.0 * z])
    return np.concatenate([_loop(floor), _loop(roof), np.stack([floor, roof], axis=1)])


def _solids(record: Mapping[str, Any], poses: Floats) -> Floats:
    """Corners [n, 3] of all panels and fittings at poses [P, 3, 4]."""
    points = []
    for part in [*record["panels"], *record["fittings"]]:
        pose = poses[part["id"] if "id" in part else part["panel"]]
        ring = np.asarray(part["outline"], dtype=np.float64)
        points += [transform(pose, np.column_stack([ring, np.full(len(ring), part[z])])) for z in ("z_back", "z_front")]
    return np.concatenate(points)


def _stowed_middle(record: Mapping[str, Any], turn: Floats, envelope: Envelope) -> Floats:
    """Middle of the stowed solids in the envelope's axes; of a round one in plan the centre of the least circle."""
    points = _solids(record, np.asarray(record["path"]["poses"][0], dtype=np.float64)) @ turn.T
    middle = (points.min(axis=0) + points.max(axis=0)) / 2.0
    if envelope.kind == "round":
        middle[:2] = least_circle(points[None, :, :2])[0][0]
    return np.asarray(middle)
