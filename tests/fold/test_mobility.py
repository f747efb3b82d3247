"""Mobility by rank: stages, locked hinges, scale, and the finite motion that proves a count."""

from dataclasses import replace

import numpy as np

from synth.fold.mobility import mobility, stage_mobility
from synth.fold.thickness import bennett_steps, miura_levels
from synth.fold.vertex import flat_foldable_folds
from tests.fold.structures import miura_corners, miura_folds, miura_heights, sheet, vertex

CORNER, TILT = np.radians(65.0), np.radians(35.0)


def test_locking_any_crease_of_a_sheet_locks_it() -> None:
    shape = sheet(miura_corners(3, 3, CORNER), 0.03 * miura_heights(3, 3, miura_levels(3, 3, "columns")))
    folds = shape.by_hinge(miura_folds(3, 3, CORNER, TILT))[None]
    for h in range(folds.shape[1]):
        moving = np.arange(folds.shape[1]) != h
        assert mobility(shape.topology, shape.axis, folds, moving).freedoms[0] == 0


def test_stages_report_their_own_freedoms() -> None:
    """Creases 1 and 3 of a thin vertex with equal first sectors fold alone first, as one stage; then all four."""
    shape = vertex(np.radians([60.0, 60.0, 120.0, 120.0]))
    stage = shape.by_hinge(np.array([1, 0, 1, 0])).astype(np.int64)
    staged = replace(shape.topology, stage=stage)
    pair = shape.by_hinge(np.array([0.0, 1.2, 0.0, 1.2]))
    told = stage_mobility(staged, shape.axis, np.stack([pair, pair])[None], spherical=True)
    assert [s.stage for s in told] == [0, 1]
    assert [s.moving for s in told] == [tuple(np.flatnonzero(stage == k)) for k in (0, 1)]
    assert told[0].mobility.freedoms[0] == 1  # the collinear pair turns together
    # once it is folded the other two creases point two ways, and neither can turn while the pair is locked
    assert told[1].mobility.freedoms[0] == 0


def test_thickness_takes_freedoms_away_and_margin_tells_how_clearly() -> None:
    sectors = np.radians([60.0, 80.0, 120.0, 100.0])
    folds = flat_foldable_folds(sectors, 1.0, "b")
    thin = vertex(sectors)
    assert mobility(thin.topology, thin.axis, thin.by_hinge(folds)[None]).freedoms[0] == 1
    margins = []
    for error in (1e-1, 1e-3, 1e-5):
        heights = np.concatenate([[0.0], np.cumsum(bennett_steps(sectors, "b"))[:-1]])
        heights[1] += error
        off = vertex(sectors, 0.1 * heights)
        count = mobility(off.topology, off.axis, off.by_hinge(folds)[None])
        assert count.freedoms[0] == 0 and count.redundant[0] == 2
        margins.append(count.margin[0])
    assert margins[0] > 50.0 * margins[1] > 2500.0 * margins[2] > 1.0


def test_scale_and_batch_do_not_matter() -> None:
    shape = sheet(miura_corners(3, 3, CORNER), 0.03 * miura_heights(3, 3, miura_levels(3, 3, "columns")))
    folds = shape.by_hinge(miura_folds(3, 3, CORNER, TILT))
    axis = np.concatenate([1e-3 * shape.axis, shape.axis, 1e3 * shape.axis])
    count = mobility(shape.topology, axis, np.stack([folds, folds, folds]))
    assert count.freedoms.tolist() == [1, 1, 1] and count.redundant.tolist() == [13, 13, 13]
    assert np.ptp(count.margin) < 1e-6 * count.margin[0]
