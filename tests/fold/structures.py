"""Panel-and-hinge structures that the loop tests turn: single vertices and quadrilateral sheets, thin and thick."""

from dataclasses import dataclass

import numpy as np

from synth.core.arrays import Floats
from synth.core.topology import Topology


@dataclass(frozen=True, eq=False)
class Structure:
    """topology; axis [1, H, 2, 3]; crease [H]: number of the crease of each hinge as the maker counts them."""

    topology: Topology
    axis: Floats
    crease: np.ndarray

    def by_hinge(self, values: Floats) -> Floats:
        """Values [..., creases] in the order of the hinges."""
        return np.asarray(values)[..., self.crease]

    def by_crease(self, values: Floats) -> Floats:
        """Values [..., H] in the order of the creases."""
        return np.asarray(values)[..., np.argsort(self.crease)]

    def driven(self, *creases: int) -> np.ndarray:
        """[H] True at the hinges of these creases."""
        return np.isin(self.crease, creases)


def bare(parent: np.ndarray, closing: np.ndarray) -> Topology:
    """A topology of which only the joining counts."""
    hinges = len(parent) - 1 + len(closing)
    zeros, flat = np.zeros(hinges, dtype=np.int64), np.zeros(len(parent), dtype=np.int64)
    return Topology(np.asarray(parent), zeros, zeros, zeros, zeros, flat, flat, closing=np.asarray(closing))


def vertex(sectors: Floats, heights: Floats | None = None) -> Structure:
    """One vertex at the origin: crease k at the sum of the sectors before it, between panels k - 1 and k.

    heights [n]: axis height of each crease (0 where thin). Panel 0 is the root, crease 0 closes the loop.
    """
    count = len(sectors)
    toward = np.concatenate([[0.0], np.cumsum(sectors)[:-1]])
    z = np.zeros(count) if heights is None else np.asarray(heights)
    first = np.stack([np.zeros(count), np.zeros(count), z], axis=-1)
    # counter-clockwise from panel k - 1 to k, so along = across x z points out along the crease
    axis = np.stack([first, first + np.stack([np.cos(toward), np.sin(toward), np.zeros(count)], axis=-1)], axis=1)
    crease = np.array([*range(1, count), 0])
    return Structure(bare(np.arange(-1, count - 1), np.array([[count - 1, 0]])), axis[None, crease], crease)


def sheet(corners: Floats, height: np.ndarray | None = None) -> Structure:
    """A sheet of quadrilaterals from a grid of corners [m + 1, n + 1, 3], all hinged.

    Panel (i, j) has number i n + j. Creases: first the (m - 1) n between columns, (i, j) to (i + 1, j), then the
    m (n - 1) inside columns, (i, j) to (i, j + 1). height [creases]: axis heights added along z (corners flat).
    The tree is a comb: row 0 across, then up each column.
    """
    m, n = corners.shape[0] - 1, corners.shape[1] - 1
    straight = [((i, j), (i + 1, j)) for i in range(m - 1) for j in range(n)]
    zigzag = [((i, j), (i, j + 1)) for i in range(m) for j in range(n - 1)]
    pairs = straight + zigzag
    parent = np.array([i * n + j - 1 if j else (i - 1) * n for i in range(m) for j in range(n)])
    parent[0] = -1
    place = {(p[0] * n + p[1], q[0] * n + q[1]): k for k, (p, q) in enumerate(pairs)}
    tree = [place[int(parent[k]), k] for k in range(1, m * n)]
    rest = [k for k in range(len(pairs)) if k not in tree]
    number = {k: pair for pair, k in place.items()}
    lines = []
    for (i, j), (k, _) in pairs:
        if k > i:  # from column to column, +x: along = x cross z = -y
            lines.append((corners[i + 1, j + 1], corners[i + 1, j]))
        else:  # up the column, +y: along = +x
            lines.append((corners[i, j + 1], corners[i + 1, j + 1]))
    axis = np.array(lines, dtype=np.float64)
    if height is not None:
        axis[..., 2] += height[:, None]
    crease = np.array(tree + rest)
    return Structure(bare(parent, np.array([number[k] for k in rest])), axis[None, crease], crease)


def miura_corners(m: int, n: int, corner: float, tilt: float = 0.0, a: float = 1.0, b: float = 1.0) -> Floats:
    """Corners [m + 1, n + 1, 3] of a Miura sheet: (i S, j L + [i odd] V, [j odd] H)."""
    lean = np.cos(tilt) * np.tan(corner)
    width, shift = b * lean / np.sqrt(1.0 + lean**2), b / np.sqrt(1.0 + lean**2)
    length, high = a * np.sqrt(1.0 - (np.sin(tilt) * np.sin(corner)) ** 2), a * np.sin(tilt) * np.sin(corner)
    i, j = np.meshgrid(np.arange(m + 1), np.arange(n + 1), indexing="ij")
    return np.stack([i * width, j * length + (i % 2) * shift, (j % 2) * high], axis=-1)


def miura_folds(m: int, n: int, corner: float, tilt: float) -> Floats:
    """Folds of the creases of `sheet` in their order: straight ones with tan(f/2) = cos g tan th, zigzag ones 2 th.

    Signs: rows of zigzag creases alternate, odd ones are ridges; straight creases alternate both ways.
    """
    fold = 2.0 * np.arctan(np.cos(corner) * np.tan(tilt))
    straight = [(-1.0) ** (i + j) * fold for i in range(m - 1) for j in range(n)]
    zigzag = [(-1.0) ** (j + 1) * 2.0 * tilt for i in range(m) for j in range(n - 1)]
    return np.array(straight + zigzag)


def miura_heights(m: int, n: int, levels: np.ndarray) -> Floats:
    """Axis heights above the mid-planes in units of the pitch, creases as in `sheet`: h = s_p (Z_c - Z_p) / 2."""
    straight = [(-1) ** (i + j) * (levels[i + 1, j] - levels[i, j]) / 2.0 for i in range(m - 1) for j in range(n)]
    zigzag = [(-1) ** (i + j) * (levels[i, j + 1] - levels[i, j]) / 2.0 for i in range(m) for j in range(n - 1)]
    return np.array(straight + zigzag)
