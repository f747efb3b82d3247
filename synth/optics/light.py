"""Light that hardware takes away: what stands in front of the windows, and behind them where light goes through."""

import numpy as np
import shapely

from synth.core.design import Design

CIRCLE_SEGMENTS = 2048
"""Quarter-circle segments of the clear circle: its area is then 1e-7 small."""


def shadow(design: Design, diameter: float, transmissive: bool) -> float:
    """Area (m^2) of one candidate's windows inside the clear circle that fittings cover, seen along z.

    Fittings that stand proud of the face count, for a transmissive optic those behind it too; overlaps once.
    """
    f, g = design.fittings, design.geometry
    cover = [
        shapely.Polygon(f.outline[0, k])
        for k in range(len(f.panel))
        if f.z_front[0, k] > 0.0 or (transmissive and f.z_back[0, k] < -g.thickness[0])
    ]
    if not cover:
        return 0.0
    faces = [shapely.Polygon(design.windows[0, p]) for p in np.flatnonzero(design.topology.receiving)]
    circle = shapely.Point(0.0, 0.0).buffer(diameter / 2.0, quad_segs=CIRCLE_SEGMENTS)
    seen = shapely.unary_union(cover).intersection(circle)
    return float(sum(seen.intersection(face).area for face in faces))
