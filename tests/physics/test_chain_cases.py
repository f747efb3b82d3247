"""Frequencies of rigid chains, and rings closed by a latch: cases chain.* and error.ring_closure (derived).

Panels and all springs but those that the case speaks of are so stiff that the network is the chain or the ring.
"""

from dataclasses import replace

import numpy as np
import pytest

from synth.core.arrays import Floats
from synth.core.design import Design
from synth.structure.assembly import GROWTH, Network, assemble
from synth.structure.elimination import Elimination
from synth.structure.loads import Loads
from synth.structure.modes import lowest, scattered
from synth.structure.monomials import MonomialPlates
from tests.near import near
from tests.physics.structure_cases import case
from tests.physics.test_chain import LENGTH, SPRING, chain
from tests.structure.make import sectors

RIGID = "springs and plates not infinite"


def built(made: Design, degree: int = 2) -> tuple[Network, MonomialPlates, Elimination]:
    plates = MonomialPlates(made.geometry.outline, degree)
    network = assemble(made, plates, Loads())
    return network, plates, Elimination(network.wiring.steps, network.blocks(network.spring, network.plate))


def modes(count: int) -> Floats:
    """omega of the chain in sqrt(k / (m a^2))."""
    made = chain(count)
    network, _, factors = built(made)
    shape = network.steady.shape
    start = np.broadcast_to(scattered(shape[1], shape[2], count + 8), (*shape[:3], count + 8))
    found, _ = lowest(factors.solve, network.inertia, start, 14, count)
    return np.asarray(2.0 * np.pi * found[0] / np.sqrt(SPRING / (made.panels.mass[0, 0] * LENGTH**2)))


@pytest.mark.parametrize("count", range(1, 7))
def test_chain_frequencies(count: int) -> None:
    near(modes(count), case(f"chain.freq_n{count}").expected, rel=2e-4, why=RIGID)


def test_chains_tend_to_a_beam() -> None:
    asked = case("chain.continuum_limit")
    found = [n**2 * modes(n)[0] for n in asked.inputs["n"]]
    near(found, asked.expected, rel=1e-4, why=RIGID)
    # differences to the beam fall about as 1 / n
    left = case("beam.cantilever").expected[2] - np.array(found)
    assert (np.diff(left) < 0.0).all() and left[-1] * 6 < 1.1 * left[-2] * 5


@pytest.mark.parametrize("place", range(5))
def test_ring_closed_by_a_latch(place: int) -> None:
    """Rigid sectors round a vertex: residual angle variance 1 - 2/n, stored energy k sigma^2, open seam n - 1.

    Row k of the batch has a misfit of 1 urad on radial joint k alone, so sums over rows are sums of squares.
    """
    asked = case("error.ring_closure")
    count = asked.inputs["n"][place]
    angle, offset, seam = ring(count)
    residual = (angle**2).sum(axis=0) * 1e12
    strain = angle - offset
    energy = 0.5 * float((strain**2).sum()) * 1e12
    near(residual, asked.expected[0][place], rel=3e-3, why="panels and joints not rigid")
    near(energy, asked.expected[1][place], rel=3e-3, why="panels and joints not rigid; k sigma^2 / 2 twice")
    near(seam, asked.expected[2][place], rel=3e-3, why="panels and joints not rigid")


def ring(count: int) -> tuple[Floats, Floats, float]:
    """Angles [count, count] left in the joints of the closed ring, misfits, mean square turn of an open seam."""
    made, offset = sectors(count)
    network, _, factors = built(replace(made, units=replace(made.units, free_offset=offset)), 3)
    angle = network.strain(factors.solve(network.steady))[..., 3, GROWTH][:, :count]
    loose = made.units.stiffness.copy()
    loose[:, count - 1] = 1e-6
    network, _, factors = built(replace(made, units=replace(made.units, stiffness=loose, free_offset=offset)), 3)
    gap = network.strain(factors.solve(network.steady))[:, count - 1, 3:5, GROWTH]
    # the last row's misfit is the open seam's own: it has none to turn
    return angle, offset[:, :count, 3], float((gap[:-1] ** 2).sum()) * 1e12
