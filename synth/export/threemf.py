"""3MF: panels named and laid out on as many beds as they need, millimetres."""

import math
import zipfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from xml.sax.saxutils import quoteattr

import numpy as np

from synth.core.arrays import Floats, Ints
from synth.export.parts import Record, panel_face
from synth.export.printing import Print, Printed, lying, mesh_of, printed, rectangle_of

_TYPES = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">'
    '<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>'
    '<Default Extension="model" ContentType="application/vnd.ms-package.3dmanufacturing-3dmodel+xml"/></Types>'
)
_RELATIONS = (
    '<?xml version="1.0" encoding="UTF-8"?>\n'
    '<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">'
    '<Relationship Target="/3D/3dmodel.model" Id="rel0" '
    'Type="http://schemas.microsoft.com/3dmanufacturing/2013/01/3dmodel"/></Relationships>'
)
_APART = 4.0
"""mm between parts on a bed."""


@dataclass(frozen=True, eq=False)
class Part:
    """A panel's mesh turned to lie along the bed, its lower left corner at the origin."""

    name: str
    points: Floats
    triangles: Ints

    @property
    def size(self) -> Floats:
        return np.asarray(self.points.max(axis=0))


def write_threemf(
    record: Record, folder: Path, wanted: Print | None = None, found: Printed | None = None
) -> list[Path]:
    """plate_K.3mf, as many as needed; returns the files. found: the solids, where they are made already.

    Raises as printed().
    """
    wanted = wanted or Print()
    parts = []
    for panel, solid in zip(record["panels"], (found or printed(record, wanted)).solids, strict=True):
        points, triangles = mesh_of(solid)
        flat = lying(panel, points)
        turn = rectangle_of(panel_face(panel))[0] * (
            1.0 if flat is points else -1.0
        )  # face down, it turns the other way
        parts.append(_laid(f"panel {panel['id']}", flat, triangles, turn))
    made = []
    for number, plate in enumerate(plates(parts, wanted.bed), start=1):
        path = folder / f"plate_{number}.3mf"
        _write(path, plate, f"{record['id']} plate {number}")
        made.append(path)
    return made


def _laid(name: str, points: Floats, triangles: Ints, turn: float) -> Part:
    c, s = math.cos(turn), math.sin(turn)
    flat = points @ np.array([[c, s, 0.0], [-s, c, 0.0], [0.0, 0.0, 1.0]])
    if np.ptp(flat[:, 0]) < np.ptp(flat[:, 1]):
        flat = flat @ np.array([[0.0, 1.0, 0.0], [-1.0, 0.0, 0.0], [0.0, 0.0, 1.0]])
    return Part(name, np.round(flat - flat.min(axis=0), 7), triangles)


def plates(parts: list[Part], bed: tuple[float, float]) -> Iterator[list[tuple[Part, float, float]]]:
    """(part, x, y) of every bed: shelves from deep to shallow, each filled from the left."""
    waiting = sorted(parts, key=lambda p: (-p.size[1], p.name))
    while waiting:
        plate: list[tuple[Part, float, float]] = []
        y = 0.0
        while waiting and (not plate or y + waiting[0].size[1] <= bed[1]):
            depth, x, left = float(waiting[0].size[1]), 0.0, []
            for part in waiting:
                if (x == 0.0 or x + part.size[0] <= bed[0]) and part.size[1] <= depth + 1e-9:
                    plate.append((part, x, y))
                    x += float(part.size[0]) + _APART
                else:
                    left.append(part)
            waiting = left
            y += depth + _APART
        yield plate


def _write(path: Path, plate: list[tuple[Part, float, float]], title: str) -> None:
    lines = [
        '<?xml version="1.0" encoding="UTF-8"?>',
        '<model unit="millimeter" xml:lang="en-US" xmlns="http://schemas.microsoft.com/3dmanufacturing/core/2015/02">',
        f'<metadata name="Title">{title}</metadata><resources>',
    ]
    for number, (part, _, _) in enumerate(plate, start=1):
        lines.append(f'<object id="{number}" name={quoteattr(part.name)} type="model"><mesh><vertices>')
        lines += [f'<vertex x="{x:.7f}" y="{y:.7f}" z="{z:.7f}"/>' for x, y, z in part.points]
        lines.append("</vertices><triangles>")
        lines += [f'<triangle v1="{a}" v2="{b}" v3="{c}"/>' for a, b, c in part.triangles]
        lines.append("</triangles></mesh></object>")
    lines.append("</resources><build>")
    lines += [f'<item objectid="{n}" transform="1 0 0 0 1 0 0 0 1 {x:.6f} {y:.6f} 0"/>'
              for n, (_, x, y) in enumerate(plate, start=1)]  # fmt: skip
    lines.append("</build></model>")
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as package:
        for name, text in (("[Content_Types].xml", _TYPES), ("_rels/.rels", _RELATIONS),
                           ("3D/3dmodel.model", "\n".join(lines))):  # fmt: skip
            info = zipfile.ZipInfo(name, (1980, 1, 1, 0, 0, 0))
            info.compress_type = zipfile.ZIP_DEFLATED
            package.writestr(info, text)
