"""The layer routine: stack order, axis heights and stages of panels that fold by half turns.

A half turn about an axis at height h above the common mid-plane takes z to 2 h - z, so
the stack order fixes the axis heights: h = s_p (Z_c - Z_p) / 2 with s_p = +1 where the
parent is face up (elementary; case stack_hinge_rule of the reference notes, derived).

The order is the one that folding leaf by leaf gives: a child with its whole pack is
laid on its parent's pack, on the front or on the back, so the way back (deployment)
never crosses a layer. Layers count in units of the pitch.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from synth.core.arrays import Column, Floats, Ints
from synth.core.build import Build
from synth.core.topology import Topology


@dataclass(frozen=True, eq=False)
class Stack:
    """sense, steps, stage [H] and level, turned [P] as in Topology."""

    sense: Ints
    steps: Ints
    stage: Ints
    level: Ints
    turned: Ints


def stack(parent: Sequence[int], order: Sequence[int] | None = None, sides: Sequence[int] | None = None) -> Stack:
    """Stack of a spanning tree whose hinges all turn by 180 degrees.

    parent [P] with parent[0] = -1, parents before children. order [P]: rank in which the
    children of one panel are laid on it (lower first, so nearer; default: the smaller pack
    first). sides [P]: +1 front, -1 back of the parent, 0 (default) the side that needs the
    lowest axis: away from the parent's own hinge first, the emptier side for the root.
    """
    count = len(parent)
    children: list[list[int]] = [[] for _ in range(count)]
    for panel in range(1, count):
        children[parent[panel]].append(panel)
    size = [1] * count
    for panel in range(count - 1, 0, -1):
        size[parent[panel]] += size[panel]
    rank = list(order) if order is not None else size
    sense, steps = np.zeros(count - 1, dtype=np.int64), np.zeros(count - 1, dtype=np.int64)
    # front/back: layers of a panel's pack on its own front and back, the panel itself not counted
    front, back = [0] * count, [0] * count
    local: list[int] = [0] * count  # level of a panel in its parent's local count (+ front)
    after: list[list[int]] = [[] for _ in range(count)]  # hinges that must deploy before this one, on the same parent
    own_side = _own_sides(parent, children, size, rank, sides)
    for panel in range(count - 1, -1, -1):
        last = {1: -1, -1: -1}
        for child in sorted(children[panel], key=lambda c: (rank[c], c)):
            side = own_side[child]
            # after the half turn the child's own `side` face looks at the parent: its layers there lie between
            facing = front[child] if side > 0 else back[child]
            beyond = back[child] if side > 0 else front[child]
            held = front[panel] if side > 0 else back[panel]
            k = held + facing + 1
            sense[child - 1], steps[child - 1], local[child] = side, k, side * k
            if side > 0:
                front[panel] = k + beyond
            else:
                back[panel] = k + beyond
            if last[side] >= 0:
                after[last[side]].append(child)
            last[side] = child
    level, turned = np.zeros(count, dtype=np.int64), np.ones(count, dtype=np.int64)
    stage = np.zeros(count - 1, dtype=np.int64)
    for panel in range(1, count):
        p = parent[panel]
        turned[panel] = -turned[p]
        level[panel] = level[p] + turned[p] * local[panel]
    for panel in range(1, count):
        _stage_of(panel, parent, after, stage, set())
    return Stack(sense, steps, stage, level, turned)


def _own_sides(
    parent: Sequence[int],
    children: list[list[int]],
    size: list[int],
    rank: Sequence[int],
    sides: Sequence[int] | None,
) -> list[int]:
    """Side of the parent that each child is laid on, parents first."""
    out = [0] * len(parent)
    for panel in range(len(parent)):
        held = {1: 0, -1: 0}
        for child in sorted(children[panel], key=lambda c: (rank[c], c)):
            wish = int(sides[child]) if sides is not None else 0
            if wish == 0:
                # the face that looks at the parent's parent is the one named by this panel's own side
                wish = -out[panel] if panel and out[panel] else (1 if held[1] <= held[-1] else -1)
            out[child] = wish
            held[wish] += size[child]
    return out


def _stage_of(panel: int, parent: Sequence[int], after: list[list[int]], stage: Ints, busy: set[int]) -> int:
    """Deployment stage of the hinge above `panel`: after its parent's hinge and after the packs that lie on it."""
    found = 0
    p = parent[panel]
    if p > 0:
        found = _stage_of(p, parent, after, stage, busy) + 1
    for outer in after[panel]:
        found = max(found, _stage_of(outer, parent, after, stage, busy) + 1)
    stage[panel - 1] = found
    return found


def half_turn_height(topology: Topology, build: Build) -> Floats:
    """Axis heights z [B, H] in the deployed frame for half turns between layers `steps` apart.

    h above the mid-plane = sense * steps * pitch / 2; z = h - thickness / 2, so a front
    hinge of neighbouring layers stands half the face gap above the face.
    """
    reach = topology.sense * topology.steps
    return reach[None, :] * build.pitch[:, None] / 2.0 - build.thickness[:, None] / 2.0


def stack_height(layers: int, build: Build) -> Column:
    """Height [B] of that many layers, hinge hardware not counted: n t + (n - 1) g."""
    return layers * build.pitch - (build.pitch - build.thickness)
