"""Natural frequencies of plates against converged values.

Source: the reference notes, cases plate.cantilever_square, plate.free_square, plate.free_hexagon (derived: Ritz 20 x 20
terms and Argyris elements). Values in printed tables lie 0.2 to 1 % above the converged ones and are not used.
"""

import numpy as np
import pytest

from synth.core.arrays import Floats
from synth.structure.loads import Loads
from synth.structure.monomials import MonomialPlates
from synth.structure.orthogonal import OrthogonalPlates
from synth.structure.settled import _at_degree, _built
from tests.near import near
from tests.structure.make import strip

FREE_SQUARE = [13.468197, 19.596137, 24.270201, 34.800891, 34.800891, 61.093234]
FREE_HEXAGON = [6.38407, 6.38407, 10.67242, 13.632, 16.0916, 23.7923]
CANTILEVER = [3.47101, 8.50633, 21.2842]


def free_lambdas(plates: MonomialPlates | OrthogonalPlates, poisson: float) -> Floats:
    """omega sqrt(m / D) of the free plate, the three rigid motions left out."""
    forms = plates.forms
    stiff = plates.bending(np.ones((1, 1)), np.array([poisson]))[0, 0]
    heavy = forms.square[0, 0] * forms.area[0, 0]
    root = np.linalg.inv(np.linalg.cholesky(heavy))
    return np.sqrt(np.maximum(np.linalg.eigvalsh(root @ stiff @ root.T), 0.0))[3:]


def test_free_square() -> None:
    square = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])[None, None]
    assert near(free_lambdas(OrthogonalPlates(square, 14), 0.3)[:6], FREE_SQUARE, rel=1e-5)
    # degree 6 is an upper bound, within a per cent for the first three
    low = free_lambdas(MonomialPlates(square, 6), 0.3)[:3]
    assert (low >= FREE_SQUARE[:3]).all()
    assert near(low, FREE_SQUARE[:3], rel=0.006)


def test_free_square_without_poisson_effect() -> None:
    """nu = 0: 22.37329 twice, the free-free beam (case plate.free_square_poisson)."""
    square = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])[None, None]
    assert near(free_lambdas(OrthogonalPlates(square, 16), 0.0)[:3], [15.82263, 22.37329, 22.37329], rel=1e-5)


def test_free_hexagon() -> None:
    """omega s^2 sqrt(m / D), s the side."""
    turn = np.arange(6) * np.pi / 3
    hexagon = np.stack([np.cos(turn), np.sin(turn)], axis=-1)[None, None]
    assert near(free_lambdas(OrthogonalPlates(hexagon, 16), 0.3)[:5], FREE_HEXAGON[:5], rel=5e-4, why="degree 16")


def clamped_strips(strips: int, degree: int) -> Floats:
    """Three lambdas = omega a^2 sqrt(m / D) of a square of side 1 m cut into strips.

    24 stiff joints an edge join them again, and as many clamp the first at x = 0.
    """
    made = strip(
        strips,
        length=1.0 / strips,
        width=1.0,
        pairs=12,
        reach=0.0,
        spread=0.499,
        thickness=0.01,
        pad=1e-3,
        stiffness=(1e10, 1e10, 1e10, 1e7, 1e7, 1e7),
    )
    scale = 2 * np.pi / np.sqrt(made.panels.stiffness[0, 0] / (2700.0 * 0.01))
    network, _ = _built(made, Loads(), degree)
    return _at_degree(made, network, degree, Loads()).modes_hz * scale


@pytest.mark.parametrize(("degree", "known"), [(3, [3.516, 8.77, 22.06]), (4, [3.494, 8.59, 21.41])])
def test_four_strips_at_low_degree(degree: int, known: list[float]) -> None:
    """Four strips of degree 3 and 4: values of the design notes, rounded there to three or four digits (derived)."""
    assert near(clamped_strips(4, degree), known, rel=2e-3)


def test_square_of_strips_is_the_cantilever_plate() -> None:
    """A square cut into four strips and joined again rigidly vibrates as one clamped plate, from above in degree."""
    assert near(clamped_strips(4, 8), CANTILEVER, rel=4e-3, why="joined and clamped at 24 points, not lines")
