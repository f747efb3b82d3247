"""A DXF drawing in millimetres with the project's layers: the one place that knows ezdxf."""

from pathlib import Path
from typing import Any

import numpy as np
import shapely

from synth.core.arrays import Floats
from synth.export.marks import nice_length
from synth.export.optional import optional

LAYERS = {
    "outline": (7, "CONTINUOUS"),
    "mountain": (1, "DASHDOT"),
    "valley": (5, "DASHED"),
    "cut": (3, "CONTINUOUS"),
    "latch": (6, "CONTINUOUS"),
    "datum": (8, "CENTER"),
    "window": (4, "CONTINUOUS"),
}
"""Layer to colour index and line type."""
MM = 1e3


class DxfFile:
    """Lines, rings, circles and texts, given in metres, written in millimetres (R2010, $INSUNITS 4)."""

    def __init__(self) -> None:
        ezdxf = optional("ezdxf", "dxf")
        self._doc: Any = ezdxf.new("R2010", setup=["linetypes"], units=4)
        self._doc.header["$MEASUREMENT"] = 1
        self._doc.header["$LTSCALE"] = 4.0
        self._space: Any = self._doc.modelspace()
        for name, (colour, line) in LAYERS.items():
            self._doc.layers.add(name, color=colour, linetype=line)

    def line(self, layer: str, ends: Floats) -> None:
        """A line between two points [2, 2] (m)."""
        self._space.add_line(*(tuple(MM * float(v) for v in p) for p in ends), dxfattribs={"layer": layer})

    def ring(self, layer: str, corners: Floats) -> None:
        """A closed polyline of corners [n, 2] (m)."""
        points = [tuple(MM * float(v) for v in p) for p in corners]
        self._space.add_lwpolyline(points, close=True, dxfattribs={"layer": layer})

    def face(self, layer: str, face: shapely.Geometry, holes: str | None = None) -> None:
        """All rings of a polygon or of several; holes on a layer of their own where one is given."""
        for polygon in getattr(face, "geoms", [face]):
            self.ring(layer, np.asarray(polygon.exterior.coords)[:-1])
            for inner in polygon.interiors:
                self.ring(holes or layer, np.asarray(inner.coords)[:-1])

    def circle(self, layer: str, middle: Floats, radius: float) -> None:
        """A circle (m)."""
        self._space.add_circle(tuple(MM * float(v) for v in middle), MM * radius, dxfattribs={"layer": layer})

    def cross(self, layer: str, middle: Floats, half: float) -> None:
        """Two lines of half length `half` (m) that cross in a point."""
        x, y = (float(v) for v in middle)
        for ends in (((x - half, y), (x + half, y)), ((x, y - half), (x, y + half))):
            self.line(layer, np.array(ends))

    def bar(self, at: Floats, span: float, height: float) -> None:
        """A scale bar of a round length, at most half the span (m), its left end at a point; height of its text (m)."""
        length = nice_length(0.5 * span)
        x, y, long, tick = (MM * float(v) for v in (*at, length, 0.6 * height))
        corners = [(x, y + tick), (x, y), (x + long, y), (x + long, y + tick)]
        self._space.add_lwpolyline(corners, dxfattribs={"layer": "datum", "linetype": "CONTINUOUS"})
        self.text(f"{MM * length:g} mm", at + np.array([length + 0.5 * height, 0.0]), height)

    def text(self, words: str, at: Floats, height: float, layer: str = "datum", middle: bool = False) -> None:
        """One line of text, its height in metres; its lower left, or its middle, at a point."""
        from ezdxf.enums import TextEntityAlignment

        entity = self._space.add_text(words, height=MM * height, dxfattribs={"layer": layer})
        where = TextEntityAlignment.MIDDLE_CENTER if middle else TextEntityAlignment.LEFT
        entity.set_placement(tuple(MM * float(v) for v in at), align=where)

    def save(self, path: Path) -> None:
        """Writes the drawing after an audit. Raises ValueError where the audit finds errors."""
        from ezdxf import zoom

        zoom.extents(self._space, factor=1.05)
        found = self._doc.audit()
        if found.has_errors:
            raise ValueError(f"{path.name}: {[str(e.message) for e in found.errors]}")
        self._doc.saveas(path)
