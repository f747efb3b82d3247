"""A sheet wrapped round the prism of a regular hub: its crease pattern, flat and stowed, solved together.

One gore (one of the n equal parts) of a sheet of thickness zero lies outside hub corner V_0. The spine is the ray
from V_0 at right angles to the radius; it makes phi = pi / n with hub edge 0. Between spine 0 and spine 1 rows run
parallel to the hub edge, alternately at the top and the bottom of the drum, and corner creases across them at the
distances of the hub edge a: stowed they lie on the edges of the prism. A point V_0 + s u + w v (u along the hub edge,
v across it, outwards) comes to wall coordinate s and height -H tri(w / H), tri the triangle wave. With
H = rows a tan(phi), rows a whole number, rows, corner creases and spines share their vertices; rows = 0 leaves all
rows out but the line of the hub edge.

Layers: all layers at one prism edge are one chain. The vertex after q of them is put at the corner radius
R + q p / cos(phi), p the layer pitch, so that nested walls are p apart. Free are the flat place and the stowed height
of every vertex; the lengths of all creases, and of one diagonal of each quad, must be the same flat and stowed. What
freedom is left at the rim keeps the rows level. Lengths are told in units of the hub's circumradius R; the hub
lies in z = 0, its corners counter-clockwise from angle 0, and the drum hangs below.

Source: own derivation (reference notes, section 4, derived) after the idea of Guest and Pellegrino 1992, of which
only the abstract was seen. Mid-surface creases: nothing here says that panels of a thickness have room, or that the
sheet gets from one state to the other without strain; quads warp by up to about half a pitch when stowed.
"""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from synth.core.arrays import Bools, Column, Floats, Ints, cross2
from synth.core.errors import StowfrontError

TOLERANCE = 1e-13
"""Squared lengths (hub edge 1) agree to this when the two states count as solved."""
MOST_STEPS = 60
FREE = 1e-6
"""Weight of flat coordinates in a step; heights have weight one, because only heights are asked to stay."""
RANK = 1e-10
"""Relative singular value below which a direction counts as not held by the lengths."""

Corner = tuple[int, int, int]
"""A vertex: (gore, column, level). Level 0 is the row of the hub edge, the spine of the gore has level = column."""


@dataclass(frozen=True, eq=False)
class Pattern:
    """Vertices and faces of one gore; copies turn by 2 pi / n.

    column, level, layer [V]: prism edge, level in units of a tan(phi), layers inside of it (q). Vertex 0 is the hub
    corner. faces: rings of (gore, vertex), counter-clockwise when flat. edges [E, 2, 2]: (gore, vertex) pairs, the
    creases first, then one diagonal for each quad; creases: how many.
    """

    sides: int
    rings: int
    rows: int
    column: Ints
    level: Ints
    layer: Ints
    faces: tuple[tuple[tuple[int, int], ...], ...]
    edges: Ints
    creases: int

    @property
    def vertices(self) -> int:
        return len(self.column)


@dataclass(frozen=True, eq=False)
class Wrap:
    """B wraps of one pattern. pitch [B]: layer pitch over R; flat [B, V, 2], stowed [B, V, 3]: one gore, R = 1.

    drift [B]: greatest distance of a vertex from the level of its row. residual [B]: worst squared length left open.
    """

    pattern: Pattern
    pitch: Column
    flat: Floats
    stowed: Floats
    drift: Column
    residual: Column

    def around(self) -> tuple[Floats, Floats]:
        """All gores: flat [B, n, V, 2] and stowed [B, n, V, 3]."""
        n = self.pattern.sides
        return _around(self.flat, n), _around(self.stowed, n)

    def strain(self) -> Column:
        """Greatest |stowed length / flat length - 1| of creases and diagonals [B]."""
        flat, stowed = (_offsets(self.pattern, x) for x in (self.flat, self.stowed))
        ratio = np.linalg.norm(stowed, axis=-1) / np.linalg.norm(flat, axis=-1)
        return np.asarray(np.abs(ratio - 1.0).max(axis=1))

    def warp(self) -> Column:
        """Greatest distance [B] of a stowed quad's fourth corner from the plane of its first three."""
        stowed = self.around()[1]
        quads = [f for f in self.pattern.faces if len(f) == 4]
        worst = np.zeros(len(self.pitch))
        for face in quads:
            p = np.stack([stowed[:, g % self.pattern.sides, v] for g, v in face], axis=1)
            normal = np.cross(p[:, 1] - p[:, 0], p[:, 2] - p[:, 0])
            away = np.abs((normal * (p[:, 3] - p[:, 0])).sum(axis=-1)) / np.linalg.norm(normal, axis=-1)
            worst = np.maximum(worst, away)
        return worst

    def face_areas(self) -> Floats:
        """Signed flat areas [B, F] of the faces of one gore; positive where no face is turned over."""
        flat = self.around()[0]
        out = []
        for face in self.pattern.faces:
            p = np.stack([flat[:, g % self.pattern.sides, v] for g, v in face], axis=1)
            out.append(0.5 * cross2(p, np.roll(p, -1, axis=1)).sum(axis=1))
        return np.stack(out, axis=1)

    def sizes(self) -> dict[str, Column]:
        """Deployed diameter and area, stowed diameter and height [B], in units of R and R^2."""
        n = self.pattern.sides
        hub = n / 2.0 * np.sin(2.0 * np.pi / n)
        return {
            "deployed_diameter": 2.0 * np.linalg.norm(self.flat, axis=-1).max(axis=1),
            "deployed_area": n * self.face_areas().sum(axis=1) + hub,
            "stowed_diameter": 2.0 * np.linalg.norm(self.stowed[..., :2], axis=-1).max(axis=1),
            "stowed_height": np.ptp(self.stowed[..., 2], axis=1),
        }


@dataclass(frozen=True)
class Closed:
    """Closed forms in units of R (R = 1): exact at pitch 0, the stowed diameter and layer counts at any pitch."""

    edge: float
    deployed_diameter: float
    deployed_area: float
    stowed_diameter: float
    stowed_height: float
    spine_layers: int
    layers: int
    faces: int


def closed_form(sides: int, rings: int, rows: int, pitch: float = 0.0) -> Closed:
    """D = 2 max(sqrt(1 + (N a / cos phi)^2), sqrt(cos^2 phi + ((N + 1/2) a)^2)), A = n a^2 (N^2 tan phi +
    1 / (4 tan phi)), H = min(h, N) a tan phi, q = sum_i (ceil((i - 1) / h) + ceil(i / h)) + ceil(N / h),
    D_stow = 2 (1 + q p / cos phi).

    sides n, rings N, rows h (0: no limit, ceil(x / h) then is 1 for x > 0). Faces are those of all gores and the hub.
    Source: reference notes, section 4 (derived); checked there and here against the mesh.
    """
    phi = np.pi / sides
    a = 2.0 * np.sin(phi)

    def folds(x: int) -> int:
        return (1 if x > 0 else 0) if rows == 0 else -(-x // rows)

    spine = sum(folds(i - 1) + folds(i) for i in range(1, rings + 1))
    layers = spine + folds(rings)
    return Closed(
        edge=float(a),
        deployed_diameter=float(
            2.0 * max(np.hypot(1.0, rings * a / np.cos(phi)), np.hypot(np.cos(phi), (rings + 0.5) * a))
        ),
        deployed_area=float(sides * a * a * (rings**2 * np.tan(phi) + 0.25 / np.tan(phi))),
        stowed_diameter=float(2.0 * (1.0 + layers * pitch / np.cos(phi))),
        stowed_height=float((rings if rows == 0 else min(rows, rings)) * a * np.tan(phi)),
        spine_layers=spine,
        layers=layers,
        faces=1 + sides * sum(2 * folds(i + 1) for i in range(rings)),
    )


def best_rings(sides: int, rows: int, deployed_radius: float, pitch: float) -> float:
    """N = (R_dep h cos phi / (4 p tan phi))^(1/3): rings for the least stowed diameter at given deployed radius (same
    length unit as the pitch). The winding is then half as thick as the hub's radius. Source: reference notes (derived).
    """
    phi = np.pi / sides
    return float(np.cbrt(deployed_radius * rows * np.cos(phi) / (4.0 * pitch * np.tan(phi))))


@lru_cache(maxsize=256)
def pattern(sides: int, rings: int, rows: int) -> Pattern:
    """Crease pattern of one gore: sides n >= 3, rings N >= 1, rows per drum height (0: none but the hub edge's).

    Raises StowfrontError outside of that.
    """
    if sides < 3 or rings < 1 or rows < 0:
        raise StowfrontError(f"a wrap needs 3 sides, 1 ring and no negative rows: {sides}, {rings}, {rows} given")

    def above(i: int) -> list[int]:
        """Levels of column i outside of the hub edge's row, up to the spine."""
        return [*range(rows, i, rows), i] if rows and i else [i] * (i > 0)

    def named(i: int, w: int) -> Corner:
        """Corner of sector 0 by column and level, told from the gore that owns it."""
        return (1, i - 1, i - 1) if w == -(i - 1) and i > 0 else (0, i, w)

    layer: dict[tuple[int, int], int] = {(0, 0): 0}
    count = 0
    for i in range(1, rings + 2):
        chain = [-w for w in above(i - 1)][::-1] + [0] + (above(i) if i <= rings else [])
        for corner in [named(i, w) for w in chain][1:]:
            count += 1
            layer[corner[1:]] = count
    names = sorted(layer, key=lambda k: layer[k])
    index = {k: v for v, k in enumerate(names)}
    faces = []
    for i in range(rings):
        low, high = [0, *above(i)], [0, *above(i + 1)]
        for side in (1, -1):
            for m in range(len(high) - 1):
                ring = [(i, low[m]), *((i + 1, w) for w in high[m : m + 2]), *((i, w) for w in low[m + 1 : m + 2])]
                corners = [named(c + (side < 0), side * w) for c, w in (ring[::-1] if side > 0 else ring)]
                faces.append(tuple((g, index[c, w]) for g, c, w in corners))
    creases = sorted({_edge(p, q) for f in faces for p, q in zip(f, f[1:] + f[:1], strict=True)})
    diagonals = [_edge(f[0], f[2]) for f in faces if len(f) == 4]
    column, level = np.array(names, dtype=np.int64).T
    q = np.array([layer[k] for k in names], dtype=np.int64)
    edges = np.array([*creases, *diagonals], dtype=np.int64)
    return Pattern(sides, rings, rows, column, level, q, tuple(faces), edges, len(creases))


def _edge(p: tuple[int, int], q: tuple[int, int]) -> tuple[tuple[int, int], tuple[int, int]]:
    """An edge as its first copy: ends in order, the first in gore 0."""
    p, q = min(p, q), max(p, q)
    return (0, p[1]), (q[0] - p[0], q[1])


def ideal(shape: Pattern, pitch: Column) -> Wrap:
    """The flat pattern for pitch 0 with the corner radii of the given pitches [B]: exact at pitch 0 only."""
    phi, rows = np.pi / shape.sides, len(pitch)
    a = 2.0 * np.sin(phi)
    s, w = shape.column * a, shape.level * a * np.tan(phi)
    along, across = np.array([-np.sin(phi), np.cos(phi)]), np.array([np.cos(phi), np.sin(phi)])
    flat = np.array([1.0, 0.0]) + s[:, None] * along + w[:, None] * across
    height = np.abs(w)
    if shape.rows:
        drum = shape.rows * a * np.tan(phi)
        turn = np.mod(height / drum, 2.0)
        height = drum * np.minimum(turn, 2.0 - turn)
    radius = 1.0 + shape.layer * np.asarray(pitch)[:, None] / np.cos(phi)
    around = shape.column * 2.0 * phi
    stowed = np.stack([radius * np.cos(around), radius * np.sin(around), np.tile(-height, (rows, 1))], axis=-1)
    return Wrap(shape, np.asarray(pitch), np.tile(flat, (rows, 1, 1)), stowed, np.zeros(rows), np.zeros(rows))


def wrap(sides: int, rings: int, rows: int, pitch: Column) -> Wrap:
    """Wraps of one pattern at the layer pitches [B] (over R), all lengths the same flat and stowed to 1e-13.

    Cached by pattern and pitches. Where the lengths cannot be met (pitches far too large) `residual` says so.
    """
    return _solved(sides, rings, rows, tuple(float(p) for p in pitch))


@lru_cache(maxsize=128)
def _solved(sides: int, rings: int, rows: int, pitch: tuple[float, ...]) -> Wrap:
    """Newton on the lengths, each step least in sum (z - z_ideal)^2 (projection on the linearised lengths)."""
    shape = pattern(sides, rings, rows)
    start = ideal(shape, np.array(pitch))
    flat, stowed = start.flat.copy(), start.stowed.copy()
    edge2 = (2.0 * np.sin(np.pi / sides)) ** 2
    weight = np.tile([np.sqrt(FREE), np.sqrt(FREE), 1.0], shape.vertices - 1)
    open_ = np.arange(len(pitch))
    residual: Column = np.full(len(pitch), np.inf)
    for _ in range(MOST_STEPS):
        error, jacobian = _lengths(shape, flat[open_], stowed[open_], edge2)
        jacobian = jacobian / weight
        pull = np.zeros(jacobian[:, 0].shape)
        pull[:, 2::3] = (stowed - start.stowed)[open_, 1:, 2]
        wanted = np.einsum("bev,bv->be", jacobian, pull) - error
        step = np.einsum("bve,be->bv", np.linalg.pinv(jacobian, rcond=RANK), wanted) - pull
        step = (step / weight).reshape(len(open_), -1, 3)
        flat[open_, 1:] += step[..., :2]
        stowed[open_, 1:, 2] += step[..., 2]
        residual[open_] = np.abs(error).max(axis=1)
        done: Bools = (residual[open_] < TOLERANCE) & (np.abs(step).max(axis=(1, 2)) < 1e-11)
        open_ = open_[~done]
        if not len(open_):
            break
    drift = np.abs(stowed - start.stowed)[..., 2].max(axis=1)
    return Wrap(shape, start.pitch, flat, stowed, drift, residual)


def _lengths(shape: Pattern, flat: Floats, stowed: Floats, edge2: float) -> tuple[Floats, Floats]:
    """Flat less stowed squared lengths [B, E] over a^2, and their gradient [B, E, 3 (V - 1)]: flat x, y, stowed z of
    every vertex but the hub corner."""
    d_flat, d_stowed = _offsets(shape, flat), _offsets(shape, stowed)
    error = ((d_flat**2).sum(axis=-1) - (d_stowed**2).sum(axis=-1)) / edge2
    out = np.zeros((*error.shape, shape.vertices, 3))
    number = np.arange(len(shape.edges))
    for end, sign in ((0, 1.0), (1, -1.0)):
        gore, vertex = shape.edges[:, end].T
        back = np.swapaxes(_turns(shape.sides, gore), -1, -2)
        # an edge between two copies of one vertex adds up
        out[:, number, vertex, :2] += 2.0 * sign / edge2 * np.einsum("eij,bej->bei", back, d_flat)
        out[:, number, vertex, 2] -= 2.0 * sign / edge2 * d_stowed[..., 2]
    return error, out[:, :, 1:].reshape(*error.shape, -1)


def _turns(sides: int, gore: Ints) -> Floats:
    """Plane rotations [N, 2, 2] that bring gore 0 to gore [N]."""
    angle = 2.0 * np.pi / sides * gore
    c, s = np.cos(angle), np.sin(angle)
    return np.stack([np.stack([c, -s], axis=-1), np.stack([s, c], axis=-1)], axis=-2)


def _turned(points: Floats, turn: Floats) -> Floats:
    """Points [B, N, 2 or 3] turned about z, each by its own turn [N, 2, 2]."""
    plan = np.einsum("nij,bnj->bni", turn, points[..., :2])
    return np.concatenate([plan, points[..., 2:]], axis=-1)


def _offsets(shape: Pattern, points: Floats) -> Floats:
    """First end less second end [B, E, 2 or 3] of every edge."""
    ends = [_turned(points[:, v], _turns(shape.sides, g)) for g, v in (shape.edges[:, 0].T, shape.edges[:, 1].T)]
    return ends[0] - ends[1]


def _around(points: Floats, sides: int) -> Floats:
    """One gore [B, V, 2 or 3] copied to all: [B, n, V, 2 or 3]."""
    turn = _turns(sides, np.arange(sides))
    plan = np.einsum("gij,bvj->bgvi", turn, points[..., :2])
    rest = np.broadcast_to(points[:, None, :, 2:], (*plan.shape[:-1], points.shape[-1] - 2))
    return np.concatenate([plan, rest], axis=-1)
