"""Wing: closed forms of the three root folds, the order that the front pack needs."""

import numpy as np
import pytest

from synth.core.polygon import circle_overlap
from synth.families.accordion import Accordion
from synth.families.wing import Wing
from tests.families.folding import DIAMETER, all_pairs, least_gap, plain_build, poses, solids, stations, stowed_size
from tests.near import near

T, E, G = 4e-3, 6e-3, 1e-3
P = T + G


def wing(m: int, fold: str, strip: float = 0.7, cover: float = 0.95) -> Wing:
    return Wing(m, fold, np.array([strip]), np.array([cover]), np.array([0.9]))


def cells(m: int, strip: float = 0.7, cover: float = 0.95) -> tuple[float, float]:
    """Widths of the centre's and a strip's cell."""
    centre = (cover * DIAMETER + E) / (1 + 2 * m * strip)
    return centre, strip * centre


@pytest.mark.parametrize("m", [1, 2, 3, 4])
@pytest.mark.parametrize("fold", ["front_back", "front"])
def test_half_turn_wings_stow_on_the_centre(m: int, fold: str) -> None:
    made = wing(m, fold)
    t, g = made.topology(), made.geometry(plain_build(1, T, E, G))
    bodies = solids(g.outline[0], T, poses(t.parent, g.axis[0], g.stowed_angle[0]))
    size = stowed_size(bodies)
    assert near(size, [cells(m)[0] - E, 0.9 * DIAMETER, (2 * m + 1) * T + 2 * m * G], rel=1e-9, why="rounding")
    assert near(bodies.corners[..., 2].max(axis=1), t.level * P, abs=1e-12, why="rounding")
    assert t.level.min() == (0 if fold == "front" else -m)


@pytest.mark.parametrize("m", [1, 2, 3, 4])
def test_the_upper_wing_stands_off_over_the_lower_one(m: int) -> None:
    """Axis (k p + gap) / 2 above the face for k = m passed layers: reference notes, thick panels, derived."""
    made = wing(m, "front")
    t, g = made.topology(), made.geometry(plain_build(1, T, E, G))
    assert t.steps.tolist() == [1] * m + [m + 1] + [1] * (m - 1)
    assert near(g.axis[0, m, 0, 2], (m * P + G) / 2, rel=1e-9, why="rounding")
    assert set(t.stage[m:].tolist()) == {0} and set(t.stage[:m].tolist()) == {1}
    if m >= 2:
        assert t.slot[1] != t.slot[m]


@pytest.mark.parametrize("m", [1, 2, 3, 4])
def test_quarter_turn_packs_stand_beside_the_centre_behind_it(m: int) -> None:
    made = wing(m, "quarter_turn")
    t, g = made.topology(), made.geometry(plain_build(1, T, E, G))
    bodies = solids(g.outline[0], T, poses(t.parent, g.axis[0], g.stowed_angle[0]))
    centre, strip = cells(m)
    size = stowed_size(bodies)
    assert near(size, [centre + 2 * m * P - G, 0.9 * DIAMETER, T + G / 2 + strip - E / 2], rel=1e-9, why="rounding")
    # strip k of the right wing is layer k beside the centre
    x = bodies.corners[1 : m + 1, :, 0]
    assert near(x.min(axis=1), centre / 2 + G / 2 + P * np.arange(m), rel=1e-9, why="rounding")
    assert near(np.ptp(x, axis=1), T, rel=1e-9, why="rounding")
    assert bodies.corners[1:, :, 2].max() < -T - G / 2
    assert not t.level.any() and t.steps.tolist() == ([0] + [1] * (m - 1)) * 2


def test_wing_of_equal_strips_is_an_accordion_with_its_root_in_the_middle() -> None:
    b, one, x = plain_build(1, T, E, G), np.ones(1), np.array([0.9])
    made, strip = Wing(3, "front_back", one, x, one), Accordion(7, "middle", "together", x, one)
    ours = [0, 1, 4, 2, 5, 3, 6]
    g, h = made.geometry(b), strip.geometry(b)
    assert near(g.outline[:, ours], h.outline, abs=1e-12, why="rounding")
    hinges = [o - 1 for o in ours[1:]]
    assert near(g.axis[:, hinges], h.axis, abs=1e-12, why="rounding")
    assert near(g.stowed_angle[:, hinges], h.stowed_angle, rel=1e-12, why="rounding")
    assert made.topology().level[ours].tolist() == strip.topology().level.tolist()


@pytest.mark.parametrize("strip", [0.25, 0.6, 1.0])
def test_covers_the_width_asked_and_no_strip_is_wider_than_the_centre(strip: float) -> None:
    made = wing(3, "front", strip, 1.0)
    g = made.geometry(plain_build(1, T, E, G))
    width = np.ptp(g.outline[0, :, :, 0], axis=1)
    assert near(np.ptp(g.outline[0, :, :, 0]), DIAMETER, rel=1e-9, why="rounding")
    assert near(width[1:] + E, strip * (width[0] + E), rel=1e-9, why="rounding")
    light = circle_overlap(g.outline[0], DIAMETER / 2).sum() / (np.pi * DIAMETER**2 / 4)
    # reach 0.9 cuts two segments of 5.2 % together, six gaps of 6 mm about 4 %
    assert 0.90 < light < 0.93


@pytest.mark.parametrize("fold", ["front_back", "front", "quarter_turn"])
@pytest.mark.parametrize("strip", [0.3, 1.0])
def test_thick_wings_unfold_without_meeting(fold: str, strip: float) -> None:
    made = wing(4, fold, strip)
    t, g = made.topology(), made.geometry(plain_build(1, 10e-3, 4e-3, G))
    for angle in stations(t, g.stowed_angle[0], 40):
        bodies = solids(g.outline[0], 10e-3, poses(t.parent, g.axis[0], angle))
        assert least_gap(bodies, all_pairs(t.panels), 1e-4) > 0.0


def test_the_lower_wing_cannot_open_first() -> None:
    made = wing(2, "front", 1.0)
    t, g = made.topology(), made.geometry(plain_build(1, T, E, G))
    angle = g.stowed_angle[0] * np.where(t.stage == 1, 0.9, 1.0)
    assert least_gap(solids(g.outline[0], T, poses(t.parent, g.axis[0], angle)), all_pairs(5), 1e-4) < 0.0
