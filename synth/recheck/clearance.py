"""Whether solids ever meet: at every frame and at stations between them no farther apart than a panel's thickness."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from synth.recheck.asked import Asked
from synth.recheck.finding import Notes
from synth.recheck.motion import between, carried, relative, tree_order
from synth.recheck.solid import Array, Separation, Solids, convex_pieces, distance, polygon, solids_of

MEETS = 1e-6
"""Solids that share less than this (m) only touch: what rounding of the record can do to either of them."""
BLOCK = 24
"""Stations whose corners are held at once."""
POSED = 1e-7
"""Frames against the poses that the tree of hinges gives (m)."""


def record_solids(record: Mapping[str, Any], keep_outs: Any = ()) -> Solids:
    """Convex pieces of panels and fittings, then keep-out boxes, which move with a panel numbered one past the last."""
    pieces: list[tuple[Array, float, float, int, str | None, str]] = []
    for panel in record["panels"]:
        for part in convex_pieces(polygon(panel["outline"], panel.get("holes", []))):
            pieces.append((part, panel["z_back"], panel["z_front"], panel["id"], None, f"panel {panel['id']}"))
    for k, fit in enumerate(record["fittings"]):
        for part in convex_pieces(polygon(fit["outline"])):
            pieces.append((part, fit["z_back"], fit["z_front"], fit["panel"], fit["joint"], f"fitting {k}"))
    for name, low, high in keep_outs:
        box = np.array([[low[0], low[1]], [high[0], low[1]], [high[0], high[1]], [low[0], high[1]]])
        pieces.append((box, low[2], high[2], len(record["panels"]), None, f"keep-out {name}"))
    return solids_of(pieces)


def pairs_to_test(record: Mapping[str, Any], solids: Solids) -> tuple[Any, Any]:
    """Indices (a, b) of all pairs that may never meet: of different panels, less those that the contract excuses."""
    count = len(record["panels"])
    of_joint = {f"{kind} {j['id']}": set(j["panels"]) for kind, key in (("hinge", "hinges"), ("latch", "latches"))
                for j in record[key]}  # fmt: skip
    labels = {name: n for n, name in enumerate(of_joint)}
    joint = np.array([-1 if name is None else labels[name] for name in solids.joint], dtype=np.int64)
    belongs = np.zeros((len(of_joint) + 1, count + 1), dtype=bool)
    for name, panels in of_joint.items():
        belongs[labels[name], list(panels)] = True
    fitting = np.array([name.startswith("fitting") for name in solids.name])
    a, b = np.triu_indices(len(solids.panel), 1)
    excused = (joint[a] >= 0) & (joint[a] == joint[b])
    for x, y in ((a, b), (b, a)):
        excused |= fitting[x] & ~fitting[y] & belongs[joint[x], solids.panel[y]]
    # the root's own solids must keep clear of keep-outs too: these count as a panel of their own
    keep = (solids.panel[a] != solids.panel[b]) & ~excused
    return a[keep], b[keep]


class Sweep:
    """Follows all pairs along the path.

    After a pair was found d apart it cannot meet before its two solids have moved d together, so it is left
    alone until then; pairs whose panels move as one body are left alone altogether.
    """

    def __init__(self, record: Mapping[str, Any], solids: Solids) -> None:
        self.record, self.solids = record, solids
        self.apart = Separation(solids)
        self.a, self.b = pairs_to_test(record, solids)
        self.left = np.zeros(len(self.a))
        self.meets: dict[int, tuple[float, float]] = {}
        self.stations = 0

    def station(self, s: float, poses: Array, low: Array, high: Array, due: Any) -> Array:
        """Tests the pairs `due` at one station; poses [P + 1, 3, 4], boxes low, high [N, 3]. Returns how far apart."""
        a, b = self.a[due], self.b[due]
        gap = np.maximum(np.maximum(low[b] - high[a], low[a] - high[b]), 0.0)
        clear = np.linalg.norm(gap, axis=-1)
        near = np.flatnonzero(clear <= 2e-4)
        for part in np.array_split(near, max(1, len(near) // 4000)):
            pa, pb = self.solids.panel[a[part]], self.solids.panel[b[part]]
            sat = self.apart(a[part], b[part], relative(poses[pa], poses[pb]))
            for k in np.flatnonzero(sat < -MEETS):
                self.meets.setdefault(int(due[part[k]]), (s, float(-sat[k])))
            clear[part] = np.maximum(clear[part], sat)
        return np.asarray(clear)

    def along(self, s: Array, poses: Array) -> None:
        """A block of stations: s [n], poses [n, P + 1, 3, 4], the first one already tested."""
        corners = np.stack([_placed(self.solids, p, self.apart.corners) for p in poses])
        low, high = corners.min(axis=2), corners.max(axis=2)
        moved = np.linalg.norm(np.diff(corners, axis=0), axis=-1).max(axis=2)
        moved = np.concatenate([np.zeros((1, moved.shape[1])), np.cumsum(moved, axis=0)])
        one = _bodies(poses[0], poses[-1], self.solids.panel)
        free = one[self.a] != one[self.b]
        total = np.where(free, moved[-1, self.a] + moved[-1, self.b], 0.0)
        live = np.flatnonzero(free & (self.left <= total))
        left = self.left[live]
        for n in range(1, len(s)):
            spent = moved[n, self.a[live]] + moved[n, self.b[live]]
            due = np.flatnonzero(left <= spent)
            if len(due):
                left[due] = spent[due] + np.maximum(self.station(s[n], poses[n], low[n], high[n], live[due]), 0.0)
        self.left -= total
        self.left[live] = left - total[live]
        self.left[list(self.meets)] = np.inf
        self.stations += len(s) - 1


def _placed(solids: Solids, poses: Array, corners: Array) -> Array:
    pose = poses[solids.panel]
    return np.asarray(corners @ pose[:, :, :3].transpose(0, 2, 1) + pose[:, None, :, 3])


def _bodies(first: Array, last: Array, panel: Any) -> Any:
    """A number for each solid, the same where panels keep their places to each other between two stations."""
    step = np.concatenate([last[:, :, :3] @ first[:, :, :3].transpose(0, 2, 1), np.zeros((len(first), 3, 1))], axis=2)
    step[:, :, 3] = last[:, :, 3] - (step[:, :, :3] @ first[:, :, 3:])[..., 0]
    _, number = np.unique(np.round(step.reshape(len(step), -1), 9), axis=0, return_inverse=True)
    return number.reshape(-1)[panel]


def check_clearance(record: Mapping[str, Any], asked: Asked | None, notes: Notes) -> None:
    """Interference of all solids along the whole path, keep-outs included; frames against the tree of hinges."""
    solids = record_solids(record, asked.keep_outs if asked else ())
    order = tree_order(record)
    if len(order) < len(record["panels"]) - 1:
        notes.add("tree", "panels joined to the root by hinges", len(record["panels"]), len(order) + 1)
        return
    thickness = min(p["z_front"] - p["z_back"] for p in record["panels"])
    sweep = Sweep(record, solids)
    written = np.asarray(record["path"]["poses"], dtype=np.float64)
    stations = np.asarray(record["path"]["s"], dtype=np.float64)
    start = _with_keep_out(written[:1])
    corners = _placed(solids, start[0], sweep.apart.corners)
    first = np.arange(len(sweep.a))
    sweep.left = np.maximum(sweep.station(0.0, start[0], corners.min(axis=1), corners.max(axis=1), first), 0.0)
    sweep.left[list(sweep.meets)] = np.inf
    _stowed_gaps(record, solids, start[0], sweep, asked, notes)
    for k in range(len(stations) - 1):
        rough = _with_keep_out(between(record, order, k, np.linspace(0.0, 1.0, 9)))
        off = float(np.abs(rough[-1, :-1] - written[k + 1]).max())
        if off > POSED:
            notes.near("poses", f"frame {k + 1} against the tree of hinges", 0.0, off, POSED)
            return
        step = max(_step(rough[n], rough[n + 1], solids, sweep.apart.corners) for n in range(8))
        count = max(1, int(np.ceil(8.0 * step * 1.01 / thickness)))
        shares = np.arange(count + 1) / count
        for low in range(0, count, BLOCK):
            part = shares[low : low + BLOCK + 1]
            sweep.along(stations[k] + part * (stations[k + 1] - stations[k]),
                        _with_keep_out(between(record, order, k, part)))  # fmt: skip
    for pair, (s, depth) in sorted(sweep.meets.items()):
        told = f"{solids.name[sweep.a[pair]]} and {solids.name[sweep.b[pair]]} at s {s:.6g}"
        notes.add("interference", told, "apart", f"share {depth:.3g} m", MEETS)


def _step(first: Array, second: Array, solids: Solids, corners: Array) -> float:
    apart = _placed(solids, second, corners) - _placed(solids, first, corners)
    return float(np.linalg.norm(apart, axis=-1).max())


def _with_keep_out(poses: Array) -> Array:
    """Poses with one that never moves behind the last panel."""
    still = np.broadcast_to(np.eye(3, 4), (len(poses), 1, 3, 4))
    return np.concatenate([poses, still], axis=1)


def _stowed_gaps(
    record: Mapping[str, Any], solids: Solids, poses: Array, sweep: Sweep, asked: Asked | None, notes: Notes
) -> None:
    """The panel gap, stowed: between panels that no hinge joins and between the two of a half-turn hinge."""
    gap = asked.panel_gap if asked else 0.0
    if gap <= 0.0:
        return
    exempt = {tuple(sorted(h["panels"])) for h in record["hinges"] if abs(abs(h["stowed_angle_rad"]) - np.pi) > 1e-6}
    panels = np.array([name.startswith("panel") for name in solids.name])
    worst: dict[tuple[int, int], float] = {}
    for k in np.flatnonzero(panels[sweep.a] & panels[sweep.b] & (sweep.left < gap - MEETS)):
        a, b = sweep.a[k], sweep.b[k]
        i, j = sorted((int(solids.panel[a]), int(solids.panel[b])))
        if (i, j) in exempt:
            continue
        first, second = (carried(poses[solids.panel[x]], sweep.apart.corners[x]) for x in (a, b))
        worst[i, j] = min(worst.get((i, j), np.inf), distance(first, second))
    for (i, j), found in sorted(worst.items()):
        notes.true(found >= gap - MEETS, "panel gap", f"panels {i} and {j} stowed", f"at least {gap:.6g}", found, MEETS)
