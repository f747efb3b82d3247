"""Which panel hangs on which: integers shared by a whole batch."""

from dataclasses import dataclass, field
from functools import cached_property

import numpy as np

from synth.core.arrays import Bools, Ints


@dataclass(frozen=True, eq=False)
class Topology:
    """Panels and hinges of one cell.

    parent [P]: the panel each panel hangs on; parent[0] = -1 and parents precede children.
      Hinge h < P - 1 joins parent[h + 1] (its i) to panel h + 1 (its j).
    sense [H]: +1 valley (j folds to the front of i, +z), -1 mountain.
    steps [H]: for a half turn, layers from i to j in the stack (1: neighbours); 0 for any other fold angle.
    stage [H]: deployment stage that moves the hinge; stage 0 moves first (from stowed).
    slot [H]: place of the hinge's units along its edge; hinges whose hardware would meet in
      the stack have different slots (0 is outermost).
    level [P], turned [P]: place in the stack counted along +z of the root, and +1 / -1 for face
      up / down; both all zero where the panels do not stack in layers.
    latchable [K, 2]: pairs of panels that share a free (cut) edge which a latch can join when deployed.
    closing [L, 2]: hinges beyond the tree that close loops (numbered from P - 1 on); none for trees.
    receiving [P]: whether the panel's front face collects light.
    """

    parent: Ints
    sense: Ints
    steps: Ints
    stage: Ints
    slot: Ints
    level: Ints
    turned: Ints
    latchable: Ints = field(default_factory=lambda: np.zeros((0, 2), dtype=np.int64))
    closing: Ints = field(default_factory=lambda: np.zeros((0, 2), dtype=np.int64))
    receiving: Bools = field(default_factory=lambda: np.zeros(0, dtype=bool))

    def __post_init__(self) -> None:
        if not len(self.receiving):
            object.__setattr__(self, "receiving", np.ones(len(self.parent), dtype=bool))

    @property
    def panels(self) -> int:
        return len(self.parent)

    @cached_property
    def hinges(self) -> Ints:
        """[H, 2] panels i, j of every hinge, tree hinges first."""
        tree = np.stack([self.parent[1:], np.arange(1, self.panels)], axis=-1)
        return np.concatenate([tree, self.closing.reshape(-1, 2)]).astype(np.int64)

    def chain(self, panel: int) -> list[int]:
        """Tree hinges from the root to a panel, root first."""
        found = []
        while panel > 0:
            found.append(panel - 1)
            panel = int(self.parent[panel])
        return found[::-1]

    def depth(self) -> Ints:
        """[P] hinges between each panel and the root."""
        out = np.zeros(self.panels, dtype=np.int64)
        for panel in range(1, self.panels):
            out[panel] = out[self.parent[panel]] + 1
        return out
