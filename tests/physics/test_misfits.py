"""Networks with misfits against the least-energy principle (reference notes, cases error.network, error.ring_closure,
error.parallel_tilt; derived)."""

from dataclasses import replace

import numpy as np
import pytest

from synth.core.arrays import Floats
from synth.core.design import Design
from synth.core.joints import SPACECRAFT
from synth.structure.assembly import GROWTH, Network, assemble
from synth.structure.elimination import Elimination
from synth.structure.loads import Loads
from synth.structure.monomials import MonomialPlates
from synth.structure.network import covariance, deployed
from tests.near import near
from tests.physics.structure_cases import case
from tests.physics.test_chain import LENGTH, SIGMA, chain
from tests.structure.make import ALONG_X, design, rectangle, sectors, unit

RING = list(zip(case("error.ring_closure").inputs["n"], case("error.ring_closure").expected[0], strict=True))[:4]


def factorised(made: Design, offset: Floats | None) -> tuple[Network, Elimination]:
    made = replace(made, units=replace(made.units, free_offset=offset))
    network = assemble(made, MonomialPlates(made.geometry.outline, 3), Loads())
    return network, Elimination(network.wiring.steps, network.blocks(network.spring, network.plate))


def test_three_nodes_and_five_springs() -> None:
    """u = (B^T K B)^-1 B^T K d and the node deviations of independent 1 um misfits, along z.

    Three small stiff panels are the nodes; a sixth to eighth unit each keeps them from turning and shifting only.
    """
    outlines = [rectangle(x, 0.0, x + 0.1, 0.1) for x in (0.0, 0.2, 0.4)]
    ends = [(0, SPACECRAFT), (0, 1), (1, 2), (2, SPACECRAFT), (0, 2)]
    units = [unit(np.array([0.05, 0.05, -0.005]), ALONG_X, i, j, 0, 2, 0.0) for i, j in ends]
    for u, (i, j) in zip(units, ends, strict=True):
        u["feet"] = np.array([[0.05 + 0.2 * i, 0.05], [0.05 + 0.2 * max(j, 0), 0.05]])
    units += [unit(np.array([0.05 + 0.2 * p, 0.05, -0.005]), ALONG_X, p, SPACECRAFT, 0, 2, 0.0) for p in range(3)]
    made = design(outlines, [-1, 0, 1], units, modulus=1e12)
    stiffness, sigma = np.zeros((1, 8, 6)), np.zeros((1, 8, 6))
    stiffness[0, :5, 2] = [100.0, 200.0, 150.0, 120.0, 80.0]
    stiffness[0, 5:] = [1e5, 1e5, 0.0, 1e5, 1e5, 1e5]
    sigma[0, :5, 2] = 1e-6
    made = replace(made, units=replace(made.units, stiffness=stiffness, sigma=sigma))
    offset = np.zeros((1, 8, 6))
    # the first spring counts node 1 less the ground, a unit to the spacecraft the other way round
    offset[0, :5, 2] = [-1.0e-6, -2.0e-6, 5.0e-7, 1.5e-6, 3.0e-6]
    network, factors = factorised(made, offset)
    motion = factors.solve(network.steady)[..., GROWTH]
    first = network.forms.first
    height = np.einsum("bpn,bpn->bp", first, motion[..., :-3])
    assert near(height, [[-3.01886792453e-7, -1.70754716981e-6, -4.15094339623e-7]], rel=1e-3, why="stiff holds")
    spread = covariance(network, factors)[..., :-3, :-3]
    deviation = np.sqrt(np.einsum("bpi,bpij,bpj->bp", first, spread, first))
    assert near(deviation, [[8.03383730417e-7, 1.00184504053e-6, 7.99858700587e-7]], rel=1e-3, why="stiff holds")


@pytest.mark.parametrize(("count", "variance"), RING)
def test_ring_closed_by_a_latch(count: int, variance: float) -> None:
    """Rigid sectors round a vertex: the angles that misfits leave have variance 1 - 2/n, stored energy k sigma^2.

    Row k of the batch has a misfit of 1 urad on radial joint k alone, so sums over rows are sums of squares.
    """
    made, offset = sectors(count)
    network, factors = factorised(made, offset)
    angle = network.strain(factors.solve(network.steady))[..., 3, GROWTH][:, :count]
    assert near((angle**2).sum(axis=0) * 1e12, variance, rel=2e-3, why="panels and joints not rigid")
    strain = angle - offset[:, :count, 3]
    assert near(0.5 * (strain**2).sum() * 1e12, 1.0, rel=2e-3, why="panels and joints not rigid")


def test_tilt_of_one_panel_on_its_mount() -> None:
    """A panel alone is never unflat: its tilts vanish in the fit; un-fitted they are sigma s / sqrt 12 an axis.

    Two panels on separate mounts keep half of it: with tilts a, b of panels side by side about the row's axis the fit
    takes the mean, so ms = sigma^2 s^2 / 24 (case error.parallel_tilt, datum by hand).
    """
    side = 0.25
    outlines = [rectangle(0.0, 0.0, side, side), rectangle(side, 0.0, 2 * side, side)]
    units = [unit(np.array([side / 2 + side * k, side / 2, -0.005]), ALONG_X, k, SPACECRAFT, 0, 2, 0.0) for k in (0, 1)]
    # turns about the x axis: the second row of ALONG_X is x
    made = design(outlines, [-1, 0], units, modulus=1e14, sigma=(0.0, 0.0, 0.0, 0.0, 1e-5, 0.0))
    assert near(deployed(made, Loads()).joints_m2, (1e-5 * side) ** 2 / 24, rel=1e-6)


@pytest.mark.parametrize("count", [2, 3, 4, 6])
def test_chain_whose_hinges_share_one_error(count: int) -> None:
    """One jig set all hinges: slopes sigma, 2 sigma, 3 sigma ... are a bowl, mean square about the best line by hand.

    Against independent errors (cases error.chain_n*): 1/48 and 1/48 for two panels, 2.1 times as much for six.
    """
    made = chain(count)
    shared = np.array(["jig"] * len(made.units.panels))
    tied = replace(made, units=replace(made.units, cause=shared))
    x = (np.arange(4000 * count) + 0.5) / 4000
    z = np.maximum(x[:, None] - np.arange(count), 0.0).sum(axis=1)
    fit = np.stack([np.ones_like(x), x], axis=1)
    left = z - fit @ np.linalg.lstsq(fit, z, rcond=None)[0]
    found = deployed(tied, Loads()).joints_m2 / (SIGMA * LENGTH) ** 2
    assert near(found, np.mean(left**2), rel=2e-4, why="springs and panels not infinitely stiff")
    apart = deployed(made, Loads()).joints_m2 / (SIGMA * LENGTH) ** 2
    assert near(
        apart, case(f"error.chain_n{count}").expected[3], rel=2e-4, why="springs and panels not infinitely stiff"
    )
    assert found[0] > 0.99 * apart[0]
