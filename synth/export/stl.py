"""Binary STL, one file a panel, millimetres, lying on the bed with its back down (a framed one with its face down)."""

import struct
from pathlib import Path

import numpy as np

from synth.core.arrays import Floats, Ints
from synth.export.parts import Record
from synth.export.printing import Print, Printed, lying, mesh_of, printed


def write_stl(record: Record, folder: Path, wanted: Print | None = None, found: Printed | None = None) -> list[Path]:
    """panel_N.stl for every panel and notes.txt; returns the files. found: the solids, where they are made already.

    Raises as printed() and mesh_of().
    """
    made, wanted = [], wanted or Print()
    found = found or printed(record, wanted)
    for panel, solid in enumerate(found.solids):
        points, triangles = mesh_of(solid)
        points = lying(record["panels"][panel], points)
        path = folder / f"panel_{panel}.stl"
        path.write_bytes(stl_bytes(points - points.min(axis=0), triangles, f"{record['id']} panel {panel}"))
        made.append(path)
    made.append(folder / "notes.txt")
    made[-1].write_text(_notes(record, wanted, found), encoding="utf-8")
    return made


def _notes(record: Record, wanted: Print, found: Printed) -> str:
    """How the models were made, a line a fact."""
    lines = [f"{record['id']}, printed model, mm", f"bed {wanted.bed[0]:g} x {wanted.bed[1]:g}", *found.notes]
    if found.bores:
        lines += [
            f"hinges: {wanted.style}, barrels of radius {wanted.radius:g}, clearance {wanted.clearance:g}",
            f"pin {wanted.pin:g}" if wanted.style == "pin" else f"cones {wanted.bump:g} high",
        ]
    return "\n".join(lines) + "\n"


def stl_bytes(points: Floats, triangles: Ints, title: str) -> bytes:
    """The file: 80 bytes of title, a count, then normal and corners of each triangle in single precision."""
    corners = points.astype("<f4")[triangles]
    edges = corners.astype(np.float64)
    normal = np.cross(edges[:, 1] - edges[:, 0], edges[:, 2] - edges[:, 0])
    size = np.linalg.norm(normal, axis=1, keepdims=True)
    body = np.zeros(len(corners), dtype=[("n", "<f4", 3), ("c", "<f4", (3, 3)), ("a", "<u2")])
    body["n"], body["c"] = normal / np.where(size > 0.0, size, 1.0), corners
    return title.encode()[:79].ljust(80, b" ") + struct.pack("<I", len(corners)) + body.tobytes()
