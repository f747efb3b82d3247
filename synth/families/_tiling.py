"""Patches of the three regular tilings, in units of the tile's side-to-side distance or side.

Reflection across a shared edge maps each of these tilings on itself, so any spanning
tree of a patch, folded flat by half turns, stacks on one footprint (geometry;
reference notes on hexagon stacks, derived).
"""

from dataclasses import dataclass
from functools import cache

import numpy as np

from synth.core.arrays import Floats, Ints

TILINGS = ("hexagon", "square", "square_even", "triangle")


@dataclass(frozen=True, eq=False)
class Tiling:
    """A patch of N equal tiles about the origin; lengths in hexagon widths, square sides or triangle sides.

    sides: corners of a tile. inradius, circumradius of a tile. span: what `cover` scales to the
    clear diameter. centre [N, 2], first [N]: direction (rad) of a tile's first corner. ring [N]:
    0 for a central tile, then outwards. Tiles count ring by ring, counter-clockwise; 0 is the root.
    neighbours: for each tile the sorted tiles across its edges.
    """

    sides: int
    inradius: float
    circumradius: float
    span: float
    centre: Floats
    first: Floats
    ring: Ints
    neighbours: tuple[tuple[int, ...], ...]

    @property
    def count(self) -> int:
        return len(self.centre)

    @property
    def corner_directions(self) -> Floats:
        """[N, sides, 2] unit vectors from a tile's centre to its corners, counter-clockwise."""
        a = self.first[:, None] + 2.0 * np.pi * np.arange(self.sides) / self.sides
        return np.stack([np.cos(a), np.sin(a)], axis=-1)

    @property
    def pairs(self) -> list[tuple[int, int]]:
        """Neighbours i < j, sorted."""
        return [(i, j) for i in range(self.count) for j in self.neighbours[i] if i < j]


def tile_count(name: str, rings: int, corners: str) -> int:
    """Tiles that a patch keeps: 1 + 3 r (r + 1) hexagons, (2 r + 1)^2 or (2 r)^2 squares, 6 r^2 triangles."""
    full = {
        "hexagon": 1 + 3 * rings * (rings + 1),
        "square": (2 * rings + 1) ** 2,
        "square_even": (2 * rings) ** 2,
        "triangle": 6 * rings**2,
    }[name]
    dropped = {"hexagon": 6, "square": 4, "square_even": 4, "triangle": 12}[name]
    return full - (dropped if corners == "rounded" else 0)


@cache
def tiling(name: str, rings: int, corners: str) -> Tiling:
    """The patch; corners "rounded" leaves out the tiles farthest from the centre."""
    if name == "hexagon":
        centre, first, ring = _hexagons(rings)
        sides, inradius, span = 6, 0.5, 2.0 * rings + 1.0
    elif name in ("square", "square_even"):
        centre, first, ring = _squares(rings, name == "square_even")
        sides, inradius, span = 4, 0.5, 2.0 * rings + (0.0 if name == "square_even" else 1.0)
    else:
        centre, first, ring = _triangles(rings)
        sides, inradius, span = 3, 0.5 / np.sqrt(3.0), np.sqrt(3.0) * rings
    distance = np.hypot(centre[:, 0], centre[:, 1])
    if corners == "rounded":
        keep = distance < distance.max() - 1e-6
        centre, first, ring, distance = centre[keep], first[keep], ring[keep], distance[keep]
    angle = np.round(np.arctan2(centre[:, 1], centre[:, 0]) % (2.0 * np.pi - 1e-9), 9)
    order = np.lexsort((distance, angle, ring))
    centre, first, ring = centre[order], first[order], ring[order]
    apart = np.linalg.norm(centre[:, None] - centre[None, :], axis=-1)
    touch = np.abs(apart - 2.0 * inradius) < 1e-6
    neighbours = tuple(tuple(int(j) for j in np.flatnonzero(row)) for row in touch)
    return Tiling(sides, inradius, inradius / np.cos(np.pi / sides), span, centre, first, ring, neighbours)


def _hexagons(rings: int) -> tuple[Floats, Floats, Ints]:
    """Hexagons of unit width whose rows run along x; corners on the y axis."""
    q, r = np.meshgrid(np.arange(-rings, rings + 1), np.arange(-rings, rings + 1), indexing="ij")
    ring = np.maximum(np.maximum(abs(q), abs(r)), abs(q + r))
    keep = ring <= rings
    centre = np.stack([q + r / 2.0, r * np.sqrt(3.0) / 2.0], axis=-1)[keep]
    return centre, np.full(len(centre), np.pi / 6.0), ring[keep]


def _squares(rings: int, even: bool) -> tuple[Floats, Floats, Ints]:
    """Unit squares; an even patch has a corner in the origin and counts its four central tiles as ring 0."""
    n = np.arange(2 * rings) - rings + 0.5 if even else np.arange(2 * rings + 1) - float(rings)
    x, y = np.meshgrid(n, n, indexing="ij")
    centre = np.stack([x.ravel(), y.ravel()], axis=-1)
    ring = np.floor(np.abs(centre).max(axis=-1) + 1e-9).astype(np.int64)
    return centre, np.full(len(centre), np.pi / 4.0), ring


def _triangles(rings: int) -> tuple[Floats, Floats, Ints]:
    """Unit triangles that fill a hexagon of side `rings` about a common corner."""
    height = np.sqrt(3.0) / 2.0
    points, first, ring = [], [], []
    for row in range(-rings, rings):
        for column in range(-3 * rings, 3 * rings):
            corner = np.array([column + row / 2.0, row * height])
            for centre, start in (
                (corner + np.array([0.5, height / 3.0]), np.pi / 2.0),
                (corner + np.array([1.0, 2.0 * height / 3.0]), -np.pi / 2.0),
            ):
                # hexagon of circumradius k with corners on the x axis: three strips of half width k * height
                reach = max(abs(centre @ [np.cos(a), np.sin(a)]) for a in np.pi / 6.0 + np.pi / 3.0 * np.arange(3))
                k = int(np.floor(reach / height + 1e-9))
                if k < rings:
                    points.append(centre)
                    first.append(start)
                    ring.append(k)
    return np.array(points), np.array(first), np.array(ring)
