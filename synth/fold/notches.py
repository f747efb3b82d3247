"""Notches in the edges of panels that hinge hardware passes: outlines with notches, and whether they go."""

import numpy as np

from synth.core.arrays import Bools, Column, Floats, Ints, dot, unit
from synth.core.geometry import Geometry, Notches
from synth.core.joints import Units
from synth.core.status import Status

BESIDE = 0.5e-3
"""m free on either side of a hinge unit in its notch (common practice, as beside stand-offs)."""
LEFT = 1e-3
"""m of panel that must be left between the bottom of a notch and the panel's other edges, and between notches."""
SHALLOW = 1e-6
"""m: notches less deep than this are not made."""
FAR = 1.0
"""m told where no notch is made."""
PAD_CLEAR = 0.75
"""Pads keep this many of their radii between their foot and a notch, as to the panel's edges."""


def notched(geometry: Geometry, units: Units, unit_width: Column, edge_gap: Column) -> tuple[Floats, Status]:
    """Outlines [B, P, V', 2] with the notches of `geometry.notches` cut in, and a status.

    A notch is a rectangle in from the panel's edge: as deep as asked, as wide as a hinge unit, BESIDE and what is
    asked on either side of it, at the units' distances from the middle of the edge. Status: notches
    apart from each other, from other edges and from the pads of joints. unit_width, edge_gap [B] m.
    """
    asked = geometry.notches
    status = Status.fine(geometry.rows)
    if asked is None or not len(asked.panel):
        return geometry.outline, status
    boxes, owner, live = _boxes(asked, geometry, units, unit_width, edge_gap)
    parts = []
    clear = np.full(geometry.rows, FAR)
    for p in range(geometry.outline.shape[1]):
        mine = np.flatnonzero(owner == p)
        outline = geometry.outline[:, p]
        ring, real = _cut_in(outline, boxes[:, mine], live[:, mine])
        parts.append(ring)
        clear = np.minimum(clear, _room(outline, boxes[:, mine], live[:, mine], real, units, p))
    most = max(ring.shape[1] for ring in parts)
    padded = [np.concatenate([r, np.repeat(r[:, -1:], most - r.shape[1], axis=1)], axis=1) for r in parts]
    status = status.require(clear / LEFT - 1.0, "a notch comes too near to another one, to an edge or to a pad")
    return np.stack(padded, axis=1), status


def _boxes(
    asked: Notches, geometry: Geometry, units: Units, unit_width: Column, edge_gap: Column
) -> tuple[Floats, Ints, Bools]:
    """Rectangles [B, N, 4, 2] of all notches (along the edge: start, start inside, end inside, end), their panels [N]
    and which are made [B, N]."""
    found, owner, live = [], [], []
    for k, (panel, hinge) in enumerate(zip(asked.panel.tolist(), asked.hinge.tolist(), strict=True)):
        line = geometry.axis[:, hinge, :, :2]
        along = unit(line[:, 1] - line[:, 0])
        mine = np.flatnonzero((units.kind == 0) & (units.owner == hinge))
        place = dot(units.at[:, mine, :2] - line.mean(axis=1)[:, None], along[:, None])
        out = asked.normal[:, k]
        way = np.stack([-out[:, 1], out[:, 0]], axis=-1)
        half = (unit_width / 2.0 + BESIDE + asked.wider[:, k])[:, None]
        x = np.stack([place - half, place - half, place + half, place + half], axis=-1)
        edge = np.broadcast_to((edge_gap / 2.0)[:, None], place.shape)
        deep = edge + asked.depth[:, k, None]
        y = np.stack([edge, deep, deep, edge], axis=-1)
        start = asked.middle[:, k, None, None]
        found.append(start + x[..., None] * way[:, None, None] - y[..., None] * out[:, None, None])
        owner += [panel] * len(mine)
        live.append(np.broadcast_to(asked.depth[:, k, None] > SHALLOW, place.shape))
    return np.concatenate(found, axis=1), np.array(owner, dtype=np.int64), np.concatenate(live, axis=1)


def _cut_in(outline: Floats, boxes: Floats, live: Bools) -> tuple[Floats, Bools]:
    """One panel's outlines [B, V, 2] with boxes [B, N, 4, 2] cut in where live [B, N]; and which were.

    Corners are sorted by their place along the outline: the number of the edge and the share of it. A notch whose
    edge the circle has cut away is none.
    """
    rows, corners = outline.shape[:2]
    count = boxes.shape[1]
    if not count:
        return outline, live
    step = np.roll(outline, -1, axis=1) - outline
    length = np.linalg.norm(step, axis=-1)
    way = step / np.where(length > 0.0, length, 1.0)[..., None]
    ends = boxes[:, :, (0, 3)]
    away = ends[:, :, :, None] - outline[:, None, None]
    along = dot(away, way[:, None, None])
    aside = np.abs(away[..., 1] * way[:, None, None, :, 0] - away[..., 0] * way[:, None, None, :, 1]).max(axis=2)
    inside = (along[:, :, 0] > SHALLOW) & (along[:, :, 1] < length[:, None] - SHALLOW)
    on = (aside < SHALLOW) & inside & (length > SHALLOW)[:, None]
    made = live & on.any(axis=-1)
    edge = on.argmax(axis=-1)
    share = np.take_along_axis(along, edge[:, :, None, None], axis=-1)[..., 0]
    share = share / np.maximum(np.take_along_axis(length, edge, axis=1), SHALLOW)[..., None]
    key = np.where(made[..., None], edge[..., None] + share[..., (0, 0, 1, 1)], 0.0)
    points = np.where(made[..., None, None], boxes, outline[:, :1, None])
    order = np.concatenate([np.broadcast_to(np.arange(corners), (rows, corners)), key.reshape(rows, -1)], axis=1)
    every = np.concatenate([outline, points.reshape(rows, 4 * count, 2)], axis=1)
    rank = np.argsort(order, axis=1, kind="stable")
    return np.take_along_axis(every, rank[..., None], axis=1), made


def _room(outline: Floats, boxes: Floats, asked: Bools, made: Bools, units: Units, panel: int) -> Column:
    """Least distance [B] that notches keep from other edges, from each other and from what pads need."""
    out = np.full(len(made), np.inf)
    step = np.roll(outline, -1, axis=1) - outline
    normal = unit(np.stack([-step[..., 1], step[..., 0]], axis=-1))
    real = np.linalg.norm(step, axis=-1) > SHALLOW
    alive = np.asarray(units.stiffness.any(axis=-1))
    for k in np.flatnonzero(asked.any(axis=0)):
        deep = boxes[:, k, 1:3]
        inside = dot(deep[:, :, None] - outline[:, None], normal[:, None])
        least = np.where(real[:, None], inside, np.inf).min(axis=(1, 2))
        # hardware that passes where the circle has cut the edge off: no notch, and no room
        off = asked[:, k] & ~made[:, k] & (_into(boxes[:, k], outline) > 0.0)
        out = np.where(off, -LEFT, out)
        for other in np.flatnonzero(made[:, :k].any(axis=0)):
            both = made[:, other]
            least = np.where(both, np.minimum(least, _apart(boxes[:, k], boxes[:, other])), least)
        for side in (0, 1):
            for u in np.flatnonzero(units.panels[:, side] == panel):
                gap = _distance(boxes[:, k], units.feet[:, u, side]) - PAD_CLEAR * units.pad_radius[:, u] + LEFT
                least = np.where(alive[:, u], np.minimum(least, gap), least)
        out = np.where(made[:, k], np.minimum(out, least), out)
    return out


def _into(box: Floats, outline: Floats) -> Column:
    """How deep [B] boxes [B, 4, 2] reach into outlines [B, V, 2], by the sides of both; 0 or less: not."""
    step = np.roll(outline, -1, axis=1) - outline
    normal = unit(np.stack([-step[..., 1], step[..., 0]], axis=-1))
    inside = dot(box[:, :, None] - outline[:, None], normal[:, None]).max(axis=1)
    best = np.where(np.linalg.norm(step, axis=-1) > SHALLOW, inside, np.inf).min(axis=1)
    corner, along, deep, size = _frame(box)
    for k, axis in enumerate((along, deep)):
        place = dot(outline - corner[:, None], axis[:, None])
        best = np.minimum(best, np.minimum(place.max(axis=1), size[:, k] - place.min(axis=1)))
    return np.asarray(best)


def _frame(box: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Corner, unit vectors along and in, and sizes [B, 2] of boxes [B, 4, 2]."""
    along, deep = box[:, 3] - box[:, 0], box[:, 1] - box[:, 0]
    size = np.stack([np.linalg.norm(along, axis=-1), np.linalg.norm(deep, axis=-1)], axis=-1)
    return box[:, 0], unit(along), unit(deep), size


def _apart(one: Floats, two: Floats) -> Column:
    """A lower bound [B] of the distance of two boxes: along the sides of either."""
    best = np.full(len(one), -np.inf)
    for a, b in ((one, two), (two, one)):
        corner, along, deep, size = _frame(a)
        for k, axis in enumerate((along, deep)):
            place = dot(b - corner[:, None], axis[:, None])
            best = np.maximum(best, np.maximum(place.min(axis=1) - size[:, k], -place.max(axis=1)))
    return best


def _distance(box: Floats, point: Floats) -> Column:
    """Distance [B] of points [B, 2] from boxes [B, 4, 2], 0 inside."""
    corner, along, deep, size = _frame(box)
    place = np.stack([dot(point - corner, along), dot(point - corner, deep)], axis=-1)
    out = np.maximum(np.maximum(place - size, -place), 0.0)
    return np.asarray(np.linalg.norm(out, axis=-1))
