"""Small records made by hand for the exporters: strips, strips with a hole and with slack, a closed vertex."""

import copy
from typing import Any

import numpy as np
import shapely
from scipy.optimize import fsolve

from tests.recheck.accordion import FRAMES, accordion, unit

SECTORS = np.radians([60.0, 80.0, 120.0, 100.0])
"""Sector angles of the vertex. Opposite ones add up to half a turn, so that it folds flat."""


def strips() -> dict[str, Any]:
    """Three strips, a valley and a mountain."""
    return accordion()


def with_hole() -> dict[str, Any]:
    """Three strips, the middle one with a triangular hole off its centre."""
    record = accordion()
    record["panels"][1]["holes"] = [[[0.02, 0.05], [0.06, 0.05], [0.03, 0.17]]]
    return record


SHEET, BAR = 0.5e-3, 0.02
"""Sheet thickness and width of the bars of framed strips, m."""


def framed() -> dict[str, Any]:
    """Three strips, each a thin sheet before a frame of bars 20 mm wide."""
    record = copy.deepcopy(accordion())
    for panel in record["panels"]:
        (x0, y0), (x1, y1) = panel["outline"][0], panel["outline"][2]
        window = [[x0 + BAR, y0 + BAR], [x1 - BAR, y0 + BAR], [x1 - BAR, y1 - BAR], [x0 + BAR, y1 - BAR]]
        panel.update(section="framed", windows=[window], sheet_thickness_m=SHEET)
    return record


def notched() -> dict[str, Any]:
    """Three strips, two notches in the middle one, at its ends and unlike each other."""
    record = copy.deepcopy(accordion())
    (x0, y0), (x1, y1) = record["panels"][1]["outline"][0], record["panels"][1]["outline"][2]
    record["panels"][1]["outline"] = [
        [x0, y0], [-0.03, y0], [-0.03, y0 + 0.02], [0.01, y0 + 0.02], [0.01, y0], [x1, y0],
        [x1, y1], [0.05, y1], [0.05, y1 - 0.03], [0.02, y1 - 0.03], [0.02, y1], [x0, y1],
    ]  # fmt: skip
    return record


def with_slack() -> dict[str, Any]:
    """Three strips; the last hinge is slack: its outer leaf also drifts along the edge and tilts on the way."""
    record = copy.deepcopy(accordion())
    poses = np.array(record["path"]["poses"])
    for k, s in enumerate(record["path"]["s"]):
        tilt, shift = 2e-3 * np.sin(np.pi * s), 1e-3 * np.sin(np.pi * s)
        c, i = np.cos(tilt), np.sin(tilt)
        extra = np.array([[1.0, 0.0, 0.0], [0.0, c, -i], [0.0, i, c]])
        poses[k, 2, :, :3] = poses[k, 2, :, :3] @ extra
        poses[k, 2, 1, 3] += shift
    record["path"]["poses"] = poses.tolist()
    record["hinges"][1]["slack_m"] = 3e-3
    return record


def _turn(along: Any, angle: float) -> Any:
    x, y, z = along
    k = np.array([[0.0, -z, y], [z, 0.0, -x], [-y, x, 0.0]])
    return np.eye(3) + np.sin(angle) * k + (1.0 - np.cos(angle)) * (k @ k)


def vertex_angles(count: int) -> Any:
    """[count, 4] fold angles of the closed vertex, from folded to flat; hinge 0 drives from 2 rad.

    Closure: the turns about the four rays, one after the other, make no turn at all. Solved anew at every frame.
    """
    rays = np.concatenate([[0.0], np.cumsum(SECTORS)[:-1]])
    lines = np.column_stack([np.cos(rays), np.sin(rays), np.zeros(4)])

    def gap(rest: Any, first: float) -> Any:
        whole = np.eye(3)
        for along, angle in zip(lines, [first, *rest], strict=True):
            whole = whole @ _turn(along, angle)
        return whole[[0, 0, 1], [1, 2, 2]]

    def solved(first: float, guess: Any) -> Any:
        rest, _, _, _ = fsolve(gap, guess, args=(first,), xtol=1e-14, full_output=True)
        return rest if np.abs(gap(rest, first)).max() < 1e-13 else None

    # near flat two branches meet: take the one where the ray across from the driver folds the same way
    rest = next(r for m in (0.3, 0.6, 1.0, 2.0) for sign in (1.0, -1.0)
                if (r := solved(0.1, [sign * 0.1 * m, 0.1, -sign * 0.1 * m])) is not None
                and np.abs(r).max() < 0.6 and r[1] > 0.05)  # fmt: skip
    ways = np.linspace(0.0, 2.0, count)
    found = {0.0: np.zeros(4)}
    at = 0.1
    for first in ways[1:]:
        for step in np.linspace(at, first, 6)[1:]:
            rest = solved(step, rest)
        at = first
        found[first] = np.array([first, *rest])
    found = [found[first] for first in ways[::-1]]
    return np.array(found)


def vertex(frames: int = 21) -> dict[str, Any]:
    """Four kites about the origin, four hinges in the plane z = 0 that close one loop. Stowed is half folded."""
    record = copy.deepcopy(accordion())
    rays = np.concatenate([[0.0], np.cumsum(SECTORS)])
    angle = vertex_angles(frames)
    panels, hinges = [], []
    for p in range(4):
        a, b = rays[p], rays[p + 1]
        corners = [(0.0, 0.0)] + [(r * np.cos(t), r * np.sin(t)) for r, t in ((0.2, a), (0.22, (a + b) / 2), (0.2, b))]
        # set back from the rays so that backs stay clear of each other where they fold towards each other
        face = shapely.orient_polygons(shapely.Polygon(corners).buffer(-0.004, join_style="mitre"))
        outline = [list(c) for c in face.exterior.coords[:-1]]
        panels.append({**record["panels"][0], "id": p, "outline": outline, "mass_kg": 0.2 + 0.05 * p})
    # ray k + 1 lies between panels k and k + 1; the last one closes the loop from panel 3 to panel 0 on ray 0
    order = [1, 2, 3, 0]
    for h, ray in enumerate(order):
        along = np.array([np.cos(rays[ray]), np.sin(rays[ray]), 0.0])
        ends = [(0.01 * along).tolist(), (0.19 * along).tolist()]
        middle = 0.1 * along
        hinges.append({
            **record["hinges"][0], "id": h, "panels": [h, (h + 1) % 4], "axis": ends,
            "stowed_angle_rad": float(angle[0, ray]),
            "units": [unit(middle[0], 0.0, 20.0, 1e-4, [_inside(panels[p]) for p in (h, (h + 1) % 4)])],
        })  # fmt: skip
        hinges[-1]["units"][0]["at"] = middle.tolist()
    poses = np.tile(np.eye(3, 4), (frames, 4, 1, 1))
    for k in range(frames):
        for p in (1, 2, 3):
            ray = np.array([np.cos(rays[p]), np.sin(rays[p]), 0.0])
            poses[k, p, :, :3] = poses[k, p - 1, :, :3] @ _turn(ray, angle[k, p])
    record.update(id="bay-vertex", family="vertex", panels=panels, hinges=hinges, fittings=[], drives=[])
    record["path"] = {
        "s": np.linspace(0.0, 1.0, frames).tolist(),
        "poses": poses.tolist(),
        "angles": angle[:, order].tolist(),
        "stages": [{"hinges": [0, 1, 2, 3], "s": [0.0, 1.0]}],
    }
    mount = record["mount"]
    mount["units"][0].update(at=[0.05, 0.05, -0.004], feet=[_inside(panels[0])])
    basic = sum(p["mass_kg"] for p in panels) + 4 * hinges[0]["mass_kg"] + mount["mass_kg"]
    record["metrics"].update(basic_mass_kg=basic, mass_kg=1.2 * basic)
    return record


def _inside(panel: dict[str, Any]) -> list[float]:
    middle: list[float] = np.mean(panel["outline"], axis=0).tolist()
    return middle


RECORDS = {"strips": strips, "hole": with_hole, "slack": with_slack, "vertex": vertex, "framed": framed,
           "notched": notched}  # fmt: skip
assert FRAMES <= 200
