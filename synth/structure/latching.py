"""Whether each latch finds its other half, and what it takes to close it: the structure before it latches."""

from dataclasses import dataclass, replace

import numpy as np

from synth.core.arrays import Column
from synth.core.design import Design
from synth.structure.assembly import assemble, free_positions
from synth.structure.elimination import Elimination
from synth.structure.loads import Loads
from synth.structure.monomials import MonomialPlates

SIGMAS = 3.0
"""How many standard deviations a latch must find."""
ORDER = 4
"""Degree of the plates: the hinges' errors and give count here, not the panels' finer bending."""


@dataclass(frozen=True, eq=False)
class Latching:
    """Of each latch [K], while no latch holds, against its free position.

    sideways: how far its halves miss each other along the edge and in z, m; across: how far they stand off, m; both
    three standard deviations on top of the steady error. force: pull across the edge that brings them together, N,
    against what the structure gives at that place, all six ways closed at once; steady error and three deviations.
    """

    sideways: Column
    across: Column
    force: Column


def latching(design: Design, loads: Loads) -> Latching | None:
    """A batch of one, worked out on the network without its latches; None where that is a mechanism.

    With R the relative motion at a latch and K the network without latches: the steady loads f bring the error R K^-1 f
    less the free position that growth gives the latch, a misfit m of a unit R K^-1 rows^T spring m, so the covariance
    is S S^T with S = R K^-1 rows^T spring sigma, common causes summed first. Give C = R K^-1 R^T, force C^-1 error.
    Each latch closes with all others open; steady loads are those of the given environment. Linear, small errors.
    """
    mine = np.flatnonzero(design.units.kind == 1)
    held = design.units.stiffness.copy()
    held[:, mine] = 0.0
    loose = replace(design, units=replace(design.units, stiffness=held))
    network = assemble(loose, MonomialPlates(design.geometry.outline, ORDER), loads)
    panels, size = network.inertia.shape[1:3]
    count = 6 * len(mine)
    load = np.zeros((1, panels, size, count + 1))
    load[..., 0] = network.steady.sum(axis=-1)
    for k, u in enumerate(mine.tolist()):
        for side, panel in enumerate(design.units.panels[u].tolist()):
            load[0, panel, :, 1 + 6 * k : 7 + 6 * k] += network.rows[0, u, side].T
    try:
        factors = Elimination(network.wiring.steps, network.blocks(network.spring, network.plate))
        moved = network.strain(factors.solve(load))[0]
    except np.linalg.LinAlgError:
        return None
    if not np.isfinite(moved).all():
        return None
    scale = (network.spring * network.sigma)[0]
    draws = network.by_draw((moved[..., 1:] * scale[..., None]).reshape(1, -1, count))[0]
    free = free_positions(design, network.forms)[0]
    sideways, across, force = (np.zeros(len(mine)) for _ in range(3))
    for k, u in enumerate(mine.tolist()):
        steady, spread = moved[u, :, 0] - free[u], draws[:, 6 * k : 6 * k + 6]
        worst = np.abs(steady) + SIGMAS * np.sqrt((spread**2).sum(axis=0))
        give = moved[u, :, 1 + 6 * k : 7 + 6 * k]
        stiff = np.linalg.inv((give + give.T) / 2.0)
        pull = stiff @ np.column_stack([steady, spread.T])
        sideways[k], across[k] = np.hypot(worst[0], worst[2]), worst[1]
        force[k] = abs(pull[1, 0]) + SIGMAS * np.sqrt((pull[1, 1:] ** 2).sum())
    return Latching(sideways, across, force)


def refusal(found: Latching | None, capture: float, hold: float) -> str:
    """Why a latch cannot do, or an empty text: what it captures (m) and holds (N) against what it must."""
    if found is None:
        return "without its latches the structure hangs together nowhere, so nothing leads them to each other"
    k = int(found.sideways.argmax())
    if found.sideways[k] > capture:
        off = f"its halves may be {1e3 * found.sideways[k]:.3g} mm off when they meet (three sigma)"
        return f"latch {k} misses: {off}, it captures {1e3 * capture:.3g} mm"
    k = int(found.force.argmax())
    if found.force[k] > hold:
        need = f"{found.force[k]:.3g} N to bring its halves together (three sigma)"
        return f"latch {k} does not close: {need}, it holds {hold:.3g} N"
    return ""
