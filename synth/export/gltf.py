"""glTF 2.0 binary with the deployment animated: every panel turns about its hinge, exactly at and between frames."""

import json
import struct
from pathlib import Path
from typing import Any

import numpy as np

from synth.core.arrays import Floats, Ints
from synth.export.linkage import angles, axis_of, quaternion, relative, steady_signs, tree
from synth.export.parts import Prism, Record, fitting_prisms, panel_prisms, prism_mesh

SECONDS, HOLD = 10.0, 1.0
"""Length of the deployment, and how long the deployed state is held after it (s)."""
MATERIALS = (
    ("receiving face", (0.60, 0.74, 0.88), 0.35, 0.25),
    ("back and sides", (0.46, 0.47, 0.50), 0.0, 0.8),
    ("root", (0.24, 0.36, 0.52), 0.0, 0.8),
    ("fitting", (0.87, 0.52, 0.16), 0.2, 0.6),
    ("sheet", (0.70, 0.88, 0.92), 0.0, 0.15),
    ("frame", (0.20, 0.21, 0.23), 0.0, 0.7),
)
CLEAR = 0.45
"""Opacity of the sheet of a framed panel."""
_FLOAT, _UINT, _VERTEX, _INDEX = 5126, 5125, 34962, 34963


class _Buffer:
    """The binary chunk with its views and accessors."""

    def __init__(self) -> None:
        self.data = bytearray()
        self.views: list[dict[str, Any]] = []
        self.accessors: list[dict[str, Any]] = []

    def add(self, values: Floats | Ints, kind: str, target: int | None = None, bounds: bool = False) -> int:
        """Appends an array; the number of its accessor. Whole numbers become unsigned, others single precision."""
        whole = values.dtype.kind in "iu"
        array = np.ascontiguousarray(values, dtype=np.uint32 if whole else np.float32)
        view: dict[str, Any] = {"buffer": 0, "byteOffset": len(self.data), "byteLength": array.nbytes}
        if target is not None:
            view["target"] = target
        accessor: dict[str, Any] = {"bufferView": len(self.views), "componentType": _UINT if whole else _FLOAT,
                                    "count": len(array), "type": kind}  # fmt: skip
        if bounds:
            flat = array.reshape(len(array), -1)
            accessor["min"], accessor["max"] = flat.min(axis=0).tolist(), flat.max(axis=0).tolist()
        self.data += array.tobytes()
        self.views.append(view)
        self.accessors.append(accessor)
        return len(self.accessors) - 1


def write_gltf(record: Record, folder: Path, seconds: float = SECONDS) -> list[Path]:
    """deployment.glb: metres, y up (a root node turns the record's z to y); returns the file.

    A panel hangs on a node at its hinge, which alone turns; on a slack hinge its whole motion is written.
    """
    buffer = _Buffer()
    nodes: list[dict[str, Any]] = [
        {"name": str(record["id"]), "rotation": [-np.sqrt(0.5), 0.0, 0.0, np.sqrt(0.5)], "children": [1]}
    ]
    meshes = [_mesh(buffer, record, p) for p in range(len(record["panels"]))]
    place = {0: 1}
    nodes.append({"name": "panel 0", "mesh": 0, "children": []})
    s = np.asarray(record["path"]["s"], dtype=np.float64)
    time = buffer.add(np.append(seconds * s, seconds + HOLD), "SCALAR", bounds=True)
    channels: list[dict[str, Any]] = []
    samplers: list[dict[str, Any]] = []

    def animate(node: int, path: str, values: Floats, kind: str) -> None:
        samplers.append({"input": time, "output": buffer.add(np.concatenate([values, values[-1:]]), kind),
                         "interpolation": "LINEAR"})  # fmt: skip
        channels.append({"sampler": len(samplers) - 1, "target": {"node": node, "path": path}})

    for branch in tree(record):
        hinge = record["hinges"][branch.hinge]
        knee, leaf = len(nodes), len(nodes) + 1
        point, along = axis_of(hinge)
        if branch.slack:
            step = relative(record, branch.parent, branch.child)
            point = np.zeros(3)
            turns = steady_signs(quaternion(step[:, :, :3]))
            animate(knee, "translation", step[:, :, 3], "VEC3")
        else:
            half = branch.sign * angles(record)[:, branch.hinge] / 2.0
            turns = steady_signs(np.column_stack([np.cos(half), np.sin(half)[:, None] * along]))
        animate(knee, "rotation", turns[:, [1, 2, 3, 0]], "VEC4")
        nodes.append({"name": f"hinge {branch.hinge}", "translation": point.tolist(), "children": [leaf]})
        nodes.append({"name": f"panel {branch.child}", "mesh": branch.child, "translation": (-point).tolist(),
                      "children": []})  # fmt: skip
        nodes[place[branch.parent]]["children"].append(knee)
        place[branch.child] = leaf
    for node in nodes:
        if not node["children"]:
            del node["children"]
    document = _document(record, nodes, meshes, buffer)
    if channels:
        document["animations"] = [{"name": "deployment", "channels": channels, "samplers": samplers}]
    path = folder / "deployment.glb"
    path.write_bytes(_binary(document, bytes(buffer.data)))
    return [path]


def _used(meshes: list[Any]) -> list[int]:
    """Materials that some mesh has, which are numbered anew in that order."""
    primitives = [p for mesh in meshes for p in mesh["primitives"]]
    used = sorted({p["material"] for p in primitives})
    for p in primitives:
        p["material"] = used.index(p["material"])
    return used


def _document(record: Record, nodes: list[Any], meshes: list[Any], buffer: _Buffer) -> dict[str, Any]:
    return {
        "asset": {"version": "2.0", "generator": "stowfront",
                  "extras": {"candidate": record["id"], "family": record["family"],
                             "problem": record["problem_digest"]}},
        "scene": 0,
        "scenes": [{"nodes": [0]}],
        "nodes": nodes,
        "meshes": meshes,
        "materials": [
            {"name": name, "pbrMetallicRoughness": {
                "baseColorFactor": [*(round(c**2.2, 6) for c in tone), CLEAR if name == "sheet" else 1.0],
                "metallicFactor": metal, "roughnessFactor": rough},
             **({"alphaMode": "BLEND"} if name == "sheet" else {})}
            for name, tone, metal, rough in (MATERIALS[k] for k in _used(meshes))
        ],
        "buffers": [{"byteLength": len(buffer.data)}],
        "bufferViews": buffer.views,
        "accessors": buffer.accessors,
    }  # fmt: skip


def _mesh(buffer: _Buffer, record: Record, panel: int) -> dict[str, Any]:
    """A panel with its fittings: flat-shaded triangles, the receiving face in a material of its own."""
    told = record["panels"][panel]
    body = 2 if panel == 0 else 1
    groups: dict[int, list[Floats]] = {}
    for solid in panel_prisms(told):
        front, other = {"sheet": (4, 4), "frame": (5, 5)}.get(solid.kind, (0 if told["receiving"] else body, body))
        _shade(groups, solid, front, other)
    for fitting in fitting_prisms(record, panel):
        _shade(groups, fitting, 3, 3)
    primitives = []
    for material in sorted(groups):
        corners = np.concatenate(groups[material])
        normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
        normal /= np.linalg.norm(normal, axis=1, keepdims=True)
        primitives.append({
            "attributes": {"POSITION": buffer.add(corners.reshape(-1, 3), "VEC3", _VERTEX, True),
                           "NORMAL": buffer.add(np.repeat(normal, 3, axis=0), "VEC3", _VERTEX)},
            "indices": buffer.add(np.arange(3 * len(corners)), "SCALAR", _INDEX),
            "material": material,
        })  # fmt: skip
    return {"name": f"panel {panel}", "primitives": primitives}


def _shade(groups: dict[int, list[Floats]], prism: Prism, front: int, other: int) -> None:
    """Triangles [m, 3, 3] of a prism into the groups of the materials of its front and of the rest."""
    points, tri = prism_mesh(prism)
    corners = points[tri]
    top = (corners[:, :, 2] == prism.high).all(axis=1)
    groups.setdefault(front, []).append(corners[top])
    groups.setdefault(other, []).append(corners[~top])


def _binary(document: dict[str, Any], data: bytes) -> bytes:
    """The container: header, JSON chunk padded with blanks, binary chunk padded with zeros."""
    text = json.dumps(document, separators=(",", ":"), allow_nan=False).encode()
    text += b" " * (-len(text) % 4)
    data += b"\0" * (-len(data) % 4)
    size = 12 + 8 + len(text) + 8 + len(data)
    return (struct.pack("<4sII", b"glTF", 2, size) + struct.pack("<I4s", len(text), b"JSON") + text
            + struct.pack("<I4s", len(data), b"BIN\0") + data)  # fmt: skip
