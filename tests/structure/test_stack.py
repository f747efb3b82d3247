"""The stowed stack against a chain of masses on springs, and the bound of its parts."""

from dataclasses import replace

import numpy as np

from synth.core.design import Design
from synth.structure.stack import PAD_LATERAL, PAD_NORMAL, POINTS, stack
from synth.structure.stowed import launch
from tests.near import near
from tests.structure.make import strip
from tests.structure.test_stowed import made_of


def piled(count: int, **given: float) -> Design:
    """Strips that lie on each other, panel k in layer k, the root somewhere in the middle of the count."""
    made = strip(count, 0.2, 0.3, **given)
    return replace(made, topology=replace(made.topology, level=np.arange(count) - count // 2))


def test_equal_layers_are_a_chain_of_masses() -> None:
    """omega = 2 sqrt(K / m) sin(pi / (2 (2 n + 1))) for n equal masses on n springs, one end fixed (classical)."""
    for n in (2, 5, 12):
        got = stack(piled(n), np.full((1, n), 0.7), 0.0)
        omega = 2.0 * np.sqrt(POINTS * PAD_LATERAL / 0.7) * np.sin(np.pi / (2.0 * (2.0 * n + 1.0)))
        assert near(got.lateral, omega**-2.0, rel=1e-9)
        # the first pads are in the panel's own model: a chain of flexibility min(i, j) - 1 at i = j
        chain = np.minimum.outer(np.arange(n), np.arange(n)) + 1.0 - np.eye(n)
        assert near(got.normal, 0.7 * np.linalg.eigvalsh(chain).max() / (POINTS * PAD_NORMAL), rel=1e-9)


def test_a_panel_alone_rests_on_its_own_pads() -> None:
    made = strip(3, 0.2, 0.3)
    got = stack(made, np.array([[0.5, 0.8, 0.4]]), 10.0)
    assert got.normal[0] == 0.0 and near(got.lateral, 0.8 / (POINTS * PAD_LATERAL), rel=1e-12)
    assert near(got.preload, 10.0 * 9.80665 * 0.8 / 4.0, rel=1e-12)


def test_preload_carries_the_whole_pile() -> None:
    got = stack(piled(4), np.array([[1.0, 2.0, 3.0, 4.0]]), 20.0)
    assert near(got.preload, 20.0 * 9.80665 * 10.0 / 4.0, rel=1e-12)


def test_stack_and_panels_together_are_bounded_from_below() -> None:
    """Layers as sprung masses (stiffness c beside their pads) on the chain, solved whole: the sum of the parts holds
    exactly for equal layers and bounds 1 / omega^2 from above for others."""
    n, m, k = 6, 0.9, POINTS * PAD_NORMAL
    chain = (np.minimum.outer(np.arange(n), np.arange(n)) + 1.0) / k
    for c in (np.full(n, 3.0e5), np.geomspace(5.0e6, 1.0e8, n)):
        whole = m * np.linalg.eigvalsh(chain + np.diag(1.0 / c)).max()
        own = m * (1.0 / c.min() + 1.0 / k)
        bound = own + stack(piled(n), np.full((1, n), m), 0.0).normal[0]
        assert own < whole <= bound * (1.0 + 1e-12)
        assert c.max() > c.min() or near(bound, whole, rel=1e-9)


def test_a_higher_stack_is_softer() -> None:
    low, high = piled(3, thickness=0.02), piled(9, thickness=0.02)
    assert launch(high, made_of(high), 15.0).first_mode_hz[0] < 0.8 * launch(low, made_of(low), 15.0).first_mode_hz[0]
