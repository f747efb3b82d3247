"""Natural modes of a candidate's deployed network, from its record alone, as shapes that the page can move."""

from collections.abc import Mapping
from functools import lru_cache
from pathlib import Path
from typing import Any

import numpy as np
import shapely
from scipy.sparse.linalg import LinearOperator, eigsh, splu
from scipy.spatial import Delaunay

from synth.core.arrays import Floats, Ints
from synth.recheck.network import Network
from synth.record.file import read_record
from synth.service.page.scene import packed

COUNT = 6
"""Modes shown."""
MOST_FREEDOMS = 3000
"""The record's own degree of the plates' polynomials is lowered, to 6 at least, until the network has no more freedoms
than this: shapes of 61 panels in about a second."""
_ACROSS = 9
"""Grid points across the narrow side of a panel."""


def modes_view(record: Mapping[str, Any]) -> dict[str, Any]:
    """frequencies_hz [M]; points [n, 3], triangles [m, 3], lines [e, 2, 3]; shapes [M, n]: z of each mode, greatest
    size 1. The network is that of the record (plates, six-way units, lumps), on its mount."""
    degree = int(record["verification"]["plate_degree"])
    while degree > 6 and len(record["panels"]) * ((degree + 1) * (degree + 2) // 2 + 3) > MOST_FREEDOMS:
        degree -= 1
    net = Network(record, degree, 0.0)
    frequencies, shapes = _modes(net)
    points: list[Floats] = []
    triangles: list[Ints] = []
    lines: list[Ints] = []
    values: list[Floats] = []
    first = 0
    for k, panel in enumerate(record["panels"]):
        flat, tri, rim = _grid(shapely.Polygon(panel["outline"], panel.get("holes", [])))
        form, _ = net.plates[k].at(flat)
        values.append((form @ shapes[net.start[k] : net.start[k] + form.shape[1]]).T)
        points.append(np.column_stack([flat, np.full(len(flat), float(panel["z_front"]))]))
        triangles.append(tri + first)
        lines.append(rim + first)
        first += len(flat)
    z = np.concatenate(values, axis=1)
    z /= np.abs(z).max(axis=1, keepdims=True)
    return {
        "frequencies_hz": [float(f) for f in frequencies],
        "degree": degree,
        "points": packed(np.concatenate(points)),
        "triangles": np.concatenate(triangles).ravel().tolist(),
        "lines": np.concatenate(lines).ravel().tolist(),
        "shapes": [packed(row) for row in z],
    }


@lru_cache(maxsize=32)
def kept_modes(file: Path, changed: int) -> dict[str, Any]:
    """modes_view of a record file, worked out once for each content."""
    return modes_view(read_record(file))


def _modes(net: Network) -> tuple[Floats, Floats]:
    """Lowest frequencies (Hz) and shapes [N, M] of the sparse network, by shift and inverse about zero."""
    size = net.stiffness.shape[0]
    factor = splu(net.stiffness, permc_spec="MMD_AT_PLUS_A", options={"SymmetricMode": True})
    inverse = LinearOperator((size, size), matvec=factor.solve, dtype=np.float64)
    squares, shapes = eigsh(net.stiffness, k=min(COUNT, size - 1), M=net.mass, sigma=0.0, OPinv=inverse,
                            v0=np.ones(size), tol=1e-8)  # fmt: skip
    order = np.argsort(squares)
    return np.sqrt(np.maximum(squares[order], 0.0)) / (2.0 * np.pi), shapes[:, order]


def _grid(face: shapely.Polygon) -> tuple[Floats, Ints, Ints]:
    """Points in a face, triangles between them, and the pairs of points along its rim."""
    box = face.bounds
    step = min(box[2] - box[0], box[3] - box[1]) / _ACROSS
    rings = [np.asarray(shapely.segmentize(r, step).coords)[:-1] for r in (face.exterior, *face.interiors)]
    x, y = (np.arange(lo + step / 2.0, hi, step) for lo, hi in ((box[0], box[2]), (box[1], box[3])))
    inside = np.stack(np.meshgrid(x, y), axis=-1).reshape(-1, 2)
    deep = face.buffer(-0.4 * step)
    inside = inside[shapely.contains_xy(deep, inside[:, 0], inside[:, 1])]
    flat = np.concatenate([*rings, inside])
    tri = Delaunay(flat).simplices
    middle = flat[tri].mean(axis=1)
    tri = tri[shapely.contains_xy(face, middle[:, 0], middle[:, 1])]
    rim, first = [], 0
    for ring in rings:
        here = first + np.arange(len(ring))
        rim.append(np.column_stack([here, np.roll(here, -1)]))
        first += len(ring)
    return flat, np.asarray(tri, dtype=np.int64), np.concatenate(rim)
