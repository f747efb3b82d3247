"""Masses add."""

import numpy as np

from synth.mass.rollup import panel_masses, perimeter
from tests.near import near


def test_sheet_areal_masses() -> None:
    """Case mass.silica_sheet_areal (thicknesses seen, products own): 2200 kg/m3 x 0.7 and 1.0 mm."""
    square = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
    outline = np.broadcast_to(square, (2, 1, 4, 2))
    got = panel_masses(outline, 2200.0 * np.array([0.0007, 0.001]), np.zeros(2))
    assert near(got[:, 0], [1.54, 2.2], rel=1e-12)


def test_edges_add_by_length() -> None:
    """A 3-4-5 triangle has a perimeter of 12 whatever the padding."""
    triangle = np.array([[0.0, 0.0], [3.0, 0.0], [0.0, 4.0]])
    padded = np.concatenate([triangle, triangle[-1:], triangle[-1:]])
    assert near(perimeter(triangle), 12.0, rel=1e-12)
    assert near(perimeter(padded), 12.0, rel=1e-12)
    got = panel_masses(padded[None, None], np.array([2.0]), np.array([0.1]))
    assert near(got, 2.0 * 6.0 + 0.1 * 12.0, rel=1e-12)
