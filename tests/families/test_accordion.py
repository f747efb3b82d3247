"""Accordion: closed forms of the stack, the light it keeps, both orders of unfolding."""

import numpy as np
import pytest

from synth.core.polygon import area, circle_overlap
from synth.families.accordion import Accordion
from tests.families.folding import (
    DIAMETER,
    all_pairs,
    batch,
    build,
    least_gap,
    plain_build,
    poses,
    solids,
    stations,
    stowed_size,
)
from tests.near import near

T, E, G = 4e-3, 6e-3, 1e-3


def circle_slice(x: float, radius: float) -> float:
    """Area of a circle left of x."""
    return float(x * np.sqrt(radius**2 - x**2) + radius**2 * (np.arcsin(x / radius) + np.pi / 2))


@pytest.mark.parametrize(("n", "root"), [(2, "end"), (3, "middle"), (4, "end"), (7, "middle"), (16, "end")])
def test_accordion_stows_to_n_t_and_n_minus_one_gaps(n: int, root: str) -> None:
    """n t + (n - 1) gap: reference notes, thick panels (a), derived. Plan: one strip."""
    made = Accordion(n, root, "together", np.array([0.9]), np.array([0.95]))
    t, g = made.topology(), made.geometry(plain_build(1, T, E, G))
    size = stowed_size(solids(g.outline[0], T, poses(t.parent, g.axis[0], g.stowed_angle[0])))
    assert near(size[2], n * T + (n - 1) * G, rel=1e-9, why="rounding")
    assert near(size[0], (0.9 * DIAMETER + E) / n - E, rel=1e-9, why="rounding")
    assert near(size[1], 0.95 * DIAMETER, rel=1e-9, why="rounding")
    spread = g.outline[0].reshape(-1, 2)
    assert near(np.ptp(spread[:, 0]), 0.9 * DIAMETER, rel=1e-9, why="rounding")


def test_panels_lie_in_the_layers_that_the_topology_tells() -> None:
    b = build(3)
    for root in ("end", "middle"):
        t, g = batch(Accordion, {"strips": 7, "root": root, "deploy": "in_turn"}, b)
        for row in range(3):
            place = poses(t.parent, g.axis[row], g.stowed_angle[row])
            z = solids(g.outline[row], b.thickness[row], place).corners[..., 2]
            assert near(z.max(axis=1), t.level * b.pitch[row], abs=1e-12, why="rounding")
            assert near(place[:, 2, 2], t.turned, abs=1e-12, why="rounding")


def test_hinges_alternate_and_stand_half_a_face_gap_off_the_faces() -> None:
    made = Accordion(5, "end", "together", np.ones(1), np.ones(1))
    t, g = made.topology(), made.geometry(plain_build(1, T, E, G))
    assert t.sense.tolist() == [1, -1, 1, -1] and t.steps.tolist() == [1] * 4
    assert near(g.axis[0, :, 0, 2], np.where(t.sense > 0, G / 2, -T - G / 2), rel=1e-9, why="rounding")
    assert len(t.latchable) == 0


def test_root_in_the_middle_halves_the_longest_chain_and_uses_both_sides() -> None:
    end = Accordion(9, "end", "in_turn", np.ones(1), np.ones(1)).topology()
    middle = Accordion(9, "middle", "in_turn", np.ones(1), np.ones(1)).topology()
    assert end.depth().max() == 8 and middle.depth().max() == 4
    assert end.level.tolist() == list(range(9)) and sorted(middle.level.tolist()) == list(range(-4, 5))
    assert end.stage.tolist() == list(range(8)) and middle.stage.max() == 3


@pytest.mark.parametrize("n", [2, 3, 6, 11])
def test_light_is_the_circle_less_the_gaps_and_trimming_loses_none(n: int) -> None:
    made = Accordion(n, "end", "together", np.ones(1), np.ones(1))
    g = made.geometry(plain_build(1, T, E, G))
    radius = DIAMETER / 2
    cell = (DIAMETER + E) / n
    seams = -radius - E / 2 + cell * np.arange(1, n)
    lost = sum(circle_slice(x + E / 2, radius) - circle_slice(x - E / 2, radius) for x in seams)
    light = circle_overlap(g.outline[0], radius).sum()
    assert near(light, np.pi * radius**2 - lost, rel=1e-9, why="exact areas on both sides")
    plain = n * (cell - E) * DIAMETER
    assert np.pi * radius**2 - lost < area(g.outline[0]).sum() < (0.99 if n == 2 else 0.93) * plain


@pytest.mark.parametrize("cell", [{"root": "end", "deploy": "together"}, {"root": "middle", "deploy": "in_turn"}])
def test_sixteen_thick_strips_unfold_without_meeting(cell: dict[str, str]) -> None:
    made = Accordion(16, cell["root"], cell["deploy"], np.ones(1), np.ones(1))
    t, g = made.topology(), made.geometry(plain_build(1, 12e-3, E, G))
    for angle in stations(t, g.stowed_angle[0], 40 if cell["deploy"] == "together" else 8):
        bodies = solids(g.outline[0], 12e-3, poses(t.parent, g.axis[0], angle))
        assert least_gap(bodies, all_pairs(16), 1e-4) > 0.0


def test_strips_narrower_than_two_gaps_are_told_so() -> None:
    made = Accordion(16, "end", "together", np.ones(1), np.ones(1))
    g = made.geometry(plain_build(1, T, 60e-3, G))
    assert g.status.residual[0] < 0 and "too narrow" in g.status.reason[0] and (area(g.outline[0]) > 0).all()
