"""Freedoms from the motions of panels against known linkages: the program's own count goes by loops and screws."""

from typing import Any

import numpy as np
import pytest

from synth.core.arrays import Floats
from synth.fold.thickness import bennett_steps, miura_levels
from synth.fold.tree import poses
from synth.fold.vertex import flat_foldable_folds
from synth.recheck.freedoms import counted
from tests.fold.structures import Structure, miura_corners, miura_folds, miura_heights, sheet, vertex

SECTORS = np.radians([60.0, 80.0, 120.0, 100.0])
CORNER = np.radians(65.0)


def told(shape: Structure, folds: Floats, moving: set[int] | None = None) -> tuple[int, int]:
    hinges = [
        {"id": h, "panels": pair.tolist(), "axis": line.tolist()}
        for h, (pair, line) in enumerate(zip(shape.topology.hinges, shape.axis[0], strict=True))
    ]
    placed = poses(shape.topology, shape.axis, shape.by_hinge(folds)[None, None])[0, 0]
    record: dict[str, Any] = {"hinges": hinges}
    return counted(record, placed, set(range(len(hinges))) if moving is None else moving)


def test_spherical_and_bennett_linkages_have_one_freedom_and_three_constraints_too_many() -> None:
    """Kutzbach: four hinges in a loop n - 6 = -2, and yet one freedom."""
    folds = flat_foldable_folds(SECTORS, np.array(1.1), "b")
    heights = 0.05 * np.concatenate([[0.0], np.cumsum(bennett_steps(SECTORS, "b"))[:-1]])
    assert told(vertex(SECTORS), folds) == told(vertex(SECTORS, heights), folds) == (1, 3)
    assert told(vertex(SECTORS, heights), folds, {0, 1, 2}) == (0, 3)
    heights[1] += 1e-3
    assert told(vertex(SECTORS, heights), folds) == (0, 2)


def test_a_thin_vertex_of_six_creases_has_three_freedoms() -> None:
    folds = np.array([0.9, -0.9, 0.9, -0.9, 0.9, -0.9])
    # not closed, but no matter: six lines through one point
    assert told(vertex(np.full(6, np.pi / 3.0)), folds)[0] == 3


@pytest.mark.parametrize(("m", "n"), [(2, 2), (3, 3), (4, 5)])
def test_thick_miura_sheets(m: int, n: int) -> None:
    """One freedom; 6 rows for each of the (m - 1)(n - 1) loops, less what they tie (case dof_thick_miura)."""
    shape = sheet(miura_corners(m, n, CORNER), 0.03 * miura_heights(m, n, miura_levels(m, n, "columns")))
    hinges = (m - 1) * n + m * (n - 1)
    assert told(shape, miura_folds(m, n, CORNER, 0.6)) == (1, 6 * (m - 1) * (n - 1) - (hinges - 1))
    assert told(shape, miura_folds(m, n, CORNER, 0.6), {0})[0] == 0
