"""Panels that are the same part: alike in outline, holes, thickness and in every joint that they carry."""

import math
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely

from synth.core.arrays import Floats
from synth.export.parts import Record, hinge_line, hinge_sense, sheet_thickness

ALIKE = 1e-6
"""Corners, feet and hinge lines within this (m) after a turn in plan are the same."""


@dataclass(frozen=True, eq=False)
class Feature:
    """What a joint leaves on a panel: kind, points [n, 2] in the part's own plan, a size (m)."""

    kind: str
    points: Floats
    size: float = 0.0


@dataclass(frozen=True, eq=False)
class Kind:
    """One distinct panel in its own plan: x along its longest edge, lower left corner of its box at the origin.

    name: blank letter and joint number, as "A1"; members: panel ids; deployed = turn [2, 2] @ own + shift of the first.
    windows: openings of a frame, sheet: thickness (m) of the sheet before it; none and None of other panels.
    """

    name: str
    members: tuple[int, ...]
    outline: Floats
    holes: tuple[Floats, ...]
    windows: tuple[Floats, ...]
    features: tuple[Feature, ...]
    thickness: float
    material: str
    section: str
    sheet: float | None
    turn: Floats
    shift: Floats

    @property
    def bar(self) -> float:
        """Least width (m) of a frame's bars; 0 where there is none."""
        ring = shapely.LinearRing(self.outline)
        return min((float(ring.distance(shapely.LinearRing(w))) for w in self.windows), default=0.0)


def features(record: Record, panel: int) -> list[Feature]:
    """Hinge lines by fold sense, feet of hinges, latches and mount, places of latches, in the deployed plan."""
    found = []
    for hinge in record["hinges"]:
        if panel in hinge["panels"]:
            found.append(Feature(hinge_sense(record, hinge), hinge_line(hinge)))
            found += _feet(hinge, hinge["panels"].index(panel), "hinge foot")
    for latch in record["latches"]:
        if panel in latch["panels"]:
            found += [Feature("latch", np.asarray([u["at"][:2]])) for u in latch["units"]]
            found += _feet(latch, latch["panels"].index(panel), "latch foot")
    if panel == 0:
        found += _feet(record["mount"], 0, "mount foot")
    return found


def _feet(joint: Record, side: int, kind: str) -> list[Feature]:
    return [Feature(kind, np.asarray([u["feet"][side]]), float(u["pad_radius_m"])) for u in joint["units"]]


def kinds(record: Record) -> list[Kind]:
    """Distinct panels in order of first appearance; mirror images differ, for a panel has a front."""
    blanks: list[tuple[Any, list[tuple[int, Any]]]] = []
    found: list[list[Any]] = []
    for panel in record["panels"]:
        mine = (panel, features(record, panel["id"]))
        blank = next((b for b in blanks if _turns(b[0], panel)), None)
        if blank is None:
            blank = (panel, [])
            blanks.append(blank)
        same = next((v for v in blank[1] if _same(found[v[0]][1][0], mine)), None)
        if same is None:
            name = f"{_letter(blanks.index(blank))}{len(blank[1]) + 1}"
            blank[1].append((len(found), None))
            found.append([name, [mine], [panel["id"]]])
        else:
            found[same[0]][2].append(panel["id"])
    return [_own(name, panels[0][0], panels[0][1], members) for name, panels, members in found]


def _letter(k: int) -> str:
    return chr(65 + k) if k < 26 else _letter(k // 26 - 1) + chr(65 + k % 26)


def _corners(panel: Record) -> Floats:
    return np.asarray(panel["outline"], dtype=np.float64)


def _turns(one: Record, other: Record) -> list[tuple[Floats, Floats]]:
    """Every turn and shift in plan that lays the one outline, with its holes, on the other."""
    a, b = _corners(one), _corners(other)
    plain = all(abs(one[k] - other[k]) < ALIKE for k in ("z_back", "z_front"))
    plain = plain and (one["material"], one["section"]) == (other["material"], other["section"])
    if not plain or len(a) != len(b):
        return []
    found = []
    for first in range(len(b)):
        c = np.roll(b, -first, axis=0)
        turn = _rotation(a - a.mean(axis=0), c - c.mean(axis=0))
        shift = c.mean(axis=0) - turn @ a.mean(axis=0)
        if np.abs(a @ turn.T + shift - c).max() < ALIKE and all(
            _rings_meet(one, other, name, turn, shift) for name in ("holes", "windows")
        ):
            found.append((turn, shift))
    return found


def _rings_meet(one: Record, other: Record, name: str, turn: Floats, shift: Floats) -> bool:
    """Whether the holes or windows of one, turned and shifted, are those of the other."""
    moved, there = [np.asarray(h) @ turn.T + shift for h in one.get(name) or []], other.get(name) or []
    return len(moved) == len(there) and all(any(_close(h, np.asarray(g)) for g in there) for h in moved)


def _rotation(a: Floats, b: Floats) -> Floats:
    """The turn [2, 2] that lays points a [n, 2] best on b (both about their means)."""
    angle = math.atan2(float((a[:, 0] * b[:, 1] - a[:, 1] * b[:, 0]).sum()), float((a * b).sum()))
    return np.array([[math.cos(angle), -math.sin(angle)], [math.sin(angle), math.cos(angle)]])


def _close(a: Floats, b: Floats) -> bool:
    """The same points in any order."""
    if len(a) != len(b):
        return False
    apart = np.linalg.norm(a[:, None] - b[None], axis=-1)
    return bool(apart.min(axis=1).max() < ALIKE and apart.min(axis=0).max() < ALIKE)


def _same(one: tuple[Record, list[Feature]], other: tuple[Record, list[Feature]]) -> bool:
    for turn, shift in _turns(one[0], other[0]):
        moved = [Feature(f.kind, f.points @ turn.T + shift, f.size) for f in one[1]]
        left = list(other[1])
        for f in moved:
            match = next((g for g in left if g.kind == f.kind and _close(f.points, g.points)
                          and abs(f.size - g.size) < ALIKE), None)  # fmt: skip
            if match is None:
                break
            left.remove(match)
        else:
            if not left:
                return True
    return False


def _own(name: str, panel: Record, joints: list[Feature], members: list[int]) -> Kind:
    corners = _corners(panel)
    edge = np.roll(corners, -1, axis=0) - corners
    longest = edge[int(np.argmax(np.round(np.linalg.norm(edge, axis=1), 9)))]
    c, s = longest / np.linalg.norm(longest)
    back = np.array([[c, s], [-s, c]])
    low = (corners @ back.T).min(axis=0)

    def own(points: Any) -> Floats:
        return np.asarray(np.asarray(points, dtype=np.float64) @ back.T - low)

    return Kind(
        name=name, members=tuple(members), outline=own(corners), holes=tuple(own(h) for h in panel.get("holes", [])),
        windows=tuple(own(w) for w in panel.get("windows") or []), sheet=sheet_thickness(panel),
        features=tuple(Feature(f.kind, own(f.points), f.size) for f in joints),
        thickness=float(panel["z_front"] - panel["z_back"]), material=panel["material"], section=panel["section"],
        turn=back.T, shift=back.T @ low,
    )  # fmt: skip
