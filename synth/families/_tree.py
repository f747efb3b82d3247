"""Spanning trees of a tiling: named ones, free ones as text, and one hinge swapped for another.

A tree is the list of parents in the tiling's own numbering, parent[0] = -1. As text a
free tree is "t:" and the parents of tiles 1, 2, ... joined by dots.
"""

from collections.abc import Sequence

import numpy as np

from synth.core.errors import InputError
from synth.families._tiling import Tiling

NAMED = ("star", "spiral", "comb0", "comb1", "comb2")


def parents_of(tree: str, tiles: Tiling) -> list[int]:
    """Parents of a named or free tree. Raises InputError for other text and for tiles joined without an edge."""
    if tree == "star":
        return _star(tiles)
    if tree == "spiral":
        return _spiral(tiles)
    if tree in NAMED:
        return _comb(tiles, int(tree[-1]))
    if not tree.startswith("t:"):
        raise InputError(f"tree '{tree}' is unknown; allowed: {', '.join(NAMED)}, or 't:' and parents joined by dots")
    try:
        parent = [-1, *(int(p) for p in tree[2:].split("."))]
    except ValueError:
        raise InputError(f"tree '{tree}': parents must be whole numbers joined by dots") from None
    if len(parent) != tiles.count:
        raise InputError(f"tree '{tree}' names {len(parent)} tiles, the tiling has {tiles.count}")
    for tile in range(1, tiles.count):
        if parent[tile] not in tiles.neighbours[tile]:
            raise InputError(f"tree '{tree}': tile {tile} has no edge with tile {parent[tile]}")
    visit_order(parent)
    return parent


def text_of(parent: Sequence[int]) -> str:
    """The free tree as text."""
    return "t:" + ".".join(str(p) for p in parent[1:])


def visit_order(parent: Sequence[int]) -> list[int]:
    """Tiles with parents before children, level by level. Raises InputError where not all hang on tile 0."""
    children: list[list[int]] = [[] for _ in parent]
    for tile, p in enumerate(parent):
        if p >= 0:
            children[p].append(tile)
    order = [0]
    for tile in order:
        order += children[tile]
    if len(order) != len(parent):
        raise InputError(f"the parents {list(parent)[1:]} are no tree on tile 0")
    return order


def swapped(parent: Sequence[int], tiles: Tiling, rng: np.random.Generator) -> list[int]:
    """The tree with one tile (and all that hangs on it) moved to another neighbour outside its own branch.

    The branch is re-rooted where the new edge leaves it from another tile of the branch.
    """
    order = visit_order(parent)
    for _ in range(64):
        top = int(rng.integers(1, len(parent)))
        branch = {top}
        for tile in order:
            if parent[tile] in branch:
                branch.add(tile)
        edges = [
            (inner, outer)
            for inner in sorted(branch)
            for outer in tiles.neighbours[inner]
            if outer not in branch and not (inner == top and outer == parent[top])
        ]
        if not edges:
            continue
        inner, outer = edges[int(rng.integers(len(edges)))]
        fresh, above = list(parent), outer
        while True:
            below = fresh[inner]
            fresh[inner] = above
            if inner == top:
                return fresh
            above, inner = inner, below
    return list(parent)


def _star(tiles: Tiling) -> list[int]:
    """Breadth first: every tile on the neighbour that is fewest hinges from the root; of two, the straighter one."""
    depth = [-1] * tiles.count
    depth[0] = 0
    queue = [0]
    for tile in queue:
        for other in tiles.neighbours[tile]:
            if depth[other] < 0:
                depth[other] = depth[tile] + 1
                queue.append(other)
    away = tiles.centre - tiles.centre[0]
    angle = np.arctan2(away[:, 1], away[:, 0])
    parent = [-1] * tiles.count
    for tile in range(1, tiles.count):
        turn = {p: (angle[tile] - angle[p] + np.pi) % (2.0 * np.pi) - np.pi for p in tiles.neighbours[tile]}
        nearer = [p for p in tiles.neighbours[tile] if depth[p] == depth[tile] - 1]
        # equal turns to either side: always the same sense, so that the arms are alike
        parent[tile] = min(nearer, key=lambda p: (round(abs(turn[p]), 6), round(-turn[p], 6), p))
    return parent


def _spiral(tiles: Tiling) -> list[int]:
    """One chain through ring after ring. Raises InputError where a ring is broken (dropped corners)."""
    parent, last = [-1] * tiles.count, 0
    done = {0}
    for ring in range(int(tiles.ring.min()), int(tiles.ring.max()) + 1):
        while True:
            nearby = [t for t in tiles.neighbours[last] if t not in done and tiles.ring[t] == ring]
            if not nearby:
                break
            # into a ring at its most counter-clockwise tile, then on counter-clockwise
            tile = max(nearby, key=lambda t: (round(_turn(tiles, last, t), 6), -t))
            parent[tile], last = last, tile
            done.add(tile)
    if len(done) < tiles.count:
        raise InputError("tree 'spiral' needs whole rings; with rounded corners choose another tree")
    return parent


def _turn(tiles: Tiling, a: int, b: int) -> float:
    """Angle about the origin from tile a to tile b, in (-pi, pi]."""
    (ax, ay), (bx, by) = tiles.centre[a], tiles.centre[b]
    return float(np.arctan2(ax * by - ay * bx, ax * bx + ay * by))


def _comb(tiles: Tiling, orientation: int) -> list[int]:
    """Rows as teeth on a spine: all edges within the rows, and between rows the one nearest to the centre."""
    turn = np.pi / 2.0 if tiles.sides == 4 else np.pi / 3.0
    if tiles.sides == 4 and orientation > 1:
        raise InputError("tree 'comb2': rows of squares run two ways; allowed: comb0, comb1")
    across = np.array([-np.sin(orientation * turn), np.cos(orientation * turn)])
    along = np.array([np.cos(orientation * turn), np.sin(orientation * turn)])
    pitch = 1.0 if tiles.sides == 4 else np.sqrt(3.0) / 2.0
    base = tiles.centre @ across / pitch
    row = np.floor(base + 1e-6) if tiles.sides == 3 else np.round(base - base[0])
    links: dict[tuple[int, int], tuple[float, int, int]] = {}
    edges: list[tuple[int, int]] = []
    for i, j in tiles.pairs:
        low, high = sorted((int(row[i]), int(row[j])))
        if low == high:
            edges.append((i, j))
            continue
        middle = (tiles.centre[i] + tiles.centre[j]) / 2.0
        key = (round(abs(float((middle - tiles.centre[0] / 2.0) @ along)), 6), i, j)
        links[low, high] = min(links.get((low, high), key), key)
    edges += [(i, j) for _, i, j in links.values()]
    joined: list[list[int]] = [[] for _ in range(tiles.count)]
    for i, j in edges:
        joined[i].append(j)
        joined[j].append(i)
    parent, queue = [-1] * tiles.count, [0]
    for tile in queue:
        for other in sorted(joined[tile]):
            if other and parent[other] < 0:
                parent[other] = tile
                queue.append(other)
    visit_order(parent)
    return parent
