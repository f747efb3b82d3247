"""How far the evaluation stands from what one core can do: work of the deployed network against measured limits.

Run: python -m tests.bench.roofline. Floating-point operations and bytes are counted from the shapes that the block
elimination, the misfit responses and the shape functions at the feet are called with (most of the algebra; figures of
geometry, mass, stowed size and launch are not counted, so the distance is an upper one). Limits: a large dgemm, a
triad over arrays beyond the caches, and products of the small blocks that the network is made of.
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from typing import Any
from unittest.mock import patch

import numpy as np
from threadpoolctl import threadpool_limits

from synth.cell import space
from synth.core.arrays import Floats, Ints
from synth.evaluate import evaluate
from synth.search.pool import keep_memory
from synth.structure.elimination import Elimination
from synth.structure.monomials import MonomialPlates, _pads
from tests.bench.evaluate import ORDER, ROOMY, cell, rows, seconds

BLOCK = (ORDER + 1) * (ORDER + 2) // 2 + 3
"""Motions of a panel: plate shapes and three in its plane."""


@dataclass(eq=False)
class Work:
    """Floating-point operations and bytes read or written."""

    flops: float = 0.0
    bytes: float = 0.0

    def add(self, flops: float, numbers: float) -> None:
        self.flops += flops
        self.bytes += 8.0 * numbers

    def product(self, batch: int, m: int, k: int, n: int) -> None:
        """A batch of products [m, k] [k, n]."""
        self.add(2.0 * batch * m * k * n, batch * (m * k + k * n + m * n))


@contextmanager
def counted() -> Iterator[Work]:
    """Counts what the kernels are called with while it is open."""
    work = Work()
    factorise, solve, spread, pads = (
        Elimination.__init__, Elimination.solve, Elimination.covariance, MonomialPlates.pads,
    )  # fmt: skip

    def counted_factorise(self: Elimination, steps: Any, blocks: Any) -> None:
        factorise(self, steps, blocks)
        for part in self.parts:
            batch, count, n = part.inverse.shape[:3]
            wide = 0 if part.back is None else part.back.shape[-1]
            # Cholesky and the inverse of its factor: n^3 / 3 each
            work.add(2.0 * batch * count * n**3 / 3.0, 4.0 * batch * count * n * n)
            work.product(batch * count, n, n, n)
            for _ in ("beside", "back"):
                work.product(batch * count, n, n, wide)
            work.product(batch * count, wide, n, wide)

    def counted_solve(self: Elimination, load: Floats) -> Floats:
        columns = load.shape[-1]
        for part in self.parts:
            batch, count, n = part.inverse.shape[:3]
            work.product(batch * count, n, n, columns)
            for _ in ("forward", "back"):
                work.product(batch * count, n, 0 if part.back is None else part.back.shape[-1], columns)
        return solve(self, load)

    def counted_spread(self: Elimination, load: Any, columns: dict[int, Ints], count: int) -> dict[int, Floats]:
        active = {p: set(map(int, k)) for p, k in columns.items()}
        for part in self.parts:
            batch, _, n = part.inverse.shape[:3]
            wide = 0 if part.back is None else part.back.shape[-1]
            for p in part.panels:
                own = len(active[p])
                work.product(batch, n, n, own)
                for size in (wide, wide, n):
                    work.product(batch, n, size, own)
                work.product(batch, wide, own, wide)
                for _ in ("moved", "spread"):
                    work.product(batch, n, wide, wide)
                for q in self.steps.later[p]:
                    active[q] |= active[p]
        return spread(self, load, columns, count)

    def counted_pads(self: MonomialPlates, panel: Ints, foot: Floats, radius: Floats) -> Floats:
        found = pads(self, panel, foot, radius)
        # monomials at the middle and their derivatives, each with its weights: a product with a fixed table
        features = len(_pads(self.degree, self.degree // 2 if radius.any() else 0))
        work.product(1, found.shape[0] * found.shape[1], features, 3 * found.shape[-1])
        return found

    with (
        patch.object(Elimination, "__init__", counted_factorise),
        patch.object(Elimination, "solve", counted_solve),
        patch.object(Elimination, "covariance", counted_spread),
        patch.object(MonomialPlates, "pads", counted_pads),
    ):
        yield work


def limits() -> dict[str, float]:
    """What this core does: flops a second of a large product and of many small ones, bytes a second of a triad."""
    rng = np.random.default_rng(0)
    a, b = rng.random((768, 768)), rng.random((768, 768))
    small, other = rng.random((2000, BLOCK, BLOCK)), rng.random((2000, BLOCK, BLOCK))
    x, y, z = (rng.random(8_000_000) for _ in range(3))

    def triad() -> None:
        np.multiply(x, 1.5, out=z)
        np.add(z, y, out=z)

    return {
        "dgemm": 2.0 * 768.0**3 / seconds(lambda: a @ b, 5),
        "small": 2.0 * 2000.0 * BLOCK**3 / seconds(lambda: small @ other, 5),
        "stream": 8.0 * 5.0 * len(x) / seconds(triad, 5),
    }


def line(panels: int, batch: int, limit: dict[str, float]) -> str:
    """A row of the table: work of a candidate, times at the limits, time it takes."""
    chosen = cell(panels)
    columns = space(ROOMY, chosen).columns(rows(chosen, batch))
    run: Callable[[], object] = lambda: evaluate(ROOMY, chosen, columns)  # noqa: E731
    with counted() as work:
        run()
    taken = 1e3 * seconds(run, 3) / batch
    flops, size = work.flops / batch, work.bytes / batch
    at = [1e3 * flops / limit["dgemm"], 1e3 * flops / limit["small"], 1e3 * size / limit["stream"]]
    bound = max(at[1], at[2])
    cells = [
        f"{flops / 1e6:.2f}",
        f"{size / 1e6:.2f}",
        *(f"{t:.3f}" for t in at),
        f"{taken:.2f}",
        f"{taken / bound:.0f}",
    ]
    return f"| {panels} | " + " | ".join(cells) + " |"


def main() -> None:
    keep_memory()
    with threadpool_limits(1):
        limit = limits()
        print(f"one core: dgemm {limit['dgemm'] / 1e9:.1f} GFLOP/s, batches of {BLOCK} x {BLOCK} products ", end="")
        print(f"{limit['small'] / 1e9:.1f} GFLOP/s, triad {limit['stream'] / 1e9:.1f} GB/s (processor time)")
        print("| panels | MFLOP | MB | ms at dgemm | ms at small products | ms at triad | ms taken | over the bound |")
        print("| --- | --- | --- | --- | --- | --- | --- | --- |")
        for panels in (7, 19, 37, 61):
            print(line(panels, 64 if panels < 37 else 24, limit), flush=True)


if __name__ == "__main__":
    main()
