"""Inputs of the kernel, made with the program's code: loaded where the program is, and nowhere else."""

import os
from typing import Any

import numpy as np
from threadpoolctl import threadpool_limits

from synth.cell import space
from synth.evaluate import evaluate, lay_out, loads_of
from synth.structure import network
from synth.structure.accuracy import gauges
from synth.structure.assembly import assemble
from synth.structure.modes import scattered
from synth.structure.monomials import MonomialPlates
from tests.bench.evaluate import ORDER, ROOMY, cell, rows
from tests.bench.timing import seconds

from .arrays import Arrays, Numpy
from .kernel import BY_ROW, EXTRA_STARTS, FIGURES, GAUGES, Tables, figures
from .measure import DISTINCT, PANELS, batch_of


def make(file: str) -> None:
    """Assembles real networks, works out their figures, and measures what share of an evaluation the kernel is."""
    out: Arrays = {}
    with threadpool_limits(1):
        for panels in PANELS:
            for name, value in inputs(panels).items():
                out[f"{panels}/{name}"] = value
    np.savez_compressed(file, **out)
    print(f"{os.path.getsize(file) / 1e6:.1f} MB in {file}")


def inputs(panels: int) -> Arrays:
    """Arrays of DISTINCT candidates of so many panels."""
    chosen = cell(panels)
    columns = space(ROOMY, chosen).columns(rows(chosen, DISTINCT))
    design, loads = lay_out(ROOMY, chosen, columns)[0], loads_of(ROOMY)
    plates = MonomialPlates(design.geometry.cut, ORDER)
    found = assemble(design, plates, loads)
    assert not found.shared, "misfits that share a draw are not in this kernel"
    made = gauges(found.forms, design.topology.receiving, design.panels.thickness, loads.fitted)
    wiring, shape = found.wiring, found.rows.shape
    out: Arrays = {name: getattr(found, name) for name in BY_ROW}
    for g in GAUGES:
        gauge = getattr(made, g)
        out[f"square_{g}"], out[f"fit_{g}"], out[f"gram_{g}"] = gauge.square, gauge.fit, gauge.gram
    longest = max(len(q) for q in wiring.steps.later)
    out |= {
        "fresh": scattered(panels, shape[-1], EXTRA_STARTS),
        "units": np.array(shape[1]),
        **_tables(design.units.panels.tolist(), panels),
        "ends": wiring.panel.reshape(-1, 2),
        "order": np.array(wiring.steps.order),
        "later": np.array([[*q, *[-1] * (longest - len(q))] for q in wiring.steps.later], dtype=np.int64),
    }
    asked = network.deployed(design, loads, ORDER)
    out |= {f"figure_{k}": getattr(asked, k) for k in FIGURES}
    whole = seconds(lambda: evaluate(ROOMY, chosen, columns), 3)
    net = seconds(lambda: network.deployed(design, loads, ORDER), 3)
    tables = Tables(Numpy(), out)
    alone = seconds(lambda: figures(Numpy(), batch_of(out, DISTINCT), tables, "blocks"), 3)
    print(
        f"{panels} panels, {DISTINCT} candidates, one thread: evaluation {1e3 * whole:.0f} ms, of this the network",
        end="",
    )
    print(f" {1e3 * net:.0f} ms ({net / whole:.0%}), the kernel here {1e3 * alone:.0f} ms ({alone / whole:.0%})")
    return out


def _tables(ends: list[list[int]], panels: int) -> Arrays:
    """Sides 2 u + side of the units on each panel, and of the units that couple each pair of panels, padded with the
    side after the last, which stands for nothing."""
    last = 2 * len(ends)
    sides: list[list[int]] = [[] for _ in range(panels)]
    low: dict[tuple[int, int], list[int]] = {}
    for u, (i, j) in enumerate(ends):
        for side, p in enumerate((i, j)):
            if p >= 0:
                sides[p].append(2 * u + side)
        if i >= 0 and j >= 0:
            low.setdefault((min(i, j), max(i, j)), []).append(2 * u + (0 if i < j else 1))
    pairs = sorted(low)
    high = [[k ^ 1 for k in low[p]] for p in pairs]  # the other side of the same unit

    def padded(groups: list[list[int]]) -> Any:
        longest = max((len(g) for g in groups), default=0)
        return np.array([[*g, *[last] * (longest - len(g))] for g in groups], dtype=np.int64)

    return {
        "sides": padded(sides),
        "low": padded([low[p] for p in pairs]),
        "high": padded(high),
        "pairs": np.array(pairs, dtype=np.int64).reshape(-1, 2),
    }
