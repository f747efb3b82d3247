"""How far the loops of a panel-and-hinge structure are from closing, and how that changes with the hinge angles.

Each hinge beyond the spanning tree closes one loop. Told through the tree and the turn
about the closing hinge, the second panel of that hinge has one pose; told through the
tree alone it has another. Their difference is a turn and a shift: six rows a loop.
Where all hinge lines of every vertex meet in a point (zero thickness) the turn says
everything: three rows a loop.
"""

from dataclasses import dataclass

import numpy as np

from synth.core.arrays import Column, Floats, compose, dot, transform, turn_about, unit
from synth.core.topology import Topology
from synth.fold.tree import poses


@dataclass(frozen=True, eq=False)
class Closure:
    """State of L loops at given angles.

    rows [B, R]: what is left open, loop after loop: turn vector (rad), then, unless spherical, the shift of the
      closing hinge's middle divided by the length scale of the structure. R = 6 L (3 L where spherical).
    jacobian [B, R, H]: rows per radian of every hinge; exact where the loops are closed.
    gap [B]: the largest turn (rad) or distance of hinge end points (m) left open; for spherical closures the turn.
    """

    rows: Floats
    jacobian: Floats
    gap: Column


def turn_vector(rotation: Floats) -> Floats:
    """Axis times angle [..., 3] of rotations [..., 3, 3]: the logarithm, angle in [0, pi].

    sin(a) n = vee(R - R^T) / 2, cos(a) = (trace R - 1) / 2. Valid below pi; at exactly pi the direction is lost
    and the vector is zero, so a closure half a turn open must not start there.
    """
    vee = 0.5 * np.stack(
        [
            rotation[..., 2, 1] - rotation[..., 1, 2],
            rotation[..., 0, 2] - rotation[..., 2, 0],
            rotation[..., 1, 0] - rotation[..., 0, 1],
        ],
        axis=-1,
    )
    sine = np.linalg.norm(vee, axis=-1)
    cosine = 0.5 * (np.trace(rotation, axis1=-2, axis2=-1) - 1.0)
    angle = np.arctan2(sine, cosine)
    return vee * np.where(sine > 0.0, angle / np.where(sine > 0.0, sine, 1.0), 1.0)[..., None]


def loops(topology: Topology) -> Floats:
    """Signed share [L, H] of every hinge in the loop that each closing hinge makes: +1 along, -1 against, else 0."""
    count, tree = len(topology.closing), topology.panels - 1
    share = np.zeros((count, tree + count))
    for loop, (i, j) in enumerate(topology.closing):
        share[loop, topology.chain(int(i))] += 1.0
        share[loop, topology.chain(int(j))] -= 1.0
        share[loop, tree + loop] = 1.0
    return share


def length_scale(axis: Floats) -> Column:
    """Root mean square distance [B] of the hinge end points [B, H, 2, 3] from their middle, m; never zero."""
    points = axis.reshape(len(axis), -1, 3)
    apart = points - points.mean(axis=1, keepdims=True)
    spread = np.sqrt(dot(apart, apart).mean(axis=1))
    return np.where(spread > 0.0, spread, 1.0)


def closure(topology: Topology, axis: Floats, angles: Floats, spherical: bool = False) -> Closure:
    """Closure of axis [B, H, 2, 3] (deployed, tree hinges first, then closing ones) at angles [B, H].

    The columns are the screws of the hinges where they now are, w and w x (q - p) about the middle q of the closing
    hinge, with the sign of `loops`. spherical: only the turns, for structures whose every vertex is a point.
    """
    share, tree = loops(topology), topology.panels - 1
    here = poses(topology, axis, angles[:, None, :])[:, 0]
    ends = transform(here[:, topology.hinges[:, 0]], axis)
    direction = unit(ends[..., 1, :] - ends[..., 0, :])
    first, second = topology.closing[:, 0], topology.closing[:, 1]
    closing_axis = axis[:, tree:]
    turn = turn_about(closing_axis[..., 0, :], closing_axis[..., 1, :], angles[:, tree:])
    through, alone = compose(here[:, first], turn), here[:, second]
    opened = turn_vector(through[..., :3] @ np.swapaxes(alone[..., :3], -1, -2))
    rows_turn = share[..., None] * direction[:, None]
    twist = np.linalg.norm(opened, axis=-1)
    if spherical:
        return Closure(_flat(opened), _flat(np.swapaxes(rows_turn, -1, -2), 2), twist.max(axis=-1, initial=0.0))
    apart = transform(through, closing_axis) - transform(alone, closing_axis)
    middle = transform(through, closing_axis).mean(axis=-2)
    rows_shift = share[..., None] * np.cross(direction[:, None], middle[:, :, None] - ends[:, None, :, 0])
    scale = length_scale(axis)[:, None, None]
    rows = np.concatenate([opened, apart.mean(axis=-2) / scale], axis=-1)
    jacobian = np.swapaxes(np.concatenate([rows_turn, rows_shift / scale[..., None]], axis=-1), -1, -2)
    distance = np.linalg.norm(apart, axis=-1).max(axis=-1)
    return Closure(_flat(rows), _flat(jacobian, 2), np.maximum(twist, distance).max(axis=-1, initial=0.0))


def _flat(table: Floats, axes: int = 1) -> Floats:
    """Loops and their rows as one axis: [B, L, 3 or 6, ...] to [B, R, ...]."""
    return table.reshape(len(table), table.shape[1] * table.shape[2], *table.shape[3:][: axes - 1])
