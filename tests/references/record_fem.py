"""A candidate record by finite elements: every panel in Argyris elements (scikit-fem), joined as the contract says.

The plates share nothing with the program's polynomials. How units, masses and loads are put together is the recheck's,
which shares nothing with the program either. Element functions are made orthonormal panel by panel, which changes the
basis and not the space.
"""

from collections.abc import Mapping
from typing import Any

import numpy as np
import skfem
from scipy.sparse.linalg import LinearOperator, eigsh, splu
from skfem.helpers import dd, ddot, trace

from synth.core.arrays import Floats
from synth.recheck import network
from synth.recheck.network import Found, Network

RIM = 24
"""Points round a pad."""
INSIDE = 1e-9
"""Places on an outline are drawn inwards by this share, so that rounding leaves them in an element."""


class ElementPlate:
    """What the network needs of a plate (see synth.recheck.plate.Plate), in elements."""

    def __init__(self, panel: Mapping[str, Any], refined: int) -> None:
        ring = np.asarray(panel["outline"], dtype=np.float64)
        after = np.roll(ring, -1, axis=0)
        w = ring[:, 0] * after[:, 1] - ring[:, 1] * after[:, 0]
        self.area = float(w.sum() / 2.0)
        self.centre = ((ring + after) * w[:, None]).sum(axis=0) / (6.0 * self.area)
        n = len(ring)
        fan = np.stack([np.zeros(n, dtype=np.int64), 1 + np.arange(n), 1 + (np.arange(n) + 1) % n])
        mesh = skfem.MeshTri(np.vstack([self.centre, ring]).T, fan).refined(refined)
        self.basis = skfem.Basis(mesh, skfem.ElementTriArgyris(), intorder=10)
        d, nu = float(panel["bending_stiffness_n_m"]), float(panel["poisson_ratio"])

        @skfem.BilinearForm
        def bending(u, v, w):  # type: ignore[no-untyped-def]
            a, b = dd(u), dd(v)
            return d * ((1 - nu) * ddot(a, b) + nu * trace(a) * trace(b))

        gram = skfem.BilinearForm(lambda u, v, w: u * v).assemble(self.basis).toarray() / self.area
        # elements' freedoms are values, slopes and curvatures: scaled before they are mixed
        size = 1.0 / np.sqrt(np.diag(gram))
        root = np.linalg.cholesky(gram * size[:, None] * size)
        self.mix = size[:, None] * np.linalg.inv(root).T
        self.bending = self.mix.T @ bending.assemble(self.basis).toarray() @ self.mix
        laplace = skfem.LinearForm(lambda v, w: trace(dd(v))).assemble(self.basis)
        self.curvature = d * (1.0 + nu) * laplace @ self.mix
        self.points = self.basis.global_coordinates().value.reshape(2, -1).T
        self.weights = self.basis.dx.reshape(-1) / self.area
        value = np.stack([np.asarray(self.basis.interpolate(c)).reshape(-1) for c in self.mix.T], axis=1)
        slopes = [self.basis.interpolate(c).grad.reshape(2, -1) for c in self.mix.T]
        self.shape, self.slopes = value, np.stack(slopes, axis=-1)
        self.middle = (panel["z_back"] + panel["z_front"]) / 2.0
        self.half = (panel["z_front"] - panel["z_back"]) / 2.0
        self.spread = float(self.weights @ ((self.points - self.centre) ** 2).sum(axis=1))

    @property
    def size(self) -> int:
        return int(self.mix.shape[1]) + 3

    def over_discs(self, centres: Floats, radii: Floats) -> tuple[Floats, Floats]:
        """Means over discs; mean slope = (2 / r) mean over the rim of w n. At a point the slope comes from its nearest
        surroundings (nothing asks for it where a mass sits)."""
        turn = 2.0 * np.pi * (np.arange(RIM) + 0.5) / RIM
        rim = np.stack([np.cos(turn), np.sin(turn)], axis=-1)
        nodes, share = np.polynomial.legendre.leggauss(4)
        mean, slope = [], []
        for centre, radius in zip(centres, radii, strict=True):
            at = self.centre + (centre - self.centre) * (1.0 - INSIDE)
            reach = radius if radius > 0.0 else 1e-4
            inner = at + (reach * np.sqrt(0.5 * (nodes + 1)))[:, None, None] * rim
            edge = at + reach * rim
            if radius > 0.0:
                mean.append(np.repeat(0.5 * share / RIM, RIM) @ self._at(inner.reshape(-1, 2)))
                slope.append(2.0 / reach * rim.T @ self._at(edge) / RIM)
            else:
                mean.append(self._at(at[None])[0])
                inward = self._towards(at)
                slope.append(inward)
        return np.stack(mean), np.stack(slope, axis=1)

    def _towards(self, at: Floats) -> Floats:
        """Slopes at a point by differences that stay inside: steps towards the centre and across are taken inwards."""
        step = 1e-4
        away = self.centre - at
        base = at + away * min(1.0, 4.0 * step / max(float(np.linalg.norm(away)), 1e-9))
        return np.stack([
            (self._at((base + step * e)[None]) - self._at((base - step * e)[None]))[0] / (2.0 * step) for e in np.eye(2)
        ])  # fmt: skip

    def _at(self, points: Floats) -> Floats:
        return np.asarray(self.basis.probes(points.T) @ self.mix)


def by_elements(record: Mapping[str, Any], gravity_release: float, refocus: bool, refined: int) -> tuple[Found, Floats]:
    """All figures of the recheck's network with element plates, and the three lowest frequencies (Hz)."""
    known = network.plate
    network.plate = lambda panel, degree: ElementPlate(panel, degree)  # type: ignore[assignment, return-value]
    try:
        made = Network(record, refined, gravity_release)
    finally:
        network.plate = known
    size = made.stiffness.shape[0]
    factor = splu(made.stiffness, permc_spec="MMD_AT_PLUS_A", options={"SymmetricMode": True})
    inverse = LinearOperator((size, size), matvec=factor.solve, dtype=np.float64)
    lowest = eigsh(made.stiffness, k=3, M=made.mass, sigma=0.0, OPinv=inverse, v0=np.ones(size),
                   return_eigenvectors=False, tol=1e-8)  # fmt: skip
    return made.solve(refocus), np.sort(np.sqrt(np.maximum(lowest, 0.0))) / (2.0 * np.pi)
