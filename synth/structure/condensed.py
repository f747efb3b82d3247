"""One candidate with many shapes a panel: every panel condensed, exactly, to the motion of its feet.

With K_e = L L^T the elastic stiffness of a free plate and T the rows of its leaves, only the span of
Y = L^-1 T_e^T (three columns a leaf) meets the joints. In e = L^-T (Q y + s), Q an orthonormal basis of that span
and s its complement, the plate energy is |y|^2 + |s|^2 and no joint feels s: the network keeps six rigid freedoms
and y for each panel, and s answers to its own load alone. No approximation is made.
"""

from dataclasses import dataclass, replace

import numpy as np

from synth.core.arrays import Floats, Ints
from synth.structure.accuracy import Gauge
from synth.structure.assembly import Network
from synth.structure.elimination import Elimination

RIGID = 3
"""The first shapes of an orthonormal basis are the rigid plane; the last three freedoms are in plane."""
STIFF = RIGID + 3
"""A condensed panel has these first, the rigid plane and the three in plane; y after them."""


@dataclass(frozen=True, eq=False)
class Condensed:
    """lower = L^-1 [1, P, E, E], basis = Q [1, P, E, C], zeros where a panel has fewer than C columns; small: the
    network of six rigid freedoms and y; its factors."""

    lower: Floats
    basis: Floats
    small: Network
    factors: Elimination

    def solve(self, load: Floats) -> Floats:
        """K^-1 of loads [1, P, N', R] of the whole network."""
        elastic = self.lower @ load[..., RIGID:-3, :]
        felt = np.swapaxes(self.basis, -1, -2) @ elastic
        rest = elastic - self.basis @ felt
        return self.expand(self.factors.solve(_reduced(load, felt)), rest)

    def expand(self, reduced: Floats, rest: Floats | None = None) -> Floats:
        """Motions [1, P, N', R] from reduced ones [1, P, 6 + C, R] and the complement [1, P, E, R]."""
        inner = self.basis @ reduced[..., STIFF:, :]
        if rest is not None:
            inner = inner + rest
        elastic = np.swapaxes(self.lower, -1, -2) @ inner
        return np.concatenate([reduced[..., :RIGID, :], elastic, reduced[..., RIGID:STIFF, :]], axis=-2)

    def reduce(self, field: Floats) -> Floats:
        """What reduced motions meet of a field [1, P, N', R]: [1, P, 6 + C, R] (the transpose of expand)."""
        return _reduced(field, np.swapaxes(self.basis, -1, -2) @ (self.lower @ field[..., RIGID:-3, :]))

    def narrow(self, gauge: Gauge) -> Gauge:
        """The gauge that measures reduced motions as the given one does the whole ones."""
        half = self.reduce(gauge.square)
        return Gauge(self.reduce(np.swapaxes(half, -1, -2)), self.reduce(gauge.fit), gauge.gram)

    def widen(self, covariance: Floats) -> Floats:
        """Covariance [1, P, N', N'] of whole motions from that of reduced ones."""
        half = self.expand(covariance)
        return np.swapaxes(self.expand(np.swapaxes(half, -1, -2)), -1, -2)


def condense(network: Network, axes: Floats) -> Condensed:
    """Condenses and factorises the network of one candidate; axes [1, U, 3, 3] are those of its units.

    Raises LinAlgError where a plate has no stiffness or the network is loose.
    """
    elastic = slice(RIGID, -3)
    stiff = network.plate[..., elastic, elastic]
    factor = np.asarray(np.linalg.cholesky(0.5 * (stiff + np.swapaxes(stiff, -1, -2))))
    lower = np.swapaxes(np.asarray(np.linalg.inv(np.swapaxes(factor, -1, -2))), -1, -2)
    basis, columns = _basis(network, axes, lower, elastic)
    low = np.zeros((1, 1, *network.rows.shape[2:4], 0))
    ends = network.wiring.panel.reshape(-1, 2)
    bent = (network.rows[..., elastic] @ np.swapaxes(lower, -1, -2)[:, ends]) @ basis[:, ends]
    rows = np.concatenate([network.rows[..., :RIGID], network.rows[..., -3:], bent], axis=-1)
    plate = np.zeros((*network.plate.shape[:2], rows.shape[-1], rows.shape[-1]))
    inner = np.arange(STIFF, rows.shape[-1])
    plate[..., inner, inner] = 1.0
    small = replace(network, plate=plate, rows=rows, inertia=low, steady=low)
    blocks = {
        (p, q): block[:, : STIFF + columns[p], : STIFF + columns[q]]
        for (p, q), block in small.blocks(small.spring, plate).items()
    }
    return Condensed(lower, basis, small, Elimination(network.wiring.steps, blocks))


def _reduced(field: Floats, felt: Floats) -> Floats:
    return np.concatenate([field[..., :RIGID, :], field[..., -3:, :], felt], axis=-2)


def _basis(network: Network, axes: Floats, lower: Floats, elastic: slice) -> tuple[Floats, Ints]:
    """Q [1, P, E, C] of L^-1 times deflection and both rotations of every leaf, and how many columns each panel has."""
    batch, units, _, _, size = network.rows.shape
    parts = network.rows.reshape(batch, units, 2, 2, 3, size)
    turned = np.swapaxes(axes, -1, -2)[:, :, None, None] @ parts
    three = np.stack([turned[..., 0, 2, :], turned[..., 1, 0, :], turned[..., 1, 1, :]], axis=-2)[..., elastic]
    sides = three.reshape(batch, 2 * units, 3, -1)
    most = lower.shape[-1]
    columns = np.zeros(network.wiring.panels, dtype=np.int64)
    for panels, table in network.wiring.sides:
        columns[panels] = min(3 * table.shape[1], most)
    out = np.zeros((*lower.shape[:-1], int(columns.max())))
    for panels, table in network.wiring.sides:
        leaves = np.swapaxes(sides[:, table].reshape(batch, len(panels), -1, most), -1, -2)
        out[:, panels, :, : columns[panels[0]]] = np.linalg.qr(lower[:, panels] @ leaves)[0]
    return out, columns
