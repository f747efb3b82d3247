"""Marks of a technical drawing: dimensions, scale bars, boxes."""

from typing import Any

import numpy as np

from synth.core.arrays import Floats, unit
from synth.export.sheet import FAINT, INK

NICE = (1.0, 2.0, 5.0)
VISIBLE: dict[str, Any] = {"lw": 0.9, "color": INK}
PHANTOM: dict[str, Any] = {"lw": 0.7, "color": INK, "ls": (0, (12, 3, 2, 3, 2, 3))}
CENTRE: dict[str, Any] = {"lw": 0.5, "color": FAINT, "ls": (0, (14, 3, 3, 3))}
HIDDEN: dict[str, Any] = {"lw": 0.7, "color": INK, "ls": (0, (4, 2))}


def dimension(axes: Any, first: Floats, second: Floats, away: Floats, text: str) -> None:
    """A dimension line parallel to first -> second [2], moved by away [2], with extension lines and its text above."""
    a, b = np.asarray(first) + away, np.asarray(second) + away
    gap = unit(np.asarray(away, dtype=np.float64)) * 0.12 * np.linalg.norm(away)
    for p, q in ((first, a), (second, b)):
        axes.plot(*zip(np.asarray(p) + gap, q + gap, strict=True), lw=0.4, color=FAINT, clip_on=False)
    axes.annotate("", xy=tuple(b), xytext=tuple(a), annotation_clip=False,
                  arrowprops={"arrowstyle": "<|-|>", "lw": 0.5, "color": INK, "shrinkA": 0, "shrinkB": 0,
                              "mutation_scale": 7})  # fmt: skip
    angle = float(np.degrees(np.arctan2(*(b - a)[::-1])))
    upright = 90.0 - (90.0 - angle) % 180.0  # read from below or from the right
    axes.text(*((a + b) / 2.0), text, rotation=upright, rotation_mode="anchor", ha="center", va="center", fontsize=7.5,
              bbox={"facecolor": "white", "edgecolor": "none", "pad": 1.0}, clip_on=False)  # fmt: skip


def nice_length(span: float) -> float:
    """The longest of 1, 2, 5 times a power of ten that is at most the span."""
    power = 10.0 ** np.floor(np.log10(span))
    return float(max(n * power for n in NICE if n * power <= span * (1 + 1e-9)))


def scale_bar(axes: Any, corner: Floats, span: float) -> None:
    """A bar in two halves, the first one filled, and its length in millimetres; corner: its lower left end."""
    length = nice_length(span)
    x, y = corner
    height = 0.045 * length
    for k, face in enumerate((INK, "white")):
        axes.fill([x + k * length / 2, x + (k + 1) * length / 2, x + (k + 1) * length / 2, x + k * length / 2],
                  [y, y, y + height, y + height], facecolor=face, edgecolor=INK, lw=0.6)  # fmt: skip
    axes.text(x, y - 0.6 * height, "0", ha="center", va="top", fontsize=7)
    axes.text(x + length, y - 0.6 * height, f"{1e3 * length:g} mm", ha="center", va="top", fontsize=7)


def rectangle(axes: Any, low: Floats, high: Floats, **style: Any) -> None:
    """An axis-parallel box."""
    axes.plot([low[0], high[0], high[0], low[0], low[0]], [low[1], low[1], high[1], high[1], low[1]], **style)


def circle(axes: Any, centre: Floats, radius: float, **style: Any) -> None:
    """A circle as a fine polygon, so that its dashes come out even."""
    a = np.linspace(0.0, 2.0 * np.pi, 361)
    axes.plot(centre[0] + radius * np.cos(a), centre[1] + radius * np.sin(a), **style)


def bare(axes: Any) -> None:
    """Equal scales, no frame."""
    axes.set_aspect("equal")
    axes.set_axis_off()
