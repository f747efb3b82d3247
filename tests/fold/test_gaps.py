"""Deployed edge gaps against closed forms and shapely."""

import numpy as np
import shapely

from synth.fold.gaps import edge_gap
from tests.fold import chains
from tests.near import near


def test_equals_the_gap_that_the_layout_leaves() -> None:
    for laid in (chains.accordion(5, edge_gap=0.003), chains.star(edge_gap=0.003), chains.serial(19, edge_gap=0.003)):
        near(edge_gap(laid.geometry.outline), [0.003], rel=1e-9)
    assert edge_gap(chains.accordion(1).geometry.outline).tolist() == [np.inf]


def test_random_polygons_agree_with_shapely() -> None:
    rng = np.random.default_rng(0)
    turn = np.sort(rng.uniform(0, 2 * np.pi, (80, 4, 6)), axis=-1)
    outline = np.stack([np.cos(turn), np.sin(turn)], axis=-1) + rng.uniform(-6, 6, (80, 4, 1, 2))
    found = edge_gap(outline)
    for row in range(80):
        shapes = [shapely.Polygon(p) for p in outline[row]]
        pairs = [(a, b) for i, a in enumerate(shapes) for b in shapes[:i]]
        least = min(a.distance(b) for a, b in pairs)
        if least > 0.0:
            near(found[row], least, rel=1e-9)
        else:
            assert found[row] <= 0.0
    assert 10 < (found > 0.0).sum() < 75


def test_rows_are_independent_and_overlaps_tell_their_depth() -> None:
    one = chains.accordion(3, width=0.2, edge_gap=0.002).geometry.outline
    shifted = one.copy()
    shifted[0, 1, :, 0] += 0.005
    both = edge_gap(np.concatenate([one, shifted]))
    near(both, [0.002, -0.003], rel=1e-9, why="two millimetres apart, moved by five")
