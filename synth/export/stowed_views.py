"""The stowed candidate in its envelope: three orthographic views in third angle and one from a corner."""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from matplotlib.figure import Figure

from synth.core.arrays import Floats
from synth.export.keep_out import outline, solid, within
from synth.export.marks import HIDDEN, bare, circle, dimension, rectangle
from synth.export.shaded import FRONT, RIGHT, TOP, View, bodies, draw, view_from
from synth.export.sheet import INK, sheet
from synth.problem.envelope import Envelope
from synth.problem.sections import KeepOut
from synth.stow.circle import least_circle

_VIEWS: tuple[tuple[str, View, tuple[int, int]], ...] = (
    ("from above", TOP, (0, 1)),
    ("from the front", FRONT, (0, 2)),
    ("from the right", RIGHT, (1, 2)),
)


def stowed_views(record: Mapping[str, Any], envelope: Envelope, keep_out: Sequence[KeepOut] = ()) -> Figure:
    """Axes are the envelope's; the candidate is centred in it. Solid: walls; dashed: walls less the clearance.

    Keep-out boxes stand where they are about the stowed root.
    """
    turn = np.asarray(record["stowed"]["rotation"], dtype=np.float64)
    poses = np.asarray(record["path"]["poses"][0], dtype=np.float64)
    found = bodies(record, poses, turn)
    points = np.concatenate([b.points for b in found])
    middle = _middle(points, envelope)
    outside, allowed = np.asarray(envelope.outside, dtype=np.float64), envelope.allowed
    size = np.asarray(record["stowed"]["size_m"], dtype=np.float64)
    figure = sheet(240, 200)
    gap = 0.22 * float(outside.max())
    half = np.maximum(outside, size) / 2 + gap / 2
    kept = within(keep_out, middle - half, middle + half, turn)
    boxes = _layout(np.maximum(outside, size), gap)
    for (name, view, (i, j)), box in zip(_VIEWS, boxes, strict=False):
        axes = figure.add_axes(box)
        bare(axes)
        draw(axes, found, view, -middle[[i, j]], line=0.35)
        _walls(axes, envelope, outside, allowed, (i, j))
        _sizes(axes, size, (i, j), gap)
        axes.set_xlim(-half[i], half[i])
        axes.set_ylim(-half[j], half[j])
        axes.set_title(name, fontsize=8, loc="left", pad=-6)
        outline(axes, kept, view, -middle[[i, j]])
    _corner_view(figure, boxes[3], [*found, *map(solid, kept)], middle, envelope, outside)
    _title(figure, record, envelope, allowed)
    return figure


def _middle(points: Floats, envelope: Envelope) -> Floats:
    """Middle of the stowed solids; of a round envelope in plan the centre of the least circle."""
    middle = (points.min(axis=0) + points.max(axis=0)) / 2.0
    if envelope.kind == "round":
        middle[:2] = least_circle(points[None, :, :2])[0][0]
    return np.asarray(middle, dtype=np.float64)


def _layout(size: Floats, gap: float) -> list[tuple[float, float, float, float]]:
    """Places of the views on the sheet, one scale for the three orthographic ones: above over front, right beside."""
    wide, high = size[0] + size[1] + 2 * gap, size[1] + size[2] + 2 * gap
    room = np.array([240 * 0.94, 200 * 0.86])
    scale = float((room / np.array([wide, high])).min())  # mm of paper a metre
    w = scale / 240.0
    h = scale / 200.0
    x0, y0 = 0.03, 0.03
    a, b, c = size + gap
    x1, y1 = x0 + a * w, y0 + c * h
    return [
        (x0, y1 + 0.02, a * w, b * h),
        (x0, y0, a * w, c * h),
        (x1, y0, b * w, c * h),
        (x1 + 0.01, y1 + 0.03, 0.985 - x1 - 0.01, 0.90 - y1 - 0.03),
    ]


def _walls(axes: Any, envelope: Envelope, outside: Floats, allowed: Floats, pair: tuple[int, int]) -> None:
    """Walls and the room left by the clearance."""
    for sides, style in ((outside, {"lw": 1.2, "color": INK}), (allowed, HIDDEN)):
        if style is HIDDEN and envelope.clearance <= 0.0:
            continue
        half = sides[list(pair)] / 2.0
        if envelope.kind == "round" and pair == (0, 1):
            circle(axes, np.zeros(2), half[0], **style)
        else:
            rectangle(axes, -half, half, **style)


def _sizes(axes: Any, size: Floats, pair: tuple[int, int], gap: float) -> None:
    """Stowed sides below and to the left, outside the walls."""
    half = size[list(pair)] / 2.0
    low = np.array([axes_low for axes_low in (-half[0], -half[1])])
    away = 0.30 * gap
    dimension(axes, low, np.array([half[0], -half[1]]), np.array([0.0, -away - _over(axes, 1, half[1])]),
              f"{1e3 * size[pair[0]]:.1f}")  # fmt: skip
    dimension(axes, low, np.array([-half[0], half[1]]), np.array([-away - _over(axes, 0, half[0]), 0.0]),
              f"{1e3 * size[pair[1]]:.1f}")  # fmt: skip


def _over(axes: Any, direction: int, half: float) -> float:
    """How far the walls drawn so far reach beyond the candidate."""
    reach = max((float(np.abs(line.get_xydata()[:, direction]).max()) for line in axes.lines), default=half)
    return max(reach - half, 0.0)


def _corner_view(
    figure: Figure, box: tuple[float, float, float, float], found: Any, middle: Floats, envelope: Envelope,
    outside: Floats,
) -> None:  # fmt: skip
    """From a corner: far walls behind the candidate, near edges over it."""
    axes = figure.add_axes(box)
    bare(axes)
    view = view_from(-55.0, 28.0)
    near, far = _edges(envelope, outside / 2.0, view)
    for line in far:
        axes.plot(*view.flat(line).T, **HIDDEN, zorder=0)
    draw(axes, found, view, -view.flat(middle), line=0.35)
    for line in near:
        axes.plot(*view.flat(line).T, lw=0.9, color=INK, zorder=5)
    axes.autoscale_view()
    axes.margins(0.04)


def _edges(envelope: Envelope, half: Floats, view: View) -> tuple[list[Floats], list[Floats]]:
    """Edges of the walls towards the eye and away from it."""
    if envelope.kind == "round":
        a = np.linspace(0.0, 2.0 * np.pi, 121)
        ring = np.column_stack([half[0] * np.cos(a), half[0] * np.sin(a), np.zeros(len(a))])
        facing = np.arctan2(view.toward[1], view.toward[0])
        sides = [facing - np.pi / 2, facing + np.pi / 2]
        up = np.array([0.0, 0.0, half[2]])
        posts = [np.array([half[0] * np.cos(t), half[0] * np.sin(t), 0.0]) for t in sides]
        near_half = (ring @ view.toward) >= -1e-9
        bottom = ring - up
        order = np.argsort(((a - facing + np.pi) % (2 * np.pi)), kind="stable")
        front = bottom[order][near_half[order]]
        back = bottom[np.argsort((a - facing) % (2 * np.pi), kind="stable")]
        back = back[(back + up) @ view.toward <= 1e-9]
        return [ring + up, front, *(np.stack([p - up, p + up]) for p in posts)], [back]
    near: list[Floats] = []
    far: list[Floats] = []
    for axis in range(3):
        others = [k for k in range(3) if k != axis]
        for sa in (-1.0, 1.0):
            for sb in (-1.0, 1.0):
                corner = np.zeros(3)
                corner[others] = sa * half[others[0]], sb * half[others[1]]
                step = np.zeros(3)
                step[axis] = half[axis]
                # hidden where both walls that meet there look away from the eye
                hidden = sa * view.toward[others[0]] < 0 and sb * view.toward[others[1]] < 0
                (far if hidden else near).append(np.stack([corner - step, corner + step]))
    return near, far


def _title(figure: Figure, record: Mapping[str, Any], envelope: Envelope, allowed: Floats) -> None:
    fit = next((r["value"] for r in record["requirements"] if r["name"] == "envelope.fit"), None)
    sides = " x ".join(f"{1e3 * v:.0f}" for v in allowed)
    verdict = "" if fit is None else f"; takes up {100 * fit:.1f} % of the tightest side"
    figure.text(0.03, 0.96, f"{record['id']}  {record['family']}, stowed in '{envelope.name}'", fontsize=10)
    shape = "Ø x Ø x height" if envelope.kind == "round" else "sides"
    figure.text(0.03, 0.937, f"room {sides} mm ({shape}, clearance taken off){verdict}. Sizes in mm.", fontsize=7.5)
