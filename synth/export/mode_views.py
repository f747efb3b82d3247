"""The first deployed modes drawn: outlines at rest and moved, panels shaded by how far they go."""

import textwrap
from collections.abc import Mapping
from typing import Any

import numpy as np
from matplotlib.collections import PolyCollection
from matplotlib.colors import LinearSegmentedColormap
from matplotlib.figure import Figure

from synth.export.marks import bare
from synth.export.shaded import view_from
from synth.export.sheet import FAINT, INK, sheet
from synth.export.structure_text import mode_words

REACH = 0.18
"""Greatest displacement as drawn over the span of the aperture."""
SHADES = LinearSegmentedColormap.from_list("moved", ["#f4f1e8", "#c9793b"])


def mode_views(record: Mapping[str, Any]) -> Figure:
    """A view and a sentence for each mode of the record; displacements are exaggerated to one scale."""
    modes = record.get("modes") or []
    figure = sheet(190, 20 + 78 * max(len(modes), 1))
    high = 20.0 + 78.0 * max(len(modes), 1)
    figure.text(0.03, 1.0 - 8.0 / high, f"{record['id']}  {record['family']}, deployed modes", fontsize=10)
    for k, mode in enumerate(modes):
        top = 1.0 - (16.0 + 78.0 * k) / high
        axes = figure.add_axes((0.03, top - 62.0 / high, 0.94, 60.0 / high))
        bare(axes)
        _draw(axes, record, mode)
        words = mode_words(record, mode)
        title = f"{k + 1}   {mode['frequency_hz']:.2f} Hz   "
        figure.text(0.04, top - 64.0 / high, title, fontsize=8.5, fontweight="bold", va="top")
        figure.text(0.20, top - 64.0 / high, _folded(words), fontsize=7, va="top", linespacing=1.3)
    return figure


def _folded(words: str) -> str:
    return "\n".join(textwrap.wrap(words, 112))


def _draw(axes: Any, record: Mapping[str, Any], mode: Mapping[str, Any]) -> None:
    """Outlines at rest (thin) and moved (shaded), those that lie farther from the eye first."""
    view = view_from(-58.0, 32.0)
    rest = [np.column_stack([np.asarray(p["outline"]), np.zeros(len(p["outline"]))]) for p in record["panels"]]
    span = float(np.ptp(np.concatenate(rest), axis=0).max())
    gone = [np.asarray(c, dtype=np.float64) for c in mode["corners"]]
    moved = [r + REACH * span * g for r, g in zip(rest, gone, strict=True)]
    order = sorted(range(len(rest)), key=lambda p: (float(rest[p].mean(axis=0) @ view.toward), p))
    shade = [SHADES(min(1.0, float(np.linalg.norm(gone[p], axis=1).mean()))) for p in order]
    still = PolyCollection([view.flat(r) for r in rest], facecolors="none", edgecolors=FAINT, linewidths=0.4)
    axes.add_collection(still)
    axes.add_collection(PolyCollection([view.flat(moved[p]) for p in order], facecolors=shade, edgecolors=INK,
                                       linewidths=0.6, alpha=0.9))  # fmt: skip
    points = np.concatenate([view.flat(x) for x in (*rest, *moved)])
    low, high = points.min(axis=0), points.max(axis=0)
    margin = 0.03 * float((high - low).max())
    axes.set_xlim(low[0] - margin, high[0] + margin)
    axes.set_ylim(low[1] - margin, high[1] + margin)
