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
from synth.structure import network
from synth.structure.elimination import Elimination
from synth.structure.forms import disc_rule
from synth.structure.monomials import MonomialPlates
from tests.bench.test_evaluate import ORDER, ROOMY, cell, rows, seconds

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
    factorise, solve, respond = Elimination.__init__, Elimination.solve, Elimination.respond
    covariance, at_feet = network.covariance, MonomialPlates.at_feet

    def counted_factorise(self: Elimination, steps: Any, blocks: Any) -> None:
        factorise(self, steps, blocks)
        for p, root in self.root.items():
            batch, n = root.shape[:2]
            wide = n * len(steps.later[p])
            # Cholesky and the inverse of its factor: n^3 / 3 each
            work.add(2.0 * batch * n**3 / 3.0, 4.0 * batch * n * n)
            work.product(batch, n, n, wide)
            work.product(batch, wide, n, wide)

    def sweep(self: Elimination, p: int, batch: int, columns: int) -> None:
        n, wide = self.root[p].shape[-1], self.root[p].shape[-1] * len(self.steps.later[p])
        work.product(batch, n, n, columns)
        work.product(batch, wide, n, columns)

    def counted_solve(self: Elimination, load: dict[int, Floats]) -> dict[int, Floats]:
        for p, right in load.items():
            for _ in ("forward", "back"):
                sweep(self, p, len(right), right.shape[-1])
        return solve(self, load)

    def counted_respond(
        self: Elimination, load: dict[int, Floats], columns: dict[int, Ints], count: int
    ) -> dict[int, Floats]:
        active = {p: set(map(int, k)) for p, k in columns.items()}
        for p in self.steps.order:
            sweep(self, p, len(load[p]), len(active[p]))
            sweep(self, p, len(load[p]), count)
            for q in self.steps.later[p]:
                active[q] |= active[p]
        return respond(self, load, columns, count)

    def counted_covariance(asked: Any, factors: Elimination) -> Floats:
        found = covariance(asked, factors)
        work.product(found.shape[0] * found.shape[1], found.shape[-1], asked.draws, found.shape[-1])
        return found

    def counted_feet(self: MonomialPlates, panel: Ints, foot: Floats, radius: Floats) -> tuple[Floats, Floats]:
        value, gradient = at_feet(self, panel, foot, radius)
        points, batch = len(disc_rule(self.degree)[0]), value.shape[0] * value.shape[1]
        # whitening, powers of both coordinates, and the table of their products
        work.add(batch * points * (8.0 + 2.0 * self.degree), batch * points * (4.0 + 2.0 * self.degree))
        work.product(batch, self.degree + 1, points, self.degree + 1)
        return value, gradient

    with (
        patch.object(Elimination, "__init__", counted_factorise),
        patch.object(Elimination, "solve", counted_solve),
        patch.object(Elimination, "respond", counted_respond),
        patch.object(network, "covariance", counted_covariance),
        patch.object(MonomialPlates, "at_feet", counted_feet),
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
