"""Sides and order of a stack of half turns: low standoffs.

With a child's pack of s layers of which f lie on the face that looks at the parent, its
axis passes what is already held on that side and those f: steps = held + f + 1. The sum
of steps over the tree is least when every side takes its packs smallest first
(shortest processing time first, an elementary exchange argument) and each panel splits
its children between its two faces best; a panel has few children, so all splits are tried.
"""

from collections.abc import Sequence
from functools import lru_cache

from synth.core.layers import Stack, stack


def lowest_stack(parent: Sequence[int]) -> Stack:
    """As _lowest_stack, kept: a family asks for it with every batch."""
    return _lowest_stack(tuple(parent))


@lru_cache(maxsize=256)
def _lowest_stack(parent: tuple[int, ...]) -> Stack:
    """The stack with the least sum of steps among those that fold branch by branch.

    parent [P], parents before children. Of equal splits the one that lays more on the far face,
    then (for the root) the most even one.
    """
    count = len(parent)
    children: list[list[int]] = [[] for _ in range(count)]
    size = [1] * count
    for panel in range(count - 1, 0, -1):
        children[parent[panel]].append(panel)
        size[parent[panel]] += size[panel]
    facing = [0] * count
    own: list[dict[int, int]] = [{} for _ in range(count)]
    for panel in range(count - 1, -1, -1):
        kids = sorted(children[panel], key=lambda c: (size[c], c))
        best: tuple[int, int, int, int] | None = None
        for mask in range(2 ** len(kids)):
            close = [c for k, c in enumerate(kids) if mask >> k & 1]
            far = [c for k, c in enumerate(kids) if not mask >> k & 1]
            f = sum(size[c] for c in close)
            cost = _steps(close, size, facing) + _steps(far, size, facing) + (f if panel else 0)
            uneven = abs(f - (size[panel] - 1 - f)) if panel == 0 else f
            # alternate children to either side where nothing else decides
            pattern = sum(mask >> k & 1 != k & 1 for k in range(len(kids))) if panel == 0 else mask
            if best is None or (cost, uneven, pattern, mask) < best:
                best = (cost, uneven, pattern, mask)
                own[panel] = {c: (1 if c in close else -1) for c in kids}
                facing[panel] = f
    sides, order = [0] * count, [0] * count
    for panel in range(count):
        for child, near in own[panel].items():
            # `near` children lie on the face that looks at the parent; the root's "near" is its front
            sides[child] = near * (sides[panel] if panel else 1)
    # ranks: small packs first; of equals on the root's back the one opposite to its like on the front, so that
    # two that open at once are far apart
    for panel in range(count):
        kids = children[panel]
        for k, child in enumerate(kids):
            shift = len(kids) // 2 if panel == 0 and sides[child] < 0 else 0
            order[child] = size[child] * count + (k + shift) % len(kids)
    return stack(parent, order, sides)


def _steps(kids: Sequence[int], size: Sequence[int], facing: Sequence[int]) -> int:
    """Sum of steps of packs laid on one face, smallest first."""
    held, total = 0, 0
    for child in kids:
        total += held + facing[child] + 1
        held += size[child]
    return total
