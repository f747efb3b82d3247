"""Least cylinders: closed forms, lying and upright, batch against exact."""

import numpy as np

from synth.stow.cylinder import cylinder_sizes, stowed_cylinder
from tests.fold import chains
from tests.near import near
from tests.stow.test_box import stowed_corners


def block(x: float, y: float, z: float) -> np.ndarray:
    return np.array([[i * x, j * y, k * z] for i in (0, 1) for j in (0, 1) for k in (0, 1)])


def test_a_block_stands_or_lies_whichever_takes_less() -> None:
    room = np.array([10.0, 10.0, 10.0])
    upright = stowed_cylinder(block(0.3, 0.4, 1.0), room)
    near(upright.size, [0.5, 0.5, 1.0], rel=1e-12)
    lying = stowed_cylinder(block(1.0, 0.3, 0.4), room)
    near(lying.size, [0.5, 0.5, 1.0], rel=1e-12)
    near(np.linalg.det(lying.rotation), 1.0, rel=1e-12)
    turned = block(1.0, 0.3, 0.4) @ lying.rotation.T
    near(np.ptp(turned[:, 2]), 1.0, rel=1e-12)
    low = stowed_cylinder(block(1.0, 0.5, 0.3), np.array([5.0, 5.0, 0.4]))
    near(low.size, [np.hypot(1.0, 0.5)] * 2 + [0.3], rel=1e-12, why="too low for a lying axis")


def test_a_hexagon_chain_fills_its_own_circle() -> None:
    laid = chains.serial(9, pitch=0.3, thickness=0.004, gap=0.0005, edge_gap=0.001)
    found = stowed_cylinder(stowed_corners(laid)[0], np.array([1.0, 1.0, 1.0]))
    near(found.size, [0.299 * 2 / np.sqrt(3)] * 2 + [9 * 0.004 + 8 * 0.0005], rel=1e-12)


def test_the_batch_is_never_better_than_exact_and_close_to_it() -> None:
    rng = np.random.default_rng(3)
    points = rng.uniform(-1, 1, size=(30, 24, 3)) * [0.4, 0.25, 0.1]
    allowed = np.array([[0.6, 0.6, 0.9], [0.9, 0.9, 0.3]])
    size, ratio = cylinder_sizes(points, allowed)
    worst = 0.0
    for b, e in np.ndindex(30, 2):
        exact = stowed_cylinder(points[b], allowed[e])
        near((size[b, e] / allowed[e]).max(), ratio[b, e], rel=1e-12)
        if exact.fit <= 1.0 and ratio[b, e] <= 1.0:
            assert size[b, e].prod() >= exact.size.prod() * (1 - 1e-6)
            worst = max(worst, size[b, e].prod() / exact.size.prod() - 1.0)
        else:
            assert ratio[b, e] >= exact.fit - 1e-6
            worst = max(worst, ratio[b, e] / exact.fit - 1.0)
    print(f"batch worse than exact by at most {worst:.2%}")
    assert worst < 0.12, "round sections of random clouds are far from rectangles; those of stacks are rectangles"
