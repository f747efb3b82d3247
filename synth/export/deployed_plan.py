"""The deployed plan of a candidate: panels, fold lines by the trade's line styles, joints, clear circle, dimensions."""

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import shapely
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Patch

from synth.core.arrays import Floats, unit
from synth.export.engineering import shown
from synth.export.keep_out import outline, within
from synth.export.marks import CENTRE, PHANTOM, bare, circle, dimension, scale_bar
from synth.export.shaded import TOP
from synth.export.sheet import FAINT, INK, sheet
from synth.problem.sections import KeepOut

MOUNTAIN: dict[str, Any] = {"lw": 1.5, "color": INK, "ls": (0, (7, 2, 1.2, 2))}
VALLEY: dict[str, Any] = {"lw": 1.5, "color": INK, "ls": (0, (4, 2))}
CUT: dict[str, Any] = {"lw": 0.7, "color": INK, "ls": "-"}
FACE, ROOT_FACE, BLIND = "#f7f4ea", "#e3ecf4", "#e4e4e6"
DEEP = 1e3
"""Keep-out boxes stand in the plan however deep they lie (m)."""
MOST_STAGES = 30
"""Hinges up to which the stage numbers are written beside them."""
LABEL_CLEAR = 0.055
"""A panel's name stands so far from the mount, as a share of the plan's longer side."""


def deployed_plan(record: Mapping[str, Any], diameter: float | None = None, keep_out: Sequence[KeepOut] = ()) -> Figure:
    """Seen from the receiving side. diameter: of the clear circle (m); None leaves it out."""
    figure = sheet(230, 190)
    axes = figure.add_axes((0.02, 0.03, 0.72, 0.90))
    bare(axes)
    corners = np.concatenate([np.asarray(p["outline"]) for p in record["panels"]])
    low, high = corners.min(axis=0), corners.max(axis=0)
    if diameter is not None:
        low, high = np.minimum(low, -diameter / 2), np.maximum(high, diameter / 2)
    span = float((high - low).max())
    _panels(axes, record)
    _joints(axes, record)
    _hinges(axes, record, span)
    if diameter is not None:
        circle(axes, np.zeros(2), diameter / 2, **PHANTOM)
        reach = 0.53 * diameter
        axes.plot([-reach, reach], [0, 0], **CENTRE, zorder=0.5)
        axes.plot([0, 0], [-reach, reach], **CENTRE, zorder=0.5)
        _diameter(axes, diameter)
    _dimensions(axes, corners, low, high, span)
    scale_bar(axes, np.array([low[0], low[1] - 0.19 * span]), 0.25 * span)
    axes.set_xlim(low[0] - 0.16 * span, high[0] + 0.06 * span)
    axes.set_ylim(low[1] - 0.25 * span, high[1] + 0.08 * span)
    kept = within(keep_out, np.append(low, -DEEP), np.append(high, DEEP))
    outline(axes, kept, TOP, np.zeros(2), fill=False)
    figure.text(0.03, 0.955, f"{record['id']}  {record['family']}, deployed, seen from the receiving side", fontsize=10)
    _margin(figure, record, diameter)
    return figure


def _panels(axes: Any, record: Mapping[str, Any]) -> None:
    small = len(record["panels"]) > 30
    mount = shapely.MultiPoint(_places([record["mount"]]))
    corners = np.concatenate([np.asarray(p["outline"]) for p in record["panels"]])
    clear = LABEL_CLEAR * float(np.ptp(corners, axis=0).max())
    for panel in record["panels"]:
        shape = shapely.Polygon(panel["outline"], panel.get("holes", []))
        face = ROOT_FACE if panel["id"] == 0 else (FACE if panel["receiving"] else BLIND)
        axes.fill(*np.asarray(panel["outline"]).T, facecolor=face, edgecolor=INK, lw=CUT["lw"], zorder=1)
        for hole in panel.get("holes", []):
            axes.fill(*np.asarray(hole).T, facecolor="white", edgecolor=INK, lw=CUT["lw"], zorder=1)
        for window in panel.get("windows") or []:
            axes.fill(*np.asarray(window).T, facecolor="none", edgecolor=FAINT, lw=0.5, zorder=1)
        at = _label_place(shape, mount, clear)
        name = "0\nroot" if panel["id"] == 0 else str(panel["id"])
        axes.text(*at, name, ha="center", va="center", fontsize=6 if small else 8, color=INK, zorder=6,
                  bbox={"facecolor": face, "edgecolor": "none", "pad": 0.5})  # fmt: skip
    for fitting in record["fittings"]:
        axes.fill(*np.asarray(fitting["outline"]).T, facecolor="#c2c5ca", edgecolor=FAINT, lw=0.3, zorder=2)


def _label_place(shape: shapely.Polygon, mount: shapely.MultiPoint, clear: float) -> Floats:
    """Middle of the widest part of a panel, or beside it where a mount stands there."""
    middle = np.asarray(shapely.maximum_inscribed_circle(shape).coords[0])
    steps = clear * np.array([[0.0, 0.0], [0.0, 1.0], [0.0, -1.0], [-1.0, 0.0], [1.0, 0.0]])
    for place in [middle + k * s for k in (1.0, 1.5) for s in steps]:
        point = shapely.Point(place)
        if mount.distance(point) >= 0.8 * clear and shape.contains(point.buffer(0.5 * clear)):
            return np.asarray(place)
    return middle


def _hinges(axes: Any, record: Mapping[str, Any], span: float) -> None:
    """Fold lines along the shared edges; small numbers in rings tell the stage (of the record) that moves them."""
    stage = {h: k for k, s in enumerate(record["path"]["stages"]) for h in s["hinges"]}
    for hinge in record["hinges"]:
        line = np.asarray(hinge["axis"], dtype=np.float64)[:, :2]
        style = VALLEY if hinge["stowed_angle_rad"] > 0 else MOUNTAIN
        axes.plot(*line.T, **style, zorder=4, dash_capstyle="butt")
        if len(record["hinges"]) <= MOST_STAGES and hinge["id"] in stage and len(record["path"]["stages"]) > 1:
            along = unit(line[1] - line[0])
            side = np.array([-along[1], along[0]])
            at = line.mean(axis=0) + 0.028 * span * side
            axes.text(*at, str(stage[hinge["id"]]), ha="center", va="center", fontsize=6, zorder=7,
                      bbox={"boxstyle": "circle,pad=0.25", "facecolor": "white", "edgecolor": FAINT,
                            "lw": 0.5})  # fmt: skip


def _places(joints: Any) -> Floats:
    places = [unit_["at"][:2] for joint in joints for unit_ in joint["units"]]
    return np.asarray(places, dtype=np.float64).reshape(-1, 2)


def _joints(axes: Any, record: Mapping[str, Any]) -> None:
    plain = {"ls": "", "color": INK, "zorder": 5}
    axes.plot(*_places(record["hinges"]).T, marker="o", ms=2.2, **plain)
    axes.plot(*_places(record["latches"]).T, marker="s", ms=4.2, mfc="white", mew=0.9, **plain)
    axes.plot(*_places([record["mount"]]).T, marker="^", ms=5.0, mfc="white", mew=0.9, **plain)


def _diameter(axes: Any, diameter: float) -> None:
    """A leader from the rim at 45 degrees."""
    rim = diameter / 2 * np.sqrt(0.5) * np.array([1.0, 1.0])
    axes.annotate(f"Ø {1e3 * diameter:.0f} clear", xy=tuple(rim), xytext=tuple(1.13 * rim), fontsize=7.5, ha="left",
                  va="bottom", arrowprops={"arrowstyle": "-|>", "lw": 0.5, "color": INK, "mutation_scale": 7,
                                           "shrinkA": 0, "shrinkB": 0})  # fmt: skip


def _dimensions(axes: Any, corners: Floats, low: Floats, high: Floats, span: float) -> None:
    """Overall sides of the deployed panels."""
    p, q = corners.min(axis=0), corners.max(axis=0)
    below, left = low[1] - 0.09 * span - p[1], low[0] - 0.09 * span - p[0]
    dimension(
        axes, np.array([p[0], p[1]]), np.array([q[0], p[1]]), np.array([0.0, below]), f"{1e3 * (q[0] - p[0]):.1f}"
    )
    dimension(axes, np.array([p[0], p[1]]), np.array([p[0], q[1]]), np.array([left, 0.0]), f"{1e3 * (q[1] - p[1]):.1f}")


def _margin(figure: Figure, record: Mapping[str, Any], diameter: float | None) -> None:
    """Legend of line styles and the main figures, to the right of the plan."""
    lines: list[Any] = [
        Line2D([], [], **CUT, label="cut edge"),
        Line2D([], [], **VALLEY, label="valley fold"),
        Line2D([], [], **MOUNTAIN, label="mountain fold"),
    ]
    if diameter is not None:
        lines.append(Line2D([], [], **PHANTOM, label="clear aperture"))
    lines.append(Line2D([], [], ls="", marker="o", ms=2.2, color=INK, label="hinge unit"))
    if record["latches"]:
        lines.append(Line2D([], [], ls="", marker="s", ms=4.2, mfc="white", color=INK, label="latch"))
    lines.append(Line2D([], [], ls="", marker="^", ms=5, mfc="white", color=INK, label="mount"))
    lines.append(Patch(facecolor="#c2c5ca", edgecolor=FAINT, lw=0.4, label="fitting"))
    if len(record["path"]["stages"]) > 1 and len(record["hinges"]) <= MOST_STAGES:
        lines.append(Line2D([], [], ls="", marker="o", ms=6.5, mfc="white", mec=FAINT, label="stage that moves it"))
    figure.legend(handles=lines, loc="upper left", bbox_to_anchor=(0.745, 0.93), frameon=False, handlelength=4.2,
                  labelspacing=0.75, fontsize=7.5)  # fmt: skip
    names = ("collecting_area_m2", "stowed_volume_m3", "mass_kg", "surface_rms_m", "in_plane_rms_m", "first_mode_hz")
    facts = [
        (shown(n).title, shown(n).text(record["metrics"][n]).replace("^2", "²").replace(" um", " µm"))
        for n in names
        if n in record["metrics"]
    ]
    panel = record["panels"][0]
    facts += [
        ("panels, hinges, latches", ", ".join(str(len(record[k])) for k in ("panels", "hinges", "latches"))),
        ("panel", f"{1e3 * (panel['z_front'] - panel['z_back']):.2f} mm {panel['section']}"),
        ("material", str(panel["material"])),
        ("hinge", str(record["hinges"][0]["kind"]) if record["hinges"] else "none"),
    ]
    for k, (name, value) in enumerate(facts):
        y = 0.55 - 0.046 * k
        figure.text(0.757, y, name, fontsize=7, color="#55555a")
        figure.text(0.757, y - 0.0195, value, fontsize=8)
