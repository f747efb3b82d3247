"""The way from stowed to deployed: which hinges move when, and where the path is looked at.

The path parameter s goes from 0 (stowed) to 1 (deployed). Every stage takes an equal
interval of s, in the order of the stage numbers; inside its stage a hinge angle goes
linearly from the stowed angle to 0, outside it rests.
"""

from dataclasses import dataclass

import numpy as np

from synth.core.arrays import Floats, Ints, transform
from synth.core.errors import StowfrontError
from synth.core.topology import Topology
from synth.fold.tree import poses

MOST_FRAMES = 200
"""Frames that a candidate record may hold."""


@dataclass(frozen=True, eq=False)
class Stages:
    """bounds [K + 1]: ends of the K stage intervals, rising from 0 to 1. place [H]: interval that moves each hinge."""

    bounds: Floats
    place: Ints

    @property
    def count(self) -> int:
        return len(self.bounds) - 1

    def hinges(self, stage: int) -> list[int]:
        """Hinges that move in interval number `stage`."""
        return [int(h) for h in np.flatnonzero(self.place == stage)]

    def share(self, s: Floats) -> Floats:
        """Part [S, H] of its turn that each hinge has made at s [S]: exactly 0 before its stage and 1 after it."""
        start, end = self.bounds[self.place], self.bounds[self.place + 1]
        at = np.asarray(s, dtype=np.float64)[:, None]
        inside = (at - start) / (end - start)
        return np.where(at <= start, 0.0, np.where(at >= end, 1.0, inside))

    def angles_at(self, stowed_angle: Floats, s: Floats) -> Floats:
        """Hinge angles [B, S, H] in rad: stowed_angle [B, H] times (1 - share); exact at stage ends."""
        return stowed_angle[:, None, :] * (1.0 - self.share(s))[None]

    def rates(self, stowed_angle: Floats) -> Floats:
        """d angle / d s [B, K, H] in rad inside each stage."""
        moves = self.place[None, :] == np.arange(self.count)[:, None]
        return np.where(moves, -stowed_angle[:, None, :] / np.diff(self.bounds)[:, None], 0.0)

    def told(self) -> list[dict[str, list[int] | list[float]]]:
        """The stages as a record tells them."""
        return [
            {"hinges": self.hinges(k), "s": [float(self.bounds[k]), float(self.bounds[k + 1])]}
            for k in range(self.count)
        ]


def schedule(topology: Topology) -> Stages:
    """Stages of a topology: equal intervals of s for the distinct stage numbers in rising order."""
    numbers, place = np.unique(topology.stage, return_inverse=True)
    count = max(len(numbers), 1)
    return Stages(np.arange(count + 1) / count, place.astype(np.int64).reshape(-1))


def speed_bounds(topology: Topology, axis: Floats, stowed_angle: Floats, points: Floats, owner: Ints) -> Floats:
    """Bound [K] (m per unit of s) on the speed of any point in each stage, for one candidate.

    axis [H, 2, 3], stowed_angle [H]; points [N, 3] deployed, fixed to panels owner [N].
    Along the chain from the root the moving hinges 1..m of a stage give
    |v| <= sum_i |w_i| (sum_{k >= i} |c_{k+1} - c_k| + |q - c_m|), with c the middles of the
    hinge lines; distances between consecutive moving hinges are rigid within the stage
    (triangle inequality; own derivation), so the bound holds at every s.
    """
    stages = schedule(topology)
    rates = np.abs(stages.rates(stowed_angle[None])[0])
    start = poses(topology, axis[None], stages.angles_at(stowed_angle[None], stages.bounds[:-1]))[0]
    out = np.zeros(stages.count)
    for k in range(stages.count):
        middle = np.zeros((topology.panels, 3))
        gathered, turned = np.zeros(topology.panels), np.zeros(topology.panels)
        for panel in range(1, topology.panels):
            parent, w = int(topology.parent[panel]), rates[k, panel - 1]
            middle[panel], gathered[panel], turned[panel] = middle[parent], gathered[parent], turned[parent]
            if w > 0.0:
                c = transform(start[k, parent], axis[panel - 1]).mean(axis=0)
                if turned[parent] > 0.0:
                    gathered[panel] += turned[parent] * float(np.linalg.norm(c - middle[parent]))
                middle[panel], turned[panel] = c, turned[parent] + w
        placed = transform(start[k][owner], points[:, None, :])[:, 0]
        arm = np.linalg.norm(placed - middle[owner], axis=-1)
        out[k] = np.max(gathered[owner] + turned[owner] * arm, initial=0.0)
    return out


def stations(
    topology: Topology, axis: Floats, stowed_angle: Floats, points: Floats, owner: Ints, step: float
) -> Floats:
    """Stations s [S], 0 and 1 and all stage ends among them, between which no point moves more than `step` (m).

    One candidate; arguments as of `speed_bounds`. The panel thickness is the usual step.
    """
    stages = schedule(topology)
    speed = speed_bounds(topology, axis, stowed_angle, points, owner)
    found = [np.zeros(1)]
    for k in range(stages.count):
        low, high = stages.bounds[k], stages.bounds[k + 1]
        # a hair more than needed, so that rounding of s never makes a step too long
        pieces = max(1, int(np.ceil(speed[k] * (high - low) / step * (1.0 + 1e-9))))
        found.append(np.concatenate([low + (high - low) * np.arange(1, pieces) / pieces, [high]]))
    return np.concatenate(found)


def frames(stages: Stages, most: int = MOST_FRAMES, in_a_stage: int = 48) -> Floats:
    """Frames s [<= most] of a record: every stage end, and each stage cut into equally many pieces (<= in_a_stage).

    Raises StowfrontError where there are more stage ends than frames.
    """
    if stages.count > most - 1:
        raise StowfrontError(f"{stages.count} stages do not fit in {most} frames")
    pieces = min(in_a_stage, (most - 1) // stages.count)
    low, high = stages.bounds[:-1, None], stages.bounds[1:, None]
    inner = low + (high - low) * np.arange(pieces) / pieces
    return np.concatenate([inner.reshape(-1), [1.0]])
