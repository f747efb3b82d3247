"""Curves of hypervolume against evaluations as one SVG picture: a panel a problem, evaluations on a log scale."""

from collections.abc import Mapping, Sequence
from html import escape

import numpy as np
from matplotlib.ticker import MaxNLocator

from synth.core.arrays import Floats, Ints

COLOURS = ("#111111", "#1f6fb2", "#c8541b", "#2e8b57", "#8a4fb0", "#b08a00", "#c2185b", "#5d7a8c", "#7d5a3c")
WIDTH, HEIGHT, LEFT, TOP, GAP = 300.0, 230.0, 56.0, 34.0, 66.0
LEGEND = 170.0
Panel = tuple[str, Ints, Mapping[str, Floats]]


def drawn(panels: Sequence[Panel], order: Sequence[str]) -> str:
    """The picture; the names of the searches stand once, below. order: of all searches that there are, the one to stand
    out first, so that each has its colour in every picture."""
    found = {n for _, _, curves in panels for n in curves}
    names = [n for n in order if n in found]
    wide = LEFT + len(panels) * (WIDTH + GAP)
    across = max(int((wide - LEFT) // LEGEND), 1)
    rows = -(-len(names) // across)
    high = TOP + HEIGHT + 60.0 + 18.0 * rows
    out = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {wide:.0f} {high:.0f}" font-family="sans-serif" '
        f'font-size="11" role="img" aria-label="hypervolume against evaluations">',
        f'<rect width="{wide:.0f}" height="{high:.0f}" fill="#ffffff"/>',
    ]
    for k, panel in enumerate(panels):
        out += _panel(panel, LEFT + k * (WIDTH + GAP), order)
    for k, name in enumerate(names):
        x, y = LEFT + (k % across) * LEGEND, TOP + HEIGHT + 58.0 + 18.0 * (k // across)
        out.append(f'<line x1="{x}" y1="{y - 4}" x2="{x + 20}" y2="{y - 4}" {_stroke(order, name)}/>')
        out.append(f'<text x="{x + 26}" y="{y}">{escape(name)}</text>')
    return "\n".join([*out, "</svg>", ""])


def _stroke(order: Sequence[str], name: str) -> str:
    colour = COLOURS[order.index(name) % len(COLOURS)]
    return f'fill="none" stroke="{colour}" stroke-width="{2.4 if name == order[0] else 1.3}"'


def _panel(panel: Panel, left: float, order: Sequence[str]) -> list[str]:
    title, marks, curves = panel
    ends = [float(c[-1]) for c in curves.values()]
    top = max(ends)
    # what distinguishes the searches happens near the top
    low = min(float(np.median([c[len(c) // 3] for c in curves.values()])), *ends)
    top, low = top + 0.02 * (top - low), low - 0.02 * (top - low)
    ticks = [v for v in MaxNLocator(5).tick_values(low, top) if low <= v <= top]

    def at(n: float, value: float) -> tuple[float, float]:
        x = np.log(n / marks[0]) / np.log(marks[-1] / marks[0])
        return left + WIDTH * x, TOP + HEIGHT * (1.0 - (value - low) / (top - low))

    out = [
        f'<text x="{left:.1f}" y="{TOP - 12:.1f}" font-weight="bold">{escape(title)}</text>',
        f'<rect x="{left:.1f}" y="{TOP}" width="{WIDTH}" height="{HEIGHT}" fill="none" stroke="#888888"/>',
    ]
    for value in ticks:
        y = at(float(marks[0]), float(value))[1]
        out.append(f'<line x1="{left:.1f}" y1="{y:.1f}" x2="{left + WIDTH:.1f}" y2="{y:.1f}" stroke="#dddddd"/>')
        out.append(f'<text x="{left - 5:.1f}" y="{y + 4:.1f}" text-anchor="end">{value:g}</text>')
    for n in (50, 100, 200, 500, 1000, 2000, 5000, 10000, 20000):
        if marks[0] <= n <= marks[-1]:
            x = at(float(n), low)[0]
            out.append(f'<line x1="{x:.1f}" y1="{TOP}" x2="{x:.1f}" y2="{TOP + HEIGHT}" stroke="#dddddd"/>')
            out.append(f'<text x="{x:.1f}" y="{TOP + HEIGHT + 15:.1f}" text-anchor="middle">{n}</text>')
    out.append(f'<text x="{left + WIDTH / 2:.1f}" y="{TOP + HEIGHT + 31:.1f}" text-anchor="middle">evaluations</text>')
    for name, values in curves.items():
        seen = values >= low
        points = [at(float(n), float(v)) for n, v in zip(marks[seen], values[seen], strict=True)]
        text = " ".join(f"{x:.1f},{y:.1f}" for x, y in points)
        out.append(f'<polyline points="{text}" {_stroke(order, name)}/>')
    return out
