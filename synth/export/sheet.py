"""Drawing sheets: the one place that knows matplotlib's figures and files. Equal content gives equal bytes."""

import io
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import matplotlib
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure

from synth.fronts.store import replace_file

INK = "#1d1d1f"
FAINT = "#8a8a8e"
_STYLE: Any = {
    "font.family": "DejaVu Sans",
    "font.size": 8.0,
    "axes.edgecolor": INK,
    "axes.labelcolor": INK,
    "axes.linewidth": 0.6,
    "text.color": INK,
    "xtick.color": INK,
    "ytick.color": INK,
    "xtick.major.width": 0.6,
    "ytick.major.width": 0.6,
    "svg.hashsalt": "stowfront",
    "svg.fonttype": "path",
    "lines.scale_dashes": True,
    "path.simplify": False,
}
_METADATA: dict[str, dict[str, Any]] = {
    "svg": {"Date": None, "Creator": None},
    "png": {"Software": None},
}


@contextmanager
def drawing() -> Iterator[None]:
    """The house style for everything drawn and saved inside, whatever the user's own settings are."""
    with matplotlib.rc_context():
        matplotlib.rcdefaults()
        matplotlib.rcParams.update(_STYLE)
        yield


def sheet(width: float, height: float) -> Figure:
    """An empty white figure, sides in millimetres."""
    return Figure(figsize=(width / 25.4, height / 25.4), dpi=160, facecolor="white")


def save(figure: Figure, path: Path, kinds: tuple[str, ...] = ("svg", "png")) -> list[Path]:
    """Writes path.svg and path.png (without a date, so that equal pictures are equal files); returns the paths."""
    path.parent.mkdir(parents=True, exist_ok=True)
    written = []
    for kind in kinds:
        canvas: Any = FigureCanvasSVG(figure) if kind == "svg" else FigureCanvasAgg(figure)
        target, drawn = path.with_name(f"{path.name}.{kind}"), io.BytesIO()
        getattr(canvas, f"print_{kind}")(drawn, metadata=_METADATA[kind])
        replace_file(target, drawn.getvalue())
        written.append(target)
    return written


def save_pdf(figures: Iterable[Figure], path: Path, title: str) -> Path:
    """Writes a page a figure, without a date; returns the path."""
    from matplotlib.backends.backend_pdf import PdfPages

    drawn = io.BytesIO()
    about = {"Title": title, "CreationDate": None, "Creator": "stowfront", "Producer": None}
    with PdfPages(drawn, metadata=about) as pages:
        for figure in figures:
            pages.savefig(figure)
    replace_file(path, drawn.getvalue())
    return path
