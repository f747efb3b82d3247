"""Six steps of the deployment, one scale and one view."""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
from matplotlib.figure import Figure

from synth.export.keep_out import named, near, solid
from synth.export.marks import bare, scale_bar
from synth.export.shaded import BACK, FITTING, RECEIVING, ROOT_BACK, bodies, draw, view_from
from synth.export.sheet import FAINT, INK, sheet
from synth.problem.sections import KeepOut

STEPS = 6


def motion_steps(record: Mapping[str, Any], keep_out: Sequence[KeepOut] = ()) -> Figure:
    """Frames nearest to s = 0, 0.2, ... 1 from the same corner; the root panel stands still and has bold edges."""
    from matplotlib.patches import Patch

    path = record["path"]
    s = np.asarray(path["s"], dtype=np.float64)
    chosen = [int(np.abs(s - k / (STEPS - 1)).argmin()) for k in range(STEPS)]
    view = view_from(-58.0, 32.0)
    scenes = [bodies(record, np.asarray(path["poses"][k], dtype=np.float64)) for k in chosen]
    points = np.concatenate([b.points for scene in scenes for b in scene])
    kept = near(keep_out, points)
    scenes = [[*scene, *map(solid, kept)] for scene in scenes]
    spread = np.concatenate([view.flat(b.points) for scene in scenes for b in scene])
    low, high = spread.min(axis=0), spread.max(axis=0)
    span = float((high - low).max())
    figure = sheet(270, 190)
    for n, (k, scene) in enumerate(zip(chosen, scenes, strict=True)):
        row, column = divmod(n, 3)
        axes = figure.add_axes((0.01 + 0.33 * column, 0.50 - 0.43 * row, 0.32, 0.40))
        bare(axes)
        draw(axes, scene, view, line=0.35)
        for box in kept:
            named(axes, box, box.face(view), 6.0, below=True)
        margin = 0.03 * span
        axes.set_xlim(low[0] - margin, high[0] + margin)
        axes.set_ylim(low[1] - 0.10 * span, high[1] + 0.12 * span)
        moving = [i for i, t in enumerate(path["stages"]) if t["s"][0] - 1e-9 <= s[k] < t["s"][1] - 1e-9]
        now = "deployed" if s[k] >= 1.0 - 1e-9 else ("stowed" if s[k] <= 1e-9 else _stage(moving, len(path["stages"])))
        axes.text(0.02, 0.97, f"{n + 1}", transform=axes.transAxes, fontsize=9, va="top", color=INK,
                  bbox={"boxstyle": "circle,pad=0.25", "facecolor": "white", "edgecolor": INK, "lw": 0.6})  # fmt: skip
        axes.text(0.11, 0.965, f"s = {s[k]:.2f}  {now}", transform=axes.transAxes, fontsize=7.5, va="top")
        if n == STEPS - 1:
            scale_bar(axes, np.array([low[0], low[1] - 0.055 * span]), 0.2 * span)
    figure.text(0.02, 0.955, f"{record['id']}  {record['family']}, deployment", fontsize=10)
    tones = [(RECEIVING, "receiving face"), (BACK, "back"), (ROOT_BACK, "back of the root (bold edges)"),
             (FITTING, "fitting")]  # fmt: skip
    figure.legend(handles=[Patch(facecolor=c, edgecolor=FAINT, lw=0.4, label=t) for c, t in tones], ncols=4,
                  loc="upper right", bbox_to_anchor=(0.985, 0.985), frameon=False, fontsize=7.5)  # fmt: skip
    return figure


def _stage(moving: list[int], count: int) -> str:
    return f"stage {', '.join(str(m) for m in moving)} ({count} in all)" if moving and count > 1 else ""
