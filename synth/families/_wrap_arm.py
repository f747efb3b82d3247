"""One arm of a wrapped hub: the strip of panels that lies on one wall of the drum, and its seams to the next arms.

Corners are told as (gore, column, level) in the wrap's pattern; (g, 0, 0) is a hub corner, (g, 1, 0) the place on
the row of gore g where the first corner crease meets it, and (g, 1, -1) that on the line of the hub edge. An arm takes
pieces of different gores: the outer half of column i from the gore i walls back, the inner half next to it.
"""

from dataclasses import dataclass
from functools import cache

import numpy as np

from synth.core.arrays import Column, Floats, cross2, unit
from synth.core.polygon import clip, compact
from synth.families._wrap import wrap
from synth.families._wrap_rows import Corner, Piece, Seam, layers, rowed_pieces, rowed_seams

CORNERS = 8
SHARP = np.radians(50.0)
"""Corners of less than this are cut off square."""


def _row(i: int, g: int) -> Corner:
    return (g, i, 0) if i > 1 else (g + i, 0, 0)


def _spine(i: int, g: int) -> Corner:
    return (g, i, i)


@cache
def pieces(rings: int, rows: int = 0) -> tuple[Piece, ...]:
    """Panels of the arm on wall 0, from the hub outwards: 4 rings - 3 of them; with rows see `_wrap_rows`.

    Every quad is split along a diagonal but the last inner one. A sheet of triangles all round has two ways to move
    alike (6 N coordinates of its vertices, 4 N creases and 2 (N - 1) diagonals of given length), and a quad that stays
    flat takes one away: so one is left (derived; the tests follow it from flat to stowed).
    """
    if rows:
        return rowed_pieces(rings, rows)
    start = (_spine(0, 0), _row(1, 0))
    out = [Piece(0, (start[0], (0, 1, -1), _spine(1, 0)), start, "hub")]
    for i in range(1, rings + 1):
        g = -i
        near, far = _spine(i - 1, g + 1), _spine(i, g + 1)
        row = (_row(i, g), _row(i + 1, g))
        if i == 1:
            out.append(Piece(g, (row[0], far, row[1]), (near, far), "front"))
        elif i == rings:
            out.append(Piece(g, (row[0], near, far, row[1]), (near, far), "front"))
        else:
            out.append(Piece(g, (row[0], near, far), (near, far), "front"))
            out.append(Piece(g, (row[0], far, row[1]), (far, row[0]), "diagonal"))
        if i < rings:
            crease, diagonal = ((g, i, 0), row[1]), (_spine(i, g), row[1])
            out.append(Piece(g, (*crease, _spine(i, g)), crease, "back"))
            out.append(Piece(g, (*diagonal, _spine(i + 1, g)), diagonal, "diagonal"))
    return tuple(out)


@cache
def seams(rings: int, rows: int = 0) -> tuple[Seam, ...]:
    """Corner creases: outer halves first (column i to i + 1), then inner halves."""
    if rows:
        return rowed_seams(rings, rows)
    made = pieces(rings)

    def having(gore: int, *corners: Corner) -> int:
        """The piece of that gore that has both corners, told for gore 0."""
        wanted = {(c[0] + gore, *c[1:]) for c in corners}
        (found,) = [k for k, p in enumerate(made) if p.gore == gore and wanted <= set(p.corners)]
        return found

    out = []
    for i in range(rings - 1):
        first = 0 if i == 0 else having(-i, _spine(i + 1, 0), _row(i + 1, 0))
        second = having(-i - 1, (0, i + 1, 0), _spine(i + 1, 0))
        out.append(Seam(first, second, ((0, i + 1, 0), _spine(i + 1, 0)), -1))
    for i in range(1, rings):
        ends = (_row(i + 1, 0), _spine(i, 1))
        out.append(Seam(having(-i, *ends), having(-i - 1, *ends), ends, 0))
    return tuple(out)


@dataclass(frozen=True, eq=False)
class Places:
    """Where the corners of the pattern lie: name (column, level) to [B, 2] m, gore 0, deployed."""

    sides: int
    known: dict[tuple[int, int], Floats]

    def __getitem__(self, corner: Corner) -> Floats:
        """[B, 2] of a corner of any gore."""
        return turned(self.known[corner[1:]], corner[0], self.sides)

    def of(self, corners: tuple[Corner, ...]) -> Floats:
        """[B, V, 2]."""
        return np.stack([self[c] for c in corners], axis=1)


def turned(points: Floats, count: float, sides: int) -> Floats:
    """Plane points [..., 2] turned by count times 2 pi / sides."""
    angle = 2.0 * np.pi * count / sides
    c, s = np.cos(angle), np.sin(angle)
    return np.asarray(points @ np.array([[c, s], [-s, c]]))


SPINES: dict[tuple[int, int], dict[int, float]] = {(3, 1): {1: 1.0, 2: 4.0}}
"""By (rings, rows): how far spine corners are moved, as `_widths` says it, where it is not as the next column's.

A spine corner belongs to corner creases of two columns, and with three rings and one row more rows lie between them.
Found by making the greatest parting on the way least by moves along spines (0.6 and 4.7 for six sides, 1.2 and 4.8 for
eight), and less where stowed stacks would meet: the membranes' slack falls by a pitch.
"""


@cache
def _widths(rings: int, rows: int) -> dict[int, float]:
    """Half of how many layers the corner creases of each column join across; the rim goes with the last of them.

    Without rows always one; with rows the winding has folded to and fro more often by the time it comes round again.
    """
    made = pieces(rings, rows)
    layer = layers(made)
    out = {s.ends[0][1]: (layer[s.second] - layer[s.first]) / 2.0 for s in seams(rings, rows)}
    return out | {rings + 1: out[rings]}


def places(sides: int, rings: int, rows: int, radius: Column, pitch: Column, lead: Column) -> Places:
    """Corners for hub circumradius, layer pitch [B] m: the thickness-aware wrap, its corner creases moved outwards.

    Panels of an arm lie parallel to its wall, so from one wall to the next the winding steps out by two layers at a
    corner crease; the planes on both sides meet 2 p / sin(2 phi) beyond the corner of the prism. lead [B]: share of
    that by which the creases are moved along rows and spines.
    """
    made = wrap(sides, rings, rows, pitch / radius)
    flat = {
        (int(c), int(w)): made.flat[:, v] * radius[:, None]
        for v, (c, w) in enumerate(zip(made.pattern.column, made.pattern.level, strict=True))
    }
    phi = np.pi / sides
    step = (lead * 2.0 * pitch / np.sin(2.0 * phi))[:, None]
    wide = _widths(rings, rows)
    row = {i: flat[i, 0] for i in range(2, rings + 2)}
    hub = turned(flat[0, 0], 1, sides)
    known = {(0, 0): flat[0, 0]}
    for i in range(2, rings + 2):
        known[i, 0] = row[i] + wide[i] * step * unit(row[min(i + 1, rings + 1)] - row[min(i, rings)])
    known[1, 0] = hub + step * unit(known[2, 0] - hub)
    for i in range(1, rings + 1):
        first, second = min(i, rings - 1), min(i + 1, rings)
        way = unit(flat[second, second] - flat[first, first])
        spine = SPINES.get((rings, rows), {}).get(i, wide[i + 1])
        known[i, i] = flat[i, i] + spine * step / np.cos(phi) * way
    # what else there is along rows goes with its column
    for c, w in flat.keys() - known.keys():
        known[c, w] = flat[c, w] + known[c, 0] - flat[c, 0]
    # where the first corner crease meets the line of the hub edge
    along, crease = hub - flat[0, 0], known[1, 1] - known[1, 0]
    share = cross2(known[1, 0] - flat[0, 0], crease) / cross2(along, crease)
    known[1, -1] = flat[0, 0] + share[:, None] * along
    return Places(sides, known)


def outline(corners: Floats, setback: Column, tip: Column) -> Floats:
    """Convex outlines [B, CORNERS, 2] of pieces with corners [B, V, 2], counter-clockwise.

    Every side is set back by `setback` [B]; sharp corners are then cut square where the piece is `tip` [B] wide.
    """
    out = compact(corners, CORNERS)
    count = corners.shape[1]
    after = np.roll(corners, -1, axis=1)
    along = unit(after - corners)
    normal = np.stack([along[..., 1], -along[..., 0]], axis=-1)
    for k in range(count):
        # a side of no length bounds nothing
        bounds = np.abs(along[:, k]).max(axis=-1) > 0.0
        offset = np.where(bounds, (normal[:, k] * corners[:, k]).sum(axis=-1) - setback, 1e3)
        out = compact(clip(out, normal[:, k], offset), CORNERS)
    for k in range(count):
        ahead, back = along[:, k], -along[:, k - 1]
        angle = np.arccos(np.clip((ahead * back).sum(axis=-1), -1.0, 1.0))
        outward = -unit(ahead + back)
        reach = (out * outward[:, None]).sum(axis=-1).max(axis=1)
        depth = np.where(angle < SHARP, tip / (2.0 * np.tan(angle / 2.0)), 0.0)
        out = compact(clip(out, outward, reach - depth), CORNERS)
    return out
