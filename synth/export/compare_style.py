"""Colours, marks and helpers that all pictures of a comparison share; told apart with common colour vision, and in grey
by line and mark."""

import io
import re
from collections.abc import Mapping, Sequence
from typing import Any

import matplotlib
import numpy as np
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure
from matplotlib.lines import Line2D

from synth.core.arrays import Floats
from synth.export.engineering import shown
from synth.export.front_svg import family_marks

Document = Mapping[str, Any]
_COLOURS = ("#0072b2", "#d55e00", "#009e73", "#cc79a7", "#e69f00", "#56b4e9")
_LINES = ("-", (0, (5, 1.6)), (0, (1.2, 1.2)), (0, (5, 1.4, 1.2, 1.4)), (0, (8, 2)), (0, (3, 1, 1, 1, 1, 1)))
GRID = "#dddddf"
WIDTH = 178.0
"""mm: the printed width of A4 between its margins."""
_DECADE = 12.0


def entry_styles(labels: Sequence[str]) -> dict[str, tuple[str, Any]]:
    """Colour and line of each entry: distinct ones for a few, a ramp from light to dark for a sweep of many."""
    if len(labels) <= len(_COLOURS):
        return {name: (_COLOURS[k], _LINES[k]) for k, name in enumerate(labels)}
    ramp = matplotlib.colormaps["cividis"]
    shades = [matplotlib.colors.to_hex(ramp(v)) for v in np.linspace(0.92, 0.0, len(labels))]
    return {name: (shades[k], _LINES[k % 3]) for k, name in enumerate(labels)}


def family_styles(document: Document) -> dict[str, tuple[str, str]]:
    """Mark and colour of each family that has a row."""
    return family_marks(sorted({r["family"] for r in document["rows"]}))


def title(metric: str) -> str:
    """Axis title with unit, one line."""
    text = shown(metric).heading.replace("\n", " ")
    return text.replace("^2", "²").replace("[um]", "[µm]").replace("[urad]", "[µrad]")


def values(rows: Sequence[Mapping[str, Any]], metric: str) -> Floats:
    """Values of rows of the document as they are shown."""
    return np.array([r["metrics"][metric] for r in rows], dtype=np.float64) * shown(metric).scale


def steps(x: Floats, y: Floats, signs: tuple[int, int]) -> tuple[Floats, Floats]:
    """Attained edge of points, to be drawn with steps-post: least y for each x, both minimised after the signs."""
    a, b = x * signs[0], y * signs[1]
    order = np.lexsort((b, a))
    keep = b[order] < np.concatenate([[np.inf], np.minimum.accumulate(b[order])[:-1]])
    chosen = order[keep]
    return x[chosen], y[chosen]


def plain(axes: Any) -> None:
    """Light grid, no box."""
    axes.grid(True, lw=0.3, color=GRID)
    axes.set_axisbelow(True)
    axes.spines[["top", "right"]].set_visible(False)
    axes.tick_params(labelsize=7)


def scale(axes: Any, which: str, data: Floats) -> None:
    """A logarithmic axis with plain numbers where the values span more than a decade or so."""
    from matplotlib.ticker import FuncFormatter, LogLocator, MaxNLocator, NullFormatter

    axis = axes.xaxis if which == "x" else axes.yaxis
    if not len(data) or data.min() <= 0.0 or data.max() <= _DECADE * data.min():
        axis.set_major_locator(MaxNLocator(nbins=6))
        return
    (axes.set_xscale if which == "x" else axes.set_yscale)("log")
    axis.set_major_locator(LogLocator(subs=(1.0, 2.0, 5.0)))
    axis.set_major_formatter(FuncFormatter(lambda v, _: f"{v:g}"))
    axis.set_minor_formatter(NullFormatter())


def legend(figure: Figure, handles: Sequence[Line2D], height: float, columns: int) -> None:
    """A legend along the top edge."""
    figure.legend(handles=list(handles), loc="upper left", ncols=columns, frameon=False, fontsize=7.5,
                  bbox_to_anchor=(0.0, 1.0 - 0.5 / height), handlelength=2.6, columnspacing=1.4)  # fmt: skip


def svg_text(figure: Figure, name: str) -> str:
    """The picture as an svg element whose ids begin with the name, so that several can stand in one page."""
    out = io.StringIO()
    canvas: Any = FigureCanvasSVG(figure)
    canvas.print_svg(out, metadata={"Date": None, "Creator": None, "Format": None, "Type": None})
    text = out.getvalue()
    text = text[text.index("<svg") :]
    text = re.sub(r'\bid="', f'id="{name}-', text)
    text = re.sub(r'(xlink:href|href)="#', rf'\1="#{name}-', text)
    text = re.sub(r"url\(#", f"url(#{name}-", text)
    text = re.sub(r"<metadata>.*?</metadata>", "", text, flags=re.DOTALL)
    return re.sub(r'<svg ([^>]*?)width="[^"]*"', r"<svg \1", re.sub(r' height="[^"]*pt"', "", text, count=1), count=1)
