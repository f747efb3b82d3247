"""A framed square by finite elements: bars as plates, the sheet bonded to their front as a plate off the mid-plane.

Deflection in Argyris elements, in-plane motion of the bars' mid-plane in quadratic ones; the sheet stretches by that
motion and by its distance from the mid-plane times the curvature. No smearing, no beam theory.
"""

from dataclasses import dataclass

import numpy as np
import skfem
from scipy.sparse import bmat
from scipy.sparse.linalg import spsolve
from skfem.helpers import dd, ddot, sym_grad, trace

from synth.core.arrays import Floats


@dataclass(frozen=True)
class Layer:
    """E (Pa), nu, height (m)."""

    modulus: float
    poisson: float
    height: float

    @property
    def stretch(self) -> float:
        return self.modulus * self.height / (1.0 - self.poisson**2)


def give(side: float, width: float, bars: Layer, sheet: Layer, forces: Floats, places: Floats, warmth: float = 0.0,
         cells: int = 3) -> tuple[float, float]:  # fmt: skip
    """Twice the energy (m) of self-balanced forces [F] at places [F, 2] of a free square, and the deflection (m) along
    those forces when the sheet alone grows by the strain `warmth`."""
    edge = np.linspace(0.0, width, cells + 1)
    ticks = np.concatenate([edge, np.linspace(width, side - width, 8)[1:-1], side - edge[::-1]])
    mesh = skfem.MeshTri.init_tensor(ticks, ticks)
    flat = skfem.Basis(mesh, skfem.ElementVector(skfem.ElementTriP2()), intorder=8)
    bent = skfem.Basis(mesh, skfem.ElementTriArgyris(), intorder=8)
    x, y = bent.global_coordinates().value
    bar = np.where((np.minimum(x, side - x) < width) | (np.minimum(y, side - y) < width), 1.0, 0.0)
    rise = 0.5 * (bars.height + sheet.height)

    def plane(layer: Layer, a, b):  # type: ignore[no-untyped-def]
        return layer.stretch * ((1 - layer.poisson) * ddot(a, b) + layer.poisson * trace(a) * trace(b))

    def in_plane(u, v, w):  # type: ignore[no-untyped-def]
        a, b = sym_grad(u), sym_grad(v)
        return w.bar * plane(bars, a, b) + plane(sheet, a, b)

    def bending(u, v, w):  # type: ignore[no-untyped-def]
        a, b = dd(u), dd(v)
        return (w.bar * bars.height**2 / 12 * plane(bars, a, b)
                + (sheet.height**2 / 12 + rise**2) * plane(sheet, a, b))  # fmt: skip

    def coupled(u, v, w):  # type: ignore[no-untyped-def]
        return -rise * plane(sheet, dd(u), sym_grad(v))

    parts = [
        skfem.BilinearForm(in_plane).assemble(flat, bar=bar),
        skfem.BilinearForm(coupled).assemble(bent, flat),
        skfem.BilinearForm(bending).assemble(bent, bar=bar),
    ]
    grow = sheet.stretch * (1.0 + sheet.poisson)
    warm = np.concatenate([
        skfem.LinearForm(lambda v, w: grow * trace(sym_grad(v))).assemble(flat),
        skfem.LinearForm(lambda v, w: -rise * grow * trace(dd(v))).assemble(bent),
    ])  # fmt: skip
    load = np.concatenate([np.zeros(flat.N), bent.probes(places.T).toarray().T @ forces])
    stiff = bmat([[parts[0], parts[1]], [parts[1].T, parts[2]]]).tocsr()
    # rigid motions are held by a few freedoms: three of a corner in deflection, three in the plane
    here = bent.nodal_dofs[:3, 0]
    far = int(np.argmax(mesh.p[0] - mesh.p[1]))
    fixed = np.concatenate([flat.nodal_dofs[:, 0], flat.nodal_dofs[1:2, far], flat.N + here])
    free = np.setdiff1d(np.arange(stiff.shape[0]), fixed)
    found = spsolve(stiff[free][:, free].tocsc(), np.stack([load, warmth * warm], axis=1)[free])
    return float(load[free] @ found[:, 0]), float(load[free] @ found[:, 1])
