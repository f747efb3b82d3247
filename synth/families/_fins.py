"""What the leaves and stand-offs of hinges meet while a stack of half turns opens.

The leaf of a hinge on one of its two tiles is a fin: it stands in that tile's half of the
gap strip, from the tile up (or down) to the hinge line and a knuckle beyond. The tiles
themselves keep a whole edge gap apart; fins do not:

* a fin and the tile across the edge are half the gap apart,
* a stand-off and the layers of its own cell are half the gap less its width apart,
* fins of two hinges on one edge, in one cell or face to face, have no gap at all: they
  need places (slots) of their own wherever their heights meet, stowed or on the way.

How much of that room a swing takes follows from circles about its axis, as for tiles (see
_unfold). A fin on the edge line about which the swing turns is passed by layers whose
nearest point is at distance m in height; the corner of its end may be sqrt((gap / 2)^2 + m^2) from the axis.

A height is a row (a, b, c): a pitches + b thicknesses + c knuckles above the axis.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from synth.core.arrays import Bools, Column, Floats, Ints
from synth.core.build import Build
from synth.families._unfold import State, Unfolding

END_MARGIN, SLOT_PITCH = 2e-3, 1.25
"""Where hardware stands on a hinge line: m from its end, and unit widths from slot to slot."""
PASSING_CLEARANCE = 0.5e-3
"""m: what is left beside a stand-off that is as wide as the half gap allows."""
MARGIN = 0.1e-3
"""m kept on top of what a swing takes: stand-offs have a width, the circles are those of their outer faces."""
ACROSS, BESIDE, AXIS = 0.0, 1.0, 2.0
WIDTH, WHERE = 18, 22
"""Columns of a term; those that also say which tile it is about: its panel, outward normal of the edge, hinge."""
_NONE = np.zeros((0, WHERE))
TYPICAL = ((0.022, 0.020, 0.004), (0.022, 0.012, 0.018), (0.15, 0.145, 0.02), (0.06, 0.055, 0.02))
"""Pitch, thickness and knuckle in tile units, by which terms are ranked."""
CONFLICT = (1.0, 0.98, 0.99)
"""Pitch, thickness and knuckle at which fins of two hinges are asked whether their heights meet: the worst there is."""
KEEP = 60


@dataclass(frozen=True, eq=False)
class Passing:
    """slot [H] of every hinge, and terms [N, 18].

    Columns of a term: kind, ends of the edge as distances n from the axis (tile units), cosine, heights of the
    passing thing (lowest, highest) and of the standing one, slot of the hinge, 1 where a tile passes a fin.
    """

    slot: Ints
    terms: Floats


@dataclass(frozen=True, eq=False)
class _Side:
    """Tiles or fins of one side of a swing. centre [N, 2], low, high [N, 3] heights; fins: way [N, 2], hinge [N]."""

    centre: Floats
    low: Floats
    high: Floats
    way: Floats
    hinge: Ints


def passing(folded: Unfolding, stage: Ints) -> Passing:
    """Slots and terms of all swings of an opening, stage by stage."""
    slot, terms = swept(folded, stage)
    return Passing(slot, _worst(terms[:, :WIDTH], folded))


def swept(folded: Unfolding, stage: Ints) -> tuple[Ints, Floats]:
    """Slots [H] and terms [N, 22] of all swings of an opening."""
    count = len(folded.parent) - 1
    meet = np.zeros((count, count), dtype=bool)
    state = folded.stowed()
    _rest(folded, state, np.ones(count + 1, dtype=bool), np.ones(count + 1, dtype=bool), meet)
    found: list[Floats] = []
    for step in range(int(stage.max(initial=-1)) + 1):
        group = [int(h) for h in np.flatnonzero(stage == step)]
        for hinge in group:
            others = state
            for other in group:
                others = folded.turned(others, other) if other != hinge else others
            for before in (state, others) if len(group) > 1 else (state,):
                found += _swing(folded, before, hinge, meet)
        for hinge in group:
            state = folded.turned(state, hinge)
    slot = _coloured(meet)
    terms = np.concatenate([_NONE, *found])
    terms[:, 16] = slot[terms[:, 16].astype(np.int64)] if count else 0.0
    return slot, terms


def slack(terms: Floats, unit: Column, build: Build, blunt: Column, sides: int) -> Column:
    """Least room less what is asked, over their sum [B], of terms [N, 18]; 1 where nothing is asked.

    unit [B]: the tile unit in m; blunt [B]: share of the edge missing at either end; sides: corners of a tile.
    """
    if not len(terms):
        return np.ones(build.rows)
    room = room_of(terms, build)
    asked = _asked(terms, unit, build, blunt, sides, room) + MARGIN
    return np.asarray(((room - asked) / (room + asked)).min(axis=1))


def room_of(terms: Floats, build: Build) -> Floats:
    """What is free beside each fin [B, N], m."""
    half = build.edge_gap[:, None] / 2.0
    beside = np.maximum(half - build.knuckle[:, None], np.minimum(PASSING_CLEARANCE, half))
    if build.notched:
        beside = half - build.post[:, None]
    return np.asarray(np.where(terms[None, :, 0] == BESIDE, beside, half))


def _asked(terms: Floats, unit: Column, build: Build, blunt: Column, sides: int, room: Floats) -> Floats:
    """What each term takes of its room [B, N], m."""
    return travel(terms, unit, build, blunt, sides, room)[0]


def travel(terms: Floats, unit: Column, build: Build, blunt: Column, sides: int, room: Floats) -> tuple[Floats, Floats]:
    """What each term takes of its room, and how far it moves along the edge while heights meet [B, N], m."""
    size = np.stack([build.pitch, build.thickness, build.knuckle], axis=-1)
    p_low, p_high, s_low, s_high = (size @ terms[:, k : k + 3].T for k in (4, 7, 10, 13))
    edge = terms[None, :, 2] - terms[None, :, 1]
    cosine = terms[None, :, 3]
    sine = np.sqrt(np.maximum(1.0 - cosine**2, 0.0))
    # the hardware nearest to the end of its edge
    inset = END_MARGIN + SLOT_PITCH * build.unit_width[:, None] * terms[None, :, 16]
    inset = inset + build.edge_gap[:, None] / 2.0 * np.tan(np.pi / sides)
    cut = blunt[:, None] * edge * unit[:, None] + np.minimum(inset * sine, 0.5 * edge * unit[:, None])
    lower = np.maximum(terms[None, :, 1] * unit[:, None] + cut, 0.0)
    # the edge of a tile that passes lies the room away from the fin that it comes to touch: inwards or outwards
    steep = np.maximum(np.abs(cosine), 0.2) * np.sign(cosine + 1e-12)
    lower = np.maximum(lower - terms[None, :, 17] * room / steep, 0.0)
    upper = np.maximum(terms[None, :, 2] * unit[:, None] - cut, lower)
    nearest = np.maximum(np.maximum(s_low, -s_high), 0.0)
    # outwards: what stands reaches above the lowest point that passes
    deepest = np.maximum(-p_low, 0.0)
    meets = (deepest > 0.0) & (s_high > p_low + 1e-12) & (nearest < deepest)
    out = np.where(meets, np.sqrt(lower**2 + np.maximum(deepest**2 - nearest**2, 0.0)) - lower, 0.0)
    # inwards: what stands is nearer to the axis and reaches above it
    least = np.maximum(np.maximum(p_low, -p_high), 0.0)
    drop = np.where((s_high > 0.0) & (s_high > least), s_high**2 - least**2, 0.0)
    n = np.clip(np.sqrt(drop), lower, upper)
    inward = np.where(drop > 0.0, n - np.sqrt(np.maximum(n**2 - drop, 0.0)), 0.0)
    swing = np.where(cosine > 0.0, out, inward) * np.abs(cosine)
    # on the axis line: the passing layers keep `nearest` away in height, a corner stands past the axis
    deep = build.post if build.notched else build.knuckle
    reach = np.where(s_high > 0.0, s_high**2 + deep[:, None] ** 2, 0.0)
    past = np.sqrt(np.maximum(reach - least**2, 0.0))
    along = np.maximum(out, inward) * sine
    return np.asarray(np.where(terms[None, :, 0] == AXIS, past, swing)), np.where(terms[None, :, 0] == AXIS, 0.0, along)


def typical_gap(folded: Unfolding, state: State, hinge: int) -> float:
    """Edge gap in tile units that hinges ask for while one hinge opens, at typical sizes: it only ranks the orders."""
    terms = np.concatenate(_swing(folded, state, hinge, None))
    if not len(terms):
        return 0.0
    asked = _typical(terms, TYPICAL[0], folded)
    width = np.where((terms[:, 0] == BESIDE) & (asked > 0.0), TYPICAL[0][2], 0.0)
    return float(2.0 * (asked + width).max())


def fins_of(folded: Unfolding, state: State, panels: Bools, axis: float, sign: float) -> _Side:
    """The fins on some panels; heights about an axis level."""
    parent = np.array(folded.parent[1:], dtype=np.int64)
    hinge = np.concatenate([np.arange(len(parent)), np.arange(len(parent))])
    panel = np.concatenate([parent, np.arange(1, len(parent) + 1)])
    side = np.concatenate([np.ones(len(parent)), -np.ones(len(parent))])
    line = state.level[parent] + state.facing[parent] * folded.reach / 2.0
    keep = panels[panel]
    hinge, panel, side = hinge[keep], panel[keep], side[keep]
    way = np.einsum("fij,fj->fi", state.turn[panel], side[:, None] * folded.normal[hinge])
    own, end = (state.level[panel] - axis) * sign, (line[hinge] - axis) * sign
    up, zero = end > own, np.zeros(len(own))
    low = np.where(up[:, None], np.stack([own, zero - 0.5, zero], -1), np.stack([end, zero, zero - 1.0], -1))
    high = np.where(up[:, None], np.stack([end, zero, zero + 1.0], -1), np.stack([own, zero + 0.5, zero], -1))
    return _Side(folded.centres(state)[panel], low, high, way, hinge)


def tiles_of(folded: Unfolding, state: State, panels: Bools, axis: float, sign: float) -> _Side:
    z, zero = (state.level[panels] - axis) * sign, np.zeros(int(panels.sum()))
    low, high = np.stack([z, zero - 0.5, zero], -1), np.stack([z, zero + 0.5, zero], -1)
    return _Side(folded.centres(state)[panels], low, high, np.zeros((len(z), 2)), np.flatnonzero(panels))


def _swing(folded: Unfolding, before: State, hinge: int, meet: Bools | None) -> list[Floats]:
    """Terms of one swing; fins of two hinges that meet are marked in meet [H, H], if that is asked for."""
    middle, normal, axis, up = folded.line(before, hinge)
    sign = 1.0 if up else -1.0
    moved = folded.branch[hinge + 1]
    after = folded.turned(before, hinge)
    found = []
    for state, way in ((before, -normal), (after, normal)):
        sides = [make(folded, state, which, axis, sign) for which in (moved, ~moved) for make in (fins_of, tiles_of)]
        found.append(_landing(folded, state, sides, middle, way, meet, hinge))
    moving, still = (fins_of(folded, before, which, axis, sign) for which in (moved, ~moved))
    layers, floor = (tiles_of(folded, before, which, axis, sign) for which in (moved, ~moved))
    found += _on_axis(folded, before, (moving, layers), (still, floor), middle, normal, hinge)
    return found


def _landing(
    folded: Unfolding,
    state: State,
    sides: Sequence[_Side],
    middle: Floats,
    normal: Floats,
    meet: Bools | None,
    own: int,
) -> Floats:
    """Terms near a place that the moving things come down to (or leave, told backwards)."""
    fins, layers, posts, floor = sides
    r = folded.tiles.inradius
    found = []
    for fin, tile, moving in ((fins, floor, True), (posts, layers, False)):
        apart = tile.centre[None] - fin.centre[:, None]
        for kind, at, turn in ((ACROSS, 2.0 * r * fin.way, 1.0), (BESIDE, 0.0 * fin.way, -1.0)):
            f, t = np.nonzero(np.abs(apart - at[:, None]).max(axis=-1) < 1e-6)
            edge = (fin.centre[f] + r * fin.way[f] - middle) @ normal
            cosine = turn * (fin.way[f] @ normal) * (1.0 if moving else -1.0)
            passer, stander = (fin, tile) if moving else (tile, fin)
            p, s = (f, t) if moving else (t, f)
            heights = [passer.low[p], passer.high[p], stander.low[s], stander.high[s]]
            last = last_columns(state, tile.hinge[t], -turn * fin.way[f], fin.hinge[f], not moving)
            found.append(_rows(folded, kind, edge, cosine, heights, last, own))
    if meet is not None:
        _face_to_face(folded, fins, posts, middle, normal, meet)
    return np.concatenate(found)


def _rows(
    folded: Unfolding,
    kind: float,
    edge: Floats,
    cosine: Floats,
    heights: Sequence[Floats],
    last: Floats,
    own: int,
) -> Floats:
    """Term rows; beyond the axis the same things come from below. Edges on the axis are not for these terms."""
    half = folded.half_edge * np.sqrt(np.maximum(1.0 - cosine**2, 0.0))
    found = []
    for side in (1.0, -1.0):
        near = side * edge - half
        far = near + 2.0 * half
        use = (far > 1e-6) & (last[:, 0] != own)
        flip = [np.asarray(h) for h in heights] if side > 0 else [-heights[1], -heights[0], -heights[3], -heights[2]]
        columns = [np.full(len(edge), kind), near, far, side * cosine]
        table = np.concatenate([np.stack(columns, -1), *flip, last], axis=-1)
        found.append(table[use])
    return np.concatenate(found)


def last_columns(state: State, panel: Ints, way: Floats, hinge: Ints, tile: bool) -> Floats:
    """Last columns of terms: hinge (later its slot), 1 where a tile passes, and where: panel, its edge, hinge."""
    deployed = np.einsum("nij,ni->nj", state.turn[panel], way)
    flag = np.full(len(hinge), float(tile))
    return np.concatenate([np.stack([hinge, flag, panel], axis=-1), deployed, hinge[:, None]], axis=-1)


def _on_axis(
    folded: Unfolding,
    state: State,
    moving: tuple[_Side, _Side],
    still: tuple[_Side, _Side],
    middle: Floats,
    normal: Floats,
    own: int,
) -> list[Floats]:
    """Fins on the line of the swing and the layers that turn about it (or about which they turn)."""
    r = folded.tiles.inradius
    found = []
    # fin, layers it meets, on which side of the line those lie, whether its end above (+1) or below (-1) the axis
    for fin, tile, side, end in (
        (still[0], moving[1], -1.0, 1.0),
        (moving[0], still[1], -1.0, -1.0),
        (moving[0], still[1], 1.0, 1.0),
    ):
        edge = fin.centre + r * fin.way
        on = (np.abs((edge - middle) @ normal) < 1e-6) & (np.abs(fin.way @ normal) > 0.999) & (fin.hinge != own)
        f, t = np.nonzero(
            (np.abs(tile.centre[None] - edge[:, None] - side * r * normal).max(axis=-1) < 1e-6) & on[:, None]
        )
        low, high = (fin.low[f], fin.high[f]) if end > 0 else (-fin.high[f], -fin.low[f])
        zero = np.zeros(len(f))
        columns = [zero + AXIS, zero, zero + 1.0, zero + 1.0]
        rows = [
            np.stack(columns, -1),
            tile.low[t],
            tile.high[t],
            low,
            high,
            last_columns(state, tile.hinge[t], np.broadcast_to(-side * normal, (len(t), 2)), fin.hinge[f], False),
        ]
        found.append(np.concatenate(rows, axis=-1))
    return found


def _face_to_face(folded: Unfolding, fins: _Side, posts: _Side, middle: Floats, normal: Floats, meet: Bools) -> None:
    """Marks hinges whose fins come to stand on one edge at heights that meet, there or just before."""
    r = folded.tiles.inradius
    a_edge, b_edge = fins.centre + r * fins.way, posts.centre + r * posts.way
    a, b = np.nonzero(np.abs(a_edge[:, None] - b_edge[None]).max(axis=-1) < 1e-6)
    other = fins.hinge[a] != posts.hinge[b]
    a, b = a[other], b[other]
    if not len(a):
        return
    size = np.array(CONFLICT)
    rest = (fins.low[a] @ size < posts.high[b] @ size) & (posts.low[b] @ size < fins.high[a] @ size)
    facing = (fins.way[a] * posts.way[b]).sum(axis=-1) < 0.0
    edge = (a_edge[a] - middle) @ normal
    cosine = fins.way[a] @ normal
    heights = [fins.low[a], fins.high[a], posts.low[b], posts.high[b]]
    swept = np.zeros(len(a), dtype=bool)
    for side in (1.0, -1.0):
        half = folded.half_edge * np.sqrt(np.maximum(1.0 - cosine**2, 0.0))
        near = side * edge - half
        flip = [np.asarray(h) for h in heights] if side > 0 else [-heights[1], -heights[0], -heights[3], -heights[2]]
        columns = [np.zeros(len(a)), near, near + 2.0 * half, side * cosine]
        rows = np.concatenate([np.stack(columns, -1), *flip, np.zeros((len(a), 2))], axis=-1)
        asked = np.max([_typical(rows, t, folded) for t in TYPICAL[:1]], axis=0)
        swept |= (near + 2.0 * half > 1e-6) & (asked > 1e-4)
    bad = rest | (facing & swept)
    meet[fins.hinge[a[bad]], posts.hinge[b[bad]]] = True
    meet[posts.hinge[b[bad]], fins.hinge[a[bad]]] = True


def _rest(folded: Unfolding, state: State, one: Bools, two: Bools, meet: Bools) -> None:
    """Marks hinges whose fins meet in a state at rest."""
    first, second = (fins_of(folded, state, which, 0.0, 1.0) for which in (one, two))
    _face_to_face(folded, first, second, np.zeros(2), np.zeros(2), meet)


def _typical(terms: Floats, size: tuple[float, float, float], folded: Unfolding) -> Floats:
    return typical_travel(terms, size, folded)[0]


def typical_travel(terms: Floats, size: tuple[float, float, float], folded: Unfolding) -> tuple[Floats, Floats]:
    one = np.ones(1)
    build = Build(1.0, 0.0, size[1] * one, 0.0 * one, size[0] * one, size[2] * one, 0.0 * one)
    asked, along = travel(terms, one, build, 0.0 * one, folded.tiles.sides, room_of(terms, build))
    return np.asarray(asked[0]), np.asarray(along[0])


def _coloured(meet: Bools) -> Ints:
    """Slots: the hinge that has fewest left goes first and takes the lowest one free."""
    count = len(meet)
    slot = np.full(count, -1, dtype=np.int64)
    for _ in range(count):
        taken = [len({int(slot[g]) for g in np.flatnonzero(meet[h]) if slot[g] >= 0}) for h in range(count)]
        h = max((k for k in range(count) if slot[k] < 0), key=lambda k: (taken[k], int(meet[k].sum()), -k))
        used = {int(slot[g]) for g in np.flatnonzero(meet[h])}
        slot[h] = next(s for s in range(count) if s not in used)
    return slot


def _worst(terms: Floats, folded: Unfolding) -> Floats:
    """The distinct terms that ask for most, at any of the typical sizes."""
    terms = np.unique(np.round(terms, 9), axis=0)
    keep = np.zeros(len(terms), dtype=bool)
    for size in TYPICAL:
        asked = _typical(terms, size, folded)
        for kind in (ACROSS, BESIDE, AXIS):
            mine = np.flatnonzero((terms[:, 0] == kind) & (asked > 0.0))
            keep[mine[np.argsort(-asked[mine], kind="stable")[:KEEP]]] = True
    return np.ascontiguousarray(terms[keep])
