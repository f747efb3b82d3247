"""Shapes that are the same part: turned and shifted ones are, mirror images are not."""

import numpy as np

from synth.core.shapes import distinct, shape_key
from tests.near import near


def turned(outline: np.ndarray, angle: float, shift: tuple[float, float]) -> np.ndarray:
    turn = np.array([[np.cos(angle), -np.sin(angle)], [np.sin(angle), np.cos(angle)]])
    return outline @ turn.T + np.array(shift)


QUAD = np.array([[0.0, 0.0], [0.4, 0.02], [0.45, 0.3], [0.05, 0.2]])
PARALLELOGRAM = np.array([[0.0, 0.0], [0.4, 0.0], [0.5, 0.2], [0.1, 0.2]])
KITE = np.array([[0.0, -0.3], [0.2, 0.0], [0.0, 0.1], [-0.2, 0.0]])


def mirrored(outline: np.ndarray) -> np.ndarray:
    return (outline * [-1.0, 1.0])[::-1]


def test_a_turn_and_another_first_corner_change_nothing() -> None:
    same = [QUAD, turned(QUAD, 1.0, (0.3, -2.0)), np.roll(turned(QUAD, -2.2, (9.0, 0.0)), 2, axis=0)]
    assert distinct(np.array([same]))[0] == 1.0
    key = shape_key(np.array([same]))[0]
    near(key, key[0], rel=1e-12)


def test_mirror_images_are_two_parts_unless_the_shape_has_a_mirror() -> None:
    for outline, parts in ((QUAD, 2.0), (PARALLELOGRAM, 2.0), (KITE, 1.0)):
        assert distinct(np.array([[outline, turned(mirrored(outline), 0.7, (1.0, 2.0))]]))[0] == parts


def test_equal_area_and_perimeter_are_not_enough() -> None:
    """Two kites made of the same two isosceles halves, one cut along the other way: area and perimeter agree."""
    first = np.array([[-0.3, 0.0], [0.0, -0.2], [0.3, 0.0], [0.0, 0.2]])
    a, around = 0.12, 4.0 * np.hypot(0.3, 0.2)
    # a rectangle of that area and perimeter
    half = around / 4.0
    long = half + np.sqrt(half**2 - a)
    second = np.array([[0.0, 0.0], [long, 0.0], [long, a / long], [0.0, a / long]])
    assert distinct(np.array([[first, second]]))[0] == 2.0


def test_padding_and_hundredths_of_a_millimetre() -> None:
    padded = np.concatenate([QUAD, QUAD[-1:], QUAD[-1:]])
    split = np.array([QUAD[0], 0.5 * (QUAD[0] + QUAD[1]), *QUAD[1:], QUAD[3]])
    assert distinct(np.array([[padded, split]]))[0] == 1.0
    longer = padded + np.array([[0, 0], [1e-5, 0], [1e-5, 0], [0, 0], [0, 0], [0, 0]])
    assert distinct(np.array([[padded, longer]]))[0] == 2.0


def test_a_corner_cut_off_by_hundredths_of_a_millimetre_makes_another_part() -> None:
    angle = np.arange(6) * np.pi / 3.0
    hexagon = 0.073 * np.stack([np.cos(angle), np.sin(angle)], axis=-1)
    cut = np.concatenate([hexagon[:1] + 4e-5 * np.array([[-0.5, -0.866], [-0.5, 0.866]]), hexagon[1:]])
    padded = np.concatenate([hexagon, hexagon[-1:]])
    assert distinct(np.array([[padded, cut]]))[0] == 2.0
