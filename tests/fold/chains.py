"""Small folding structures laid out by hand: straight chains of strips and a star of seven hexagons."""

from dataclasses import dataclass

import numpy as np

from synth.core.arrays import Floats
from synth.core.build import Build
from synth.core.geometry import Geometry, directed_axis
from synth.core.layers import half_turn_height, stack
from synth.core.status import Status
from synth.core.topology import Topology


@dataclass(frozen=True)
class Laid:
    """Topology and geometry of one candidate."""

    topology: Topology
    geometry: Geometry


def build(thickness: float = 0.01, gap: float = 0.0005, edge_gap: float = 0.001) -> Build:
    column = np.array([thickness])
    return Build(
        diameter=1.0,
        panel_gap=gap,
        thickness=column,
        edge_gap=np.array([edge_gap]),
        pitch=column + gap,
        knuckle=np.array([gap / 2.0]),
        unit_width=np.array([0.02]),
    )


def tree_of(parent: list[int], staged: bool, sides: list[int] | None = None) -> Topology:
    laid = stack(parent, sides=sides)
    stage = laid.stage if staged else np.zeros_like(laid.stage)
    return Topology(
        parent=np.array(parent, dtype=np.int64),
        sense=laid.sense,
        steps=laid.steps,
        stage=stage,
        slot=np.zeros(len(parent) - 1, dtype=np.int64),
        level=laid.level,
        turned=laid.turned,
    )


def accordion(count: int, width: float = 0.2, length: float = 0.8, staged: bool = False, **sizes: float) -> Laid:
    """Strips side by side along x, folded zig-zag by half turns."""
    made = build(**sizes)
    topology = tree_of([-1, *range(count - 1)], staged)
    e = float(made.edge_gap[0]) / 2.0
    left = np.arange(count) * width - count * width / 2.0
    x0, x1 = left + e, left + width - e
    y = np.full(count, length / 2.0)
    outline = np.stack(
        [np.stack([x0, -y], -1), np.stack([x1, -y], -1), np.stack([x1, y], -1), np.stack([x0, y], -1)], axis=1
    )[None]
    edge = np.stack([np.stack([left[1:], -y[1:]], -1), np.stack([left[1:], y[1:]], -1)], axis=1)[None]
    inside = outline.mean(axis=2)[:, :-1]
    height = half_turn_height(topology, made)
    axis = directed_axis(edge, inside, height)
    return Laid(topology, _geometry(made, outline, axis, topology.sense * np.pi))


def hexagon(centre: Floats, side: float) -> Floats:
    """Corners [..., 6, 2] counter-clockwise, one corner on +x."""
    turn = np.arange(6) * np.pi / 3.0
    return centre[..., None, :] + side * np.stack([np.cos(turn), np.sin(turn)], axis=-1)


def hexagons(centres: Floats, parent: list[int], pitch: float, staged: bool = True, **sizes: float) -> Laid:
    """Hexagons of that tiling pitch about given centres [P, 2], hinged along the tree."""
    made = build(**sizes)
    topology = tree_of(parent, staged)
    across = pitch - float(made.edge_gap[0])
    outline = hexagon(centres, across / np.sqrt(3.0))[None]
    i, j = np.array(parent[1:]), np.arange(1, len(parent))
    middle = (centres[i] + centres[j]) / 2.0
    way = (centres[j] - centres[i]) / pitch
    along = np.stack([-way[:, 1], way[:, 0]], axis=-1) * (across / np.sqrt(3.0) / 2.0)
    edge = np.stack([middle - along, middle + along], axis=1)[None]
    axis = directed_axis(edge, centres[i][None], half_turn_height(topology, made))
    return Laid(topology, _geometry(made, outline, axis, topology.sense * np.pi))


def ring(pitch: float, count: int = 6) -> Floats:
    """Centre and `count` neighbours [1 + count, 2] of a hexagon tiling."""
    turn = np.pi / 6.0 + np.arange(count) * np.pi / 3.0
    return np.concatenate([np.zeros((1, 2)), pitch * np.stack([np.cos(turn), np.sin(turn)], axis=-1)])


def spiral(count: int, pitch: float) -> Floats:
    """Centres [count, 2] of a hexagon tiling along a spiral from the middle: each touches the one before."""
    steps = [(1, 0), (0, 1), (-1, 1), (-1, 0), (0, -1), (1, -1)]
    at, facing, found = (0, 0), 0, [(0, 0)]
    while len(found) < count:
        # keep the wound part on the left: the leftmost free neighbour is next
        facing = (
            next(d for d in (facing + 2, facing + 1, facing, facing - 1) if _ahead(at, steps[d % 6]) not in found) % 6
        )
        at = _ahead(at, steps[facing])
        found.append(at)
    q = np.array(found, dtype=np.float64)
    turn = np.array([np.pi / 6.0, np.pi / 2.0])
    return np.asarray(pitch * (q @ np.stack([np.cos(turn), np.sin(turn)], axis=-1)))


def _ahead(at: tuple[int, int], step: tuple[int, int]) -> tuple[int, int]:
    return at[0] + step[0], at[1] + step[1]


def star(pitch: float = 0.3, staged: bool = True, **sizes: float) -> Laid:
    return hexagons(ring(pitch), [-1, 0, 0, 0, 0, 0, 0], pitch, staged, **sizes)


def serial(count: int, pitch: float = 0.3, **sizes: float) -> Laid:
    return hexagons(spiral(count, pitch), [-1, *range(count - 1)], pitch, True, **sizes)


def _geometry(made: Build, outline: Floats, axis: Floats, stowed: np.ndarray) -> Geometry:
    return Geometry(
        outline=outline,
        thickness=made.thickness,
        axis=axis,
        stowed_angle=np.asarray(stowed, dtype=np.float64)[None],
        latch_edge=np.zeros((1, 0, 2, 2)),
        status=Status.fine(1),
    )
