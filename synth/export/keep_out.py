"""Keep-out boxes of a problem in pictures: cut down to what the picture shows, see-through, named."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from matplotlib.collections import PolyCollection
from shapely import affinity

from synth.core.arrays import Floats
from synth.export.shaded import Body, View
from synth.problem.sections import KeepOut

TONE = "#b3372f"
WALL: dict[str, Any] = {"color": TONE, "lw": 0.8, "ls": (0, (5, 1.5, 1, 1.5))}
CLEAR = 0.16


@dataclass(frozen=True, eq=False)
class Box:
    """What a picture shows of a box: name, corners [8, 3] in the picture's axes (bits of the number: x, y, z)."""

    name: str
    corners: Floats

    def face(self, view: View) -> shapely.Polygon:
        """Its shadow on the sheet."""
        return shapely.MultiPoint(view.flat(self.corners)).convex_hull


def within(keep_out: Sequence[KeepOut], low: Floats, high: Floats, turn: Floats | None = None) -> list[Box]:
    """The boxes as far as they lie within low to high [3] of the picture's axes; turn [3, 3]: root frame to those."""
    turned = np.eye(3) if turn is None else turn
    room = np.array([[(low, high)[n >> k & 1][k] for k in range(3)] for n in range(8)]) @ turned
    least, most = room.min(axis=0), room.max(axis=0)
    found = []
    for box in keep_out:
        a, b = np.maximum(np.asarray(box.min), least), np.minimum(np.asarray(box.max), most)
        if (b - a > 0.0).all():
            corners = np.array([[(a, b)[n >> k & 1][k] for k in range(3)] for n in range(8)])
            found.append(Box(str(box.name), corners @ turned.T))
    return found


def near(keep_out: Sequence[KeepOut], points: Floats) -> list[Box]:
    """The boxes as far as they lie about solids [N, 3] in the root frame: their room and a tenth of its span more."""
    low, high = points.min(axis=0), points.max(axis=0)
    more = 0.1 * float((high - low).max())
    return within(keep_out, low - more, high + more)


def solid(box: Box) -> Body:
    """As a body among others, so that what is nearer hides what is farther."""
    c = box.corners
    faces = [c[[0, 2, 3, 1]], c[[4, 5, 7, 6]], c[[0, 1, 5, 4]], c[[2, 6, 7, 3]], c[[0, 4, 6, 2]], c[[1, 3, 7, 5]]]
    middle = c.mean(axis=0)
    normals = np.array([f.mean(axis=0) - middle for f in faces])
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    return Body(tuple(faces), normals, (TONE,) * 6, clear=CLEAR)


def outline(axes: Any, boxes: Sequence[Box], view: View, move: Floats, size: float = 6.5, fill: bool = True) -> None:
    """Outlines over a drawing whose limits are set, moved by `move` [2], each named where there is most of it."""
    (x0, x1), (y0, y1) = axes.get_xlim(), axes.get_ylim()
    room = shapely.box(x0, y0, x1, y1)
    for box in boxes:
        face = affinity.translate(box.face(view), *(float(v) for v in move))
        ring = np.asarray(face.exterior.coords)
        if fill:
            axes.add_collection(PolyCollection([ring], facecolors=TONE, alpha=0.5 * CLEAR, linewidths=0.0, zorder=0.3))
        axes.plot(*ring.T, **WALL, zorder=8)
        named(axes, box, face.intersection(room), size)


def named(axes: Any, box: Box, seen: shapely.Geometry, size: float = 6.5, below: bool = False) -> None:
    """Its name at the lower rim of what is seen of it, inside or below."""
    if seen.is_empty:
        return
    left, low, right, _ = seen.bounds
    up, side = (-1.0, "top") if below else (2.0, "bottom")
    axes.annotate(f"keep-out '{box.name}'", ((left + right) / 2.0, low), xytext=(0.0, up), fontsize=size,
                  textcoords="offset points", ha="center", va=side, color=TONE, zorder=12,
                  bbox={"facecolor": "white", "edgecolor": "none", "pad": 0.6, "alpha": 0.8})  # fmt: skip
