"""Arms of a wrapped hub with rows: pieces between the columns of one wall, from the hub outwards.

Column i of gore g lies on prism edge g + i, so wall 0 takes columns i and i + 1 of the outer half of gore -i and
columns i + 1 and i + 2 of the inner half of gore -(i + 1), for all i. Between them the arm goes up each outer half from
the hub edge's row to the spine and down the inner half behind it, one piece for each face of the pattern: a zigzag,
front to front and back to back in turn. Four-cornered pieces hang by one row and carry the next by the opposite one, so
that a diagonal parts them into two pieces in series.

Freedoms: a sheet of triangles all round moves alike in as many ways as a gore has vertices on the rim, less one; each
quad that stays whole takes one away (derived; the tests find the rank). Which must be split to let the folds keep their
senses was found by trying all choices (`SPLIT`).
"""

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from itertools import pairwise

Corner = tuple[int, int, int]

SPLIT: dict[tuple[int, int], tuple[int, ...]] = {(2, 1): (), (3, 1): (1, 2), (3, 2): (0, 1)}
"""By (rings, rows): the four-cornered faces of an arm, counted from the hub, that are split, all from the far end of
the row they hang by to the near end of the other (near: towards the prism edge with the lower number).

Found by looking for ways of least partings for all choices, each quad whole or split along either diagonal. With three
rings and two rows (81 choices, six sides) three have a way without strain, and this is the one with the fewest splits.
With three rings and one row (73 choices of up to two splits, six sides) about ten have ways that part the seams by less
than a hundredth of the hub's radius; of the five looked at closer, with thickness, this one alone kept solids apart.
"""


@dataclass(frozen=True)
class Piece:
    """A panel of the arm on wall 0. crease: where it hangs on the piece before (the first on the hub).

    fold: "hub" (a quarter turn to the back), "front" (a half turn, front to front), "back" (a half turn, back to back)
    or "diagonal" (flat at both ends of the path).
    """

    gore: int
    corners: tuple[Corner, ...]
    crease: tuple[Corner, Corner]
    fold: str


@dataclass(frozen=True)
class Seam:
    """A corner crease of gore 0 between pieces number first and second, each on the arm that holds gore 0's copy.

    face: 0 where its line lies on the receiving face, -1 on the back: the face that is hollow when wrapped.
    """

    first: int
    second: int
    ends: tuple[Corner, Corner]
    face: int


def layers(made: tuple[Piece, ...]) -> list[int]:
    """How many half turns out of its wall's first layer each piece lies, stowed."""
    return [sum(p.fold in ("front", "back") for p in made[: k + 1]) for k in range(len(made))]


def levels(column: int, rows: int) -> list[int]:
    """Levels of the creases that meet a column on one side of the hub edge's row, from it to the spine."""
    return [0, *range(rows, column, rows), column] if column else [0]


def _named(g: int, column: int, level: int) -> Corner:
    """The one name of a corner: hub corners and spines belong to the gore that starts there."""
    if level == -(column - 1) and level < 0:
        return g + 1, column - 1, column - 1
    return g, column, level


def _faces(rings: int, rows: int) -> Iterator[tuple[int, list[Corner]]]:
    """Gore and corners of each face on wall 0: near and far end of the crease it hangs by, far and near of the next."""
    for i in range(rings):
        low, high = levels(i, rows), levels(i + 1, rows)
        for m in range(len(high) - 1):
            near = low[m : m + 2]
            ring = [(i, near[0]), (i + 1, high[m]), (i + 1, high[m + 1]), *((i, w) for w in near[1:])]
            yield -i, [_named(-i, column, w) for column, w in ring]
        for m in reversed(range(len(high) - 1)):
            near = low[m : m + 2]
            ring = [(i + 1, near[-1]), (i + 2, high[m + 1]), (i + 2, high[m]), *((i + 1, w) for w in near[:-1])]
            yield -i - 1, [_named(-i - 1, column, -w) for column, w in ring]


@cache
def rowed_pieces(rings: int, rows: int) -> tuple[Piece, ...]:
    """Panels of the arm on wall 0 with rows."""
    (_, (hub, _, spine)), *faces = _faces(rings, rows)
    # the first corner crease meets the line of the hub edge beyond the hub's corner
    out, quads = [Piece(0, (hub, (0, 1, -1), spine), (hub, (1, 0, 0)), "hub")], 0
    for k, (g, ring) in enumerate(faces):
        # the inner face behind the first spine has the hub's corner itself
        a, b, c, *d = ring if k else [(0, 0, 0), *ring[1:]]
        fold = ("front", "back")[k % 2]
        if d and quads in SPLIT[rings, rows]:
            out += [Piece(g, (a, b, d[0]), (a, b), fold), Piece(g, (d[0], b, c), (d[0], b), "diagonal")]
        else:
            out.append(Piece(g, (a, b, c, *d), (a, b), fold))
        quads += len(d)
    return tuple(out)


@cache
def rowed_seams(rings: int, rows: int) -> tuple[Seam, ...]:
    """Corner creases with rows, ring by ring: outer halves (column i), then inner ones (column i + 1).

    Even layers look outwards when stowed, so that their backs are hollow.
    """
    made = rowed_pieces(rings, rows)
    layer = layers(made)

    def seam(first: int, second: int, ends: tuple[Corner, Corner]) -> Seam:
        return Seam(first, second, ends, -1 if layer[first] % 2 == 0 else 0)

    def having(gore: int, ends: tuple[Corner, Corner]) -> int:
        """The piece of that gore that has both ends, told for gore 0."""
        wanted = {(c[0] + gore, *c[1:]) for c in ends}
        (found,) = [k for k, p in enumerate(made) if p.gore == gore and wanted <= set(p.corners)]
        return found

    out = []
    for i in range(1, rings):
        low = levels(i, rows)
        for p, q in pairwise(low):
            ends = (_named(0, i, p), _named(0, i, q))
            out.append(seam(0 if i == 1 else having(1 - i, ends), having(-i, ends), ends))
        for p, q in pairwise(low):
            ends = (_named(0, i + 1, -p), _named(0, i + 1, -q))
            out.append(seam(having(-i, ends), having(-i - 1, ends), ends))
    return tuple(out)
