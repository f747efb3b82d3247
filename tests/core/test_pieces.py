"""Convex pieces of simple outlines, against shapely's areas and unions."""

import numpy as np
import pytest
import shapely

from synth.core.pieces import convex_pieces
from tests.near import near


def notched_square(rng, notches):
    """A unit square with notches of random depth and width in every side, counter-clockwise."""
    ring = []
    for side in range(4):
        turn = np.array([[0, -1], [1, 0]]) if side % 2 else np.eye(2)
        turn = turn if side < 2 else -turn
        ends = np.sort(rng.uniform(-0.35, 0.35, 2 * notches))
        points = [(-0.5, -0.5)]
        for a, b in ends.reshape(-1, 2):
            deep = rng.uniform(0.01, 0.12)
            points += [(a, -0.5), (a, deep - 0.5), (b, deep - 0.5), (b, -0.5)]
        ring.append(np.array(points) @ turn.T)
    return np.concatenate(ring)


@pytest.mark.parametrize("notches", [1, 2, 3])
def test_pieces_are_convex_and_make_up_the_outline(notches):
    rng = np.random.default_rng(notches)
    for _ in range(10):
        ring = notched_square(rng, notches)
        whole = shapely.Polygon(ring)
        assert whole.is_valid and whole.exterior.is_ccw
        pieces = [shapely.Polygon(p) for p in convex_pieces(ring)]
        assert all(p.exterior.is_ccw and p.convex_hull.area - p.area < 1e-12 for p in pieces)
        assert near(sum(p.area for p in pieces), whole.area, rel=1e-9)
        assert near(shapely.unary_union(pieces).area, whole.area, rel=1e-9)
        assert len(pieces) <= 8 * notches + 1


def test_notches_of_one_depth_side_by_side_are_cut_along_their_common_line():
    x = [(0.0, 0.0), (0.2, 0.0), (0.2, 0.1), (0.4, 0.1), (0.4, 0.0), (0.6, 0.0), (0.6, 0.1), (0.8, 0.1), (0.8, 0.0)]
    pieces = convex_pieces(np.array([*x, (1.0, 0.0), (1.0, 1.0), (0.0, 1.0)]))
    assert near(sum(shapely.Polygon(p).area for p in pieces), 1.0 - 2 * 0.2 * 0.1, rel=1e-12)
    assert len(pieces) == 4


def test_a_convex_outline_is_its_own_piece():
    hexagon = np.stack([np.cos(np.arange(6) * np.pi / 3), np.sin(np.arange(6) * np.pi / 3)], axis=-1)
    assert convex_pieces(hexagon) == [hexagon] or np.array_equal(convex_pieces(hexagon)[0], hexagon)
