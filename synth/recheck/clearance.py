"""Whether solids ever meet: at every frame and at stations between them no farther apart than a panel's thickness."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from synth.recheck.asked import Asked
from synth.recheck.finding import Notes
from synth.recheck.least import check_least
from synth.recheck.motion import ATTACHED, between, carried, parted, relative, tree_order
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

    After a pair was found d apart it cannot meet before its two panels have moved d together, so it is left
    alone until then; pairs whose panels move as one body are left alone altogether.
    """

    def __init__(self, record: Mapping[str, Any], solids: Solids) -> None:
        self.solids = solids
        self.apart = Separation(solids)
        self.a, self.b = pairs_to_test(record, solids)
        self.left = np.zeros(len(self.a))
        self.meets: dict[int, tuple[float, float]] = {}
        low, high = self.apart.corners.min(axis=1), self.apart.corners.max(axis=1)
        self.middle, self.half = (low + high) / 2.0, (high - low) / 2.0
        # eight corners of a box round all that a panel carries: nothing of it moves farther than the farthest of them
        reach = np.zeros((2, len(record["panels"]) + 1, 3))
        reach[0], reach[1] = np.inf, -np.inf
        np.minimum.at(reach[0], solids.panel, low)
        np.maximum.at(reach[1], solids.panel, high)
        reach = np.where(np.isfinite(reach), reach, 0.0)
        pick = np.array([[i, j, k] for i in (0, 1) for j in (0, 1) for k in (0, 1)])
        self.box = np.stack([reach[pick[:, d], :, d].T for d in range(3)], axis=-1)

    def placed(self, poses: Array) -> Array:
        """Corners [..., P + 1, 8, 3] of the boxes round the panels at poses [..., P + 1, 3, 4]."""
        return np.asarray(self.box @ np.swapaxes(poses[..., :3], -1, -2) + poses[..., None, :, 3])

    def station(self, s: float, poses: Array, due: Any) -> Array:
        """Tests the pairs `due` at one station, poses [P + 1, 3, 4]. Returns how far apart they are at least."""
        a, b = self.a[due], self.b[due]
        across = relative(poses[self.solids.panel[a]], poses[self.solids.panel[b]])
        clear = self._boxes(a, b, across)
        near = np.flatnonzero(clear <= 2e-4)
        for part in (near[k : k + 4000] for k in range(0, len(near), 4000)):
            sat = self.apart(a[part], b[part], across[part])
            for k in np.flatnonzero(sat < -MEETS):
                self.meets.setdefault(int(due[part[k]]), (s, float(-sat[k])))
            clear[part] = np.maximum(clear[part], sat)
        return np.maximum(clear, 0.0)

    def _boxes(self, a: Any, b: Any, across: Array) -> Array:
        """Lower bounds of distances from the boxes round the solids, along the axes of both panels."""
        turn = across[:, :, :3]
        size = np.abs(turn)
        away = (turn @ self.middle[b][..., None])[..., 0] + across[:, :, 3] - self.middle[a]
        first = np.abs(away) - self.half[a] - (size @ self.half[b][..., None])[..., 0]
        second = np.abs((away[:, None] @ turn)[:, 0]) - self.half[b] - (self.half[a][:, None] @ size)[:, 0]
        return np.asarray(np.maximum(first, second).max(axis=1))

    def along(self, s: Array, poses: Array) -> None:
        """A block of stations: s [n], poses [n, P + 1, 3, 4], the first one already tested."""
        corners = self.placed(poses)
        moved = np.linalg.norm(np.diff(corners, axis=0), axis=-1).max(axis=2)
        moved = np.concatenate([np.zeros((1, moved.shape[1])), np.cumsum(moved, axis=0)])
        one = _bodies(poses[0], poses[-1])
        pa, pb = self.solids.panel[self.a], self.solids.panel[self.b]
        total = np.where(one[pa] != one[pb], moved[-1, pa] + moved[-1, pb], 0.0)
        live = np.flatnonzero((total > 0.0) & (self.left <= total))
        left, pa, pb = self.left[live], pa[live], pb[live]
        for n in range(1, len(s)):
            spent = moved[n, pa] + moved[n, pb]
            due = np.flatnonzero(left <= spent)
            if len(due):
                left[due] = spent[due] + self.station(float(s[n]), poses[n], live[due])
        self.left -= total
        self.left[live] = left - total[live]
        self.left[list(self.meets)] = np.inf


def _bodies(first: Array, last: Array) -> Any:
    """[P + 1]: a number for each panel, the same where panels keep their places to each other between two stations."""
    step = np.concatenate([last[:, :, :3] @ first[:, :, :3].transpose(0, 2, 1), np.zeros((len(first), 3, 1))], axis=2)
    step[:, :, 3] = last[:, :, 3] - (step[:, :, :3] @ first[:, :, 3:])[..., 0]
    _, number = np.unique(np.round(step.reshape(len(step), -1), 9), axis=0, return_inverse=True)
    return number.reshape(-1)


def check_clearance(record: Mapping[str, Any], asked: Asked | None, notes: Notes) -> None:
    """Interference of all solids along the whole path, keep-outs included; frames against the tree of hinges."""
    solids = record_solids(record, asked.keep_outs if asked else ())
    order = tree_order(record)
    if len(order) < len(record["panels"]) - 1:
        notes.add("tree", "panels joined to the root by hinges", len(record["panels"]), len(order) + 1)
        return
    thickness = min(p["z_front"] - p["z_back"] for p in record["panels"])
    sweep, strays = Sweep(record, solids), np.zeros(len(record["hinges"]))
    written = np.asarray(record["path"]["poses"], dtype=np.float64)
    stations = np.asarray(record["path"]["s"], dtype=np.float64)
    start = _with_keep_out(written[:1])[0]
    sweep.left = sweep.station(0.0, start, np.arange(len(sweep.a)))
    sweep.left[list(sweep.meets)] = np.inf
    _stowed_gaps(record, solids, start, sweep, asked, notes)
    for k in range(len(stations) - 1):
        rough = _with_keep_out(between(record, order, k, np.linspace(0.0, 1.0, 9)))
        off = float(np.abs(rough[-1, :-1] - written[k + 1]).max())
        if off > POSED:
            notes.near("poses", f"frame {k + 1} against the tree of hinges", 0.0, off, POSED)
            return
        strays = np.maximum(strays, parted(record, rough[:, :-1]))
        step = np.linalg.norm(np.diff(sweep.placed(rough), axis=0), axis=-1).max()
        count = max(1, int(np.ceil(8.0 * step * 1.01 / thickness)))
        shares = np.arange(count + 1) / count
        poses = _with_keep_out(between(record, order, k, shares))
        s = stations[k] + shares * (stations[k + 1] - stations[k])
        for low in range(0, count, BLOCK):
            sweep.along(s[low : low + BLOCK + 1], poses[low : low + BLOCK + 1])
    most = float(record["verification"].get("between_frames_m", 0.0))
    for h in np.flatnonzero(strays > most + ATTACHED):
        what = f"hinge {h} between frames, at most between_frames_m"
        notes.near("attachment", what, most, float(strays[h]), ATTACHED)
    check_least(record, solids, order, notes)
    # a record that owns up to interference is not at fault for it
    meets = sweep.meets if record["verification"]["verified"] else {}
    for pair, (at, depth) in sorted(meets.items()):
        told = f"{solids.name[sweep.a[pair]]} and {solids.name[sweep.b[pair]]} at s {at:.6g}"
        notes.add("interference", told, "apart", f"share {depth:.3g} m", MEETS)


def _with_keep_out(poses: Array) -> Array:
    """Poses with one that never moves behind the last panel."""
    still = np.broadcast_to(np.eye(3, 4), (len(poses), 1, 3, 4))
    return np.concatenate([poses, still], axis=1)


def _stowed_gaps(
    record: Mapping[str, Any], solids: Solids, poses: Array, sweep: Sweep, asked: Asked | None, notes: Notes
) -> None:
    """The panel gap, stowed: between panels that no hinge joins and between the two of a half-turn hinge."""
    gap = asked.panel_gap if asked else 0.0
    if gap <= 0.0 or told_as_missed(record, "structure.panel_gap"):
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


def told_as_missed(record: Mapping[str, Any], requirement: str) -> bool:
    """Whether the record itself says that the candidate misses a requirement."""
    return any(row["name"] == requirement and not row["ok"] for row in record["requirements"])
