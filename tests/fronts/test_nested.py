import numpy as np

from synth.fronts.nested import inside, smallest_first

BOXES = ([0.6, 0.45, 0.3], [0.2, 0.2, 0.3], [0.3, 0.6, 0.45], [0.7, 0.1, 0.9])
SIZES = [np.array(s) for s in (*BOXES, [0.5, 0.5, 0.9], [0.4, 0.4, 0.9])]
KINDS = ["box", "box", "box", "box", "round", "round"]


def test_boxes_nest_by_their_sorted_sides_and_round_ones_by_diameter_and_height() -> None:
    found = inside(KINDS, SIZES)
    pairs = {(int(a), int(b)) for a, b in np.argwhere(found)}
    assert pairs == {(1, 0), (1, 2), (0, 2), (2, 0), (5, 4)}


def test_every_envelope_comes_after_all_that_it_contains() -> None:
    found = inside(KINDS, SIZES)
    order = smallest_first(found)
    assert order.index(1) < order.index(0) < order.index(2)
    assert order.index(5) < order.index(4)
    assert sorted(order) == list(range(6))
