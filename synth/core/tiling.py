"""Tiles of a flat layout: rectangles set back by half an edge gap, trimmed ends, shared edges, slots for hardware."""

from collections.abc import Hashable, Sequence

import numpy as np

from synth.core.arrays import Column, Floats, Ints, dot, unit
from synth.core.polygon import clip, compact

TOLERANCE = 1e-7
"""Corners closer than this share of an edge's length to a line count as lying on it."""


def spread(span: Column, gap: Column, count: int) -> Floats:
    """Cell edges [B, count + 1] about 0 so that `count` equal outlines with gaps between them span `span` [B].

    Cells are (span + gap) / count wide; the outermost edges lie gap / 2 beyond the outlines, so that
    every outline keeps half a gap free on all its sides, which hardware of a stack needs.
    """
    share = np.linspace(-0.5, 0.5, count + 1)
    return (span + gap)[:, None] * share


def inset(low: Floats, high: Floats, gap: Floats) -> tuple[Floats, Floats]:
    """Outline limits of cells low..high: half the gap off each side, at most 0.45 of the cell: none turns over."""
    half = np.minimum(gap / 2.0, 0.45 * (high - low))
    return low + half, high - half


def rectangles(x_low: Floats, x_high: Floats, y_low: Floats, y_high: Floats) -> Floats:
    """Counter-clockwise rectangles [..., 4, 2] from their limits [...]."""
    x = np.stack(np.broadcast_arrays(x_low, x_high, x_high, x_low), axis=-1)
    y = np.stack(np.broadcast_arrays(y_low, y_low, y_high, y_high), axis=-1)
    return np.stack(np.broadcast_arrays(x, y), axis=-1)


def strips(x_low: Floats, x_high: Floats, reach: Floats, radius: float) -> Floats:
    """Strips [..., 8, 2] between x_low and x_high [...], |y| <= reach, cut by four tangents of the clear circle.

    The circle is centred on the origin. The tangents touch at a quarter and three quarters
    of the arc that each end spans: no light is lost.
    """
    polygon = rectangles(x_low, x_high, -reach, reach)
    # rounded, because arccos would blow rounding errors at the rim up to 1e-8
    first, last = (np.arccos(np.round(np.clip(x / radius, -1.0, 1.0), 12)) for x in (x_low, x_high))
    for share in (0.25, 0.75):
        angle = first + share * (last - first)
        for side in (1.0, -1.0):
            normal = np.stack([np.cos(angle), side * np.sin(angle)], axis=-1)
            polygon = compact(clip(polygon, normal, np.asarray(radius)), 8)
    return polygon


def shared_edge(first: Floats, second: Floats, line: Floats) -> Floats:
    """Part [..., 2, 2] of a cell edge `line` [..., 2, 2] along which both outlines [..., V, 2] have an edge.

    The line keeps its direction. Each outline takes part with the corners nearest to the
    other one; where the two have nothing in common a point is given.
    """
    start, along = line[..., 0, :], unit(line[..., 1, :] - line[..., 0, :])
    across = np.stack([-along[..., 1], along[..., 0]], axis=-1)
    within = TOLERANCE * np.linalg.norm(line[..., 1, :] - line[..., 0, :], axis=-1)[..., None]
    low, high = [], []
    for outline in (first, second):
        offset = outline - start[..., None, :]
        away = np.abs(dot(offset, across[..., None, :]))
        place = dot(offset, along[..., None, :])
        near = away <= away.min(axis=-1, keepdims=True) + within
        low.append(np.where(near, place, np.inf).min(axis=-1))
        high.append(np.where(near, place, -np.inf).max(axis=-1))
    begin, end = np.maximum(*low), np.minimum(*high)
    middle = (begin + end) / 2.0
    void = begin > end
    ends = np.stack([np.where(void, middle, begin), np.where(void, middle, end)], axis=-1)
    part: Floats = start[..., None, :] + ends[..., None] * along[..., None, :]
    return part


def about_middle(part: Floats, line: Floats) -> Floats:
    """The piece of `part` [..., 2, 2] that is symmetric about the middle of its cell edge `line` [..., 2, 2].

    Tiles of a stack are mirror images: only what is symmetric about the cell keeps clear of hardware at the ends of
    the edges of other layers. Where the middle is not in the part, a millionth of the edge is given, next to it.
    """
    middle, span = line.mean(axis=-2), line[..., 1, :] - line[..., 0, :]
    length = np.linalg.norm(span, axis=-1)
    along = unit(span)
    ends = dot(part - middle[..., None, :], along[..., None, :])
    centre = np.clip(0.0, ends[..., 0], ends[..., 1])
    half = np.maximum(np.minimum(centre - ends[..., 0], ends[..., 1] - centre), 0.5e-6 * length)
    piece: Floats = (
        middle[..., None, :] + np.stack([centre - half, centre + half], axis=-1)[..., None] * along[..., None, :]
    )
    return piece


def edge_slots(edge: Sequence[Hashable], first_level: Sequence[int], last_level: Sequence[int]) -> Ints:
    """Slots [H]: the lowest ones so that hinges on the same edge of the footprint with overlapping levels differ.

    edge: name of the footprint edge of each hinge; first_level, last_level: layers that its hardware spans.
    """
    out: list[int] = []
    for h, name in enumerate(edge):
        meets = {
            out[g]
            for g in range(h)
            if edge[g] == name and first_level[g] <= last_level[h] and first_level[h] <= last_level[g]
        }
        out.append(min(s for s in range(len(meets) + 1) if s not in meets))
    return np.asarray(out, dtype=np.int64)


def middle_span(diameter: float, least_area: float, least_reach: float, widest_gap: float = 30e-3) -> float:
    """Least length (m) of the strip nearest to the middle of the aperture, for strips cut off at |y| = reach R.

    The circle of radius R between |y| <= r R has the area 2 R^2 (asin r + r sqrt(1 - r^2)), which
    no layout of such strips exceeds; so least_area (m^2) asks for an r, and r >= least_reach in any case. Strips
    leave at most half a gap free beside the middle line, and tangents cut nothing inside the circle:
    length >= 2 min(r R, sqrt(R^2 - (g / 2)^2)) (elementary).
    """
    radius = diameter / 2.0
    share = np.linspace(0.0, 1.0, 2001)
    area = 2.0 * radius**2 * (np.arcsin(share) + share * np.sqrt(1.0 - share**2))
    # the last tabulated share that is still too small: a lower bound on the reach
    asked = float(share[max(int(np.searchsorted(area, least_area)) - 1, 0)])
    chord = float(np.sqrt(max(radius**2 - (widest_gap / 2.0) ** 2, 0.0)))
    return 2.0 * min(max(asked, least_reach) * radius, chord)
