"""Cost of the deployed network on one core, and the ratio to the obvious way. Run with -s to read the numbers."""

import numpy as np
from scipy.linalg import eigh, solve
from threadpoolctl import threadpool_limits

from synth.core.design import Design
from synth.structure.loads import Loads
from synth.structure.network import deployed
from synth.structure.settled import settled
from tests.bench.timing import seconds
from tests.near import near
from tests.references.plain_network import left_over, twin
from tests.structure.make import grid, varied

LOADS = Loads(gravity_release=0.02)


def obvious(design: Design) -> tuple[float, float]:
    """Joint error and first mode of one candidate: dense matrices, scipy, numbers at quadrature points."""
    plain = twin(design, 3, 0.02, parts=6)
    answer = solve(plain.stiffness, np.column_stack([plain.misfit_loads, *plain.loads.values()]), assume_a="pos")
    points, weights, heights = plain.heights(answer)
    squares = weights @ left_over(points, weights, heights, False) ** 2 / weights.sum()
    lowest = eigh(plain.stiffness, plain.inertia, eigvals_only=True, subset_by_index=[0, 0])[0]
    return squares[: plain.misfit_loads.shape[1]].sum(), np.sqrt(lowest) / (2 * np.pi)


def test_batch_against_the_obvious_way() -> None:
    """20 panels, 19 hinges of two units, three mount units, order 3, 32 candidates: the batch is 20 times faster."""
    made = varied(grid(5, 4, hinge_mass=0.05), 32)
    with threadpool_limits(1):
        deployed(made, LOADS, 3)
        batch = seconds(lambda: deployed(made, LOADS, 3), 7) / made.rows
        single = seconds(lambda: obvious(made.take(np.zeros(1, dtype=np.int64))), 2)
        found = deployed(made.take(np.zeros(1, dtype=np.int64)), LOADS, 3)
        joints, mode = obvious(made.take(np.zeros(1, dtype=np.int64)))
    print(f"\n20 panels, order 3: {batch * 1e3:.2f} ms a candidate in a batch of {made.rows}; ", end="")
    print(f"obvious way {single * 1e3:.0f} ms; ratio {single / batch:.0f}")
    assert near(found.joints_m2, joints, rel=5e-3, why="coarse quadrature of the obvious way")
    assert near(found.first_mode_hz, mode, rel=2e-3)
    assert single / batch > 20.0


def test_cost_grows_gently() -> None:
    """Prints milliseconds a candidate over sizes and orders, and seconds of settled figures (no bound asserted
    but that 20 panels stay below 12 ms on a slow or busy machine; the aim is 3)."""
    with threadpool_limits(1):
        for columns, lines, latched in ((3, 2, False), (5, 4, False), (5, 4, True), (9, 7, False)):
            made = varied(grid(columns, lines, latched=latched, hinge_mass=0.05), 16)
            one = made.take(np.zeros(1, dtype=np.int64))
            cost = [seconds(lambda m=made, o=order: deployed(m, LOADS, o), 3) / 16 * 1e3 for order in (3, 4)]
            slow = seconds(lambda m=one: settled(m, LOADS), 1)
            name = f"{columns * lines} panels{', latched' if latched else ''}"
            print(f"\n{name}: {cost[0]:.2f} ms (order 3), {cost[1]:.2f} ms (order 4); settled {slow:.2f} s", end="")
            if columns * lines == 20:
                assert cost[0] < 12.0
