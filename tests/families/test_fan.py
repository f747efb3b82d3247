"""Fan of sectors: closed forms of the stack and the light, alike parts, how the two ends come together."""

import numpy as np
import pytest

from synth.core.arrays import transform
from synth.core.polygon import area, circle_overlap
from synth.families.fan import Fan
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
R = DIAMETER / 2.0
COUNTS = [3, 4, 5, 8, 13, 24]


def fan(sectors: int, root: str = "end", deploy: str = "together", reach: float = 1.0, hole: float = 0.2) -> Fan:
    return Fan(sectors, root, deploy, np.array([reach]), np.array([hole]))


@pytest.mark.parametrize("n", COUNTS)
@pytest.mark.parametrize("root", ["end", "middle"])
def test_a_stack_of_one_sector_n_layers_high(n: int, root: str) -> None:
    """n t + (n - 1) g; plan of one sector between hole and rim, half the gap off both its sides."""
    made, b = fan(n, root), plain_build(1, T, E, G)
    t, g = made.topology(), made.geometry(b)
    assert g.status.ok[0]
    bodies = solids(g.outline[0], T, poses(t.parent, g.axis[0], g.stowed_angle[0]))
    assert near(stowed_size(bodies)[2], n * T + (n - 1) * G, rel=1e-9, why="rounding")
    middle = 2.0 * np.pi / n * made.order()[0]
    along, across = np.array([np.cos(middle), np.sin(middle)]), np.array([-np.sin(middle), np.cos(middle)])
    plan = bodies.corners[..., :2].reshape(-1, 2)
    assert near((plan @ along).min(), 0.2 * R, rel=1e-9, why="rounding")
    assert near((plan @ along).max(), R, rel=1e-9, why="rounding")
    a = np.pi / n
    # side line y = x tan a - e / (2 cos a) meets the tangent at 2 a / 3
    beta = 2.0 * a / 3.0
    x = (R + E / 2.0 * np.sin(beta) / np.cos(a)) / (np.cos(beta) + np.sin(beta) * np.tan(a))
    assert near(np.ptp(plan @ across), 2.0 * (x * np.tan(a) - E / (2.0 * np.cos(a))), rel=1e-9, why="rounding")


@pytest.mark.parametrize("n", COUNTS)
def test_light_is_the_circle_less_hole_and_gaps(n: int) -> None:
    made, b = fan(n), plain_build(1, T, E, G)
    g = made.geometry(b)
    a, hole = np.pi / n, 0.2 * R
    # a strip of half the gap along each of 2 n radii from the hole's side to the rim, in closed form to 1e-3 of it
    lengths = np.sqrt(R**2 - (E / 2.0) ** 2) - hole / np.cos(a)
    wedge = (E / 2.0) ** 2 * np.tan(a) / 2.0
    light = np.pi * R**2 - n * hole**2 * np.tan(a) - 2.0 * n * (lengths * E / 2.0 + wedge)
    assert near(circle_overlap(g.outline, R).sum(), light, rel=2e-5, why="the rim bends over half a gap")


@pytest.mark.parametrize("n", COUNTS)
def test_all_sectors_and_all_hinges_are_alike(n: int) -> None:
    made = fan(n, "middle")
    t, g = made.topology(), made.geometry(plain_build(1, T, E, G))
    assert near(area(g.outline[0]), area(g.outline[0])[0], rel=1e-9, why="rounding")
    length = np.linalg.norm(g.axis[0, :, 1] - g.axis[0, :, 0], axis=-1)
    assert near(length, length[0], rel=1e-9, why="rounding")
    latch = np.linalg.norm(g.latch_edge[0, 0, 1] - g.latch_edge[0, 0, 0])
    assert near(latch, length[0], rel=1e-9, why="the cut is as long as a hinge")
    assert (t.steps == 1).all() and len(t.latchable) == 1 and not t.slot.any()
    assert near(g.axis[0, :, 0, 2], np.where(t.sense > 0, G / 2, -T - G / 2), rel=1e-9, why="rounding")


@pytest.mark.parametrize("n", [5, 8, 12])
def test_the_two_ends_part_by_one_step_and_close_last(n: int) -> None:
    """Near the end every hinge carries the next sector on by h x turn; round the circle all but one step cancel."""
    made = fan(n)
    t, g = made.topology(), made.geometry(plain_build(1, T, E, G))
    turn = 1e-5
    last = made.order().index(n - 1)
    line = g.latch_edge[0, 0]
    closing = np.concatenate([line.mean(axis=0), [-T / 2.0]])
    moved = transform(poses(t.parent, g.axis[0], t.sense * turn)[last, :3], closing[None])[0] - closing
    a = np.pi / n
    across = np.array([np.sin(a), np.cos(a)])  # from the last sector to the first, counter-clockwise
    h = (T + G) / 2.0
    assert near(moved[:2] @ across, -h * turn, rel=5e-3, why="second order of the turn")


@pytest.mark.parametrize(
    ("n", "root", "deploy"), [(3, "middle", "together"), (7, "end", "in_turn"), (12, "middle", "together")]
)
def test_nothing_meets_on_the_way(n: int, root: str, deploy: str) -> None:
    b = build(4)
    t, g = batch(Fan, {"sectors": n, "root": root, "deploy": deploy}, b)
    pairs, rows = all_pairs(t.panels), np.flatnonzero(g.status.ok)[:2]
    assert len(rows)
    for row in rows:
        for angle in stations(t, g.stowed_angle[row], max(6, 40 // (int(t.stage.max()) + 1))):
            bodies = solids(g.outline[row], b.thickness[row], poses(t.parent, g.axis[row], angle))
            assert least_gap(bodies, pairs, 1e-4) > 1e-9


def test_no_room_at_the_centre_is_told() -> None:
    tight = fan(24, hole=0.03).geometry(plain_build(1, T, 12e-3, G))
    assert not tight.status.ok[0] and "inner ends" in tight.status.reason[0]
    assert np.isfinite(tight.outline).all() and np.isfinite(tight.axis).all()


def test_least_span_is_no_more_than_any_sector_spans() -> None:
    rng = np.random.default_rng(2)
    for n in (3, 4, 6, 12):
        for _ in range(20):
            made = fan(n, reach=float(rng.uniform(0.8, 1.05)), hole=float(rng.uniform(0.03, 0.4)))
            g = made.geometry(plain_build(1, T, 1e-3, G))
            outline = g.outline[0, 0]
            span = np.linalg.norm(outline[:, None] - outline[None], axis=-1).max()
            light = circle_overlap(g.outline, R).sum()
            assert Fan.least_span(DIAMETER, float(light)) <= span
    # not far below either: of the order of half the radius for half the circle
    assert near(Fan.least_span(DIAMETER, 0.5 * np.pi * R**2), 0.5 * R / (1.05 / np.cos(np.pi / 9) + 0.4), rel=1e-9)
