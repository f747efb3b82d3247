"""The stowed stack as a whole: layers on the pads of their hold-downs, one above the other."""

from dataclasses import dataclass

import numpy as np

from synth.core.arrays import Column, Floats
from synth.core.design import Design
from synth.structure.loads import STANDARD_GRAVITY

PAD_NORMAL = 1.0e7
"""N/m a hold-down pad between two layers, normal to the faces (common practice for cup-cone pads, not measured)."""
PAD_LATERAL = 5.0e6
"""N/m across it (common practice: half of the normal stiffness)."""
POINTS = 4
"""Hold-downs that run through the whole stack (a long panel has two more of its own: see the panel model)."""


@dataclass(frozen=True, eq=False)
class Stack:
    """Columns [B]. normal, lateral: what the stack adds to 1/omega^2 of a panel on its own pads, and 1/omega^2 of the
    sideways stack, s^2. preload: least force at each hold-down that keeps all layers seated under the load, N."""

    normal: Column
    lateral: Column
    preload: Column


def layers(design: Design) -> Floats:
    """Layer [P] of each panel counted from the spacecraft's end of the stack, 1 the lowest.

    Panels that do not stack in layers stand beside each other, each on its own hold-downs: all in layer 1, apart.
    """
    level = np.asarray(design.topology.level, dtype=np.float64)
    return np.asarray(level - level.min(initial=0.0) + 1.0)


def stack(design: Design, mass: Floats, load_g: float) -> Stack:
    """Chain of rigid layers on springs for B candidates; mass [B, P] of each panel with all it carries.

    Hold-down pads are springs K = 4 k in series from layer to layer, so that layer i moves by
    sum_j min(i, j) F_j / K under forces F. A panel's own pads are in its plate model already, hence F - I / K here.
    Largest eigenvalue of M^1/2 F M^1/2: exact for rigid layers without rocking. With the panel on its pads 1/omega^2
    adds up to a bound from below of the whole (Dunkerley; Weyl's inequality for the two flexibilities). Preload =
    load_g g sum(m) / 4 (statics).
    """
    stacked = bool(np.ptp(design.topology.level))
    if not stacked:
        heaviest = mass.max(axis=1)
        each = load_g * STANDARD_GRAVITY * heaviest / POINTS
        return Stack(np.zeros(len(mass)), heaviest / (POINTS * PAD_LATERAL), each)
    place = layers(design)
    shared = np.minimum(place[:, None], place[None, :])
    root = np.sqrt(mass)
    chain = root[:, :, None] * shared * root[:, None, :]
    whole = np.linalg.eigvalsh(chain)[:, -1]
    own = np.arange(mass.shape[1])
    chain[:, own, own] -= mass
    beyond = np.maximum(np.linalg.eigvalsh(chain)[:, -1], 0.0)
    preload = load_g * STANDARD_GRAVITY * mass.sum(axis=1) / POINTS
    return Stack(beyond / (POINTS * PAD_NORMAL), whole / (POINTS * PAD_LATERAL), preload)
