"""Point masses that every design carries: hold-downs, release devices, dampers, harness."""

import numpy as np

from synth.core.arrays import Floats, Ints
from synth.core.topology import Topology
from synth.mass.rollup import HARNESS

RESTRAINT_MASS = 0.030
"""kg of hold-down inserts in each panel, four points (common practice)."""
RELEASE_MASS = 0.200
"""kg of release devices on the root (common practice)."""
DRIVE_MASS = 0.040
"""kg of rate damper and end stop for each deployment stage (common practice)."""
HARNESS_MASS = 0.015
"""kg of harness for each panel beyond the root: four twisted pairs (latch sense, heater, sensor) over one hinge and to
the middle of the panel, half a metre of 25 g/m with clamps and a free loop over the hinge (common practice)."""


def lumps(topology: Topology, rows: int) -> tuple[Ints, Floats, tuple[str, ...]]:
    """Restraint inserts on every panel; release devices and one damped drive a stage on the root; harness beyond it."""
    panels, stages = topology.panels, int(topology.stage.max(initial=-1)) + 1
    beyond = range(1, panels)
    where = [*range(panels), 0, *([0] * stages), *beyond]
    mass = [RESTRAINT_MASS] * panels + [RELEASE_MASS] + [DRIVE_MASS] * stages + [HARNESS_MASS] * (panels - 1)
    names = [f"restraint inserts {p}" for p in range(panels)] + ["restraint release"]
    names += [f"drive stage {k}" for k in range(stages)] + [f"drive {HARNESS} to panel {p}" for p in beyond]
    return np.array(where, dtype=np.int64), np.tile(np.array(mass), (rows, 1)), tuple(names)
