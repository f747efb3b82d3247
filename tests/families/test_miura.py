"""Miura sheet: stowed size, motion against the loop solver, one freedom, posts, the order that cannot move."""

import numpy as np
import pytest

from synth.core.polygon import circle_overlap
from synth.families.miura import Miura
from synth.fold.closure import closure
from synth.fold.loops import close, follow
from synth.fold.mobility import mobility, stage_mobility
from synth.fold.thickness import miura_levels, miura_opening
from tests.families.folding import (
    DIAMETER,
    Solids,
    all_pairs,
    least_gap,
    plain_build,
    poses,
    solids,
    stowed_size,
)
from tests.near import near

T, E, G = 4e-3, 6e-3, 1e-3
SECTORS = (55.0, 70.0, 84.0)
GRIDS = [(2, 2), (3, 3), (4, 3), (3, 4), (5, 5)]


def sheet(columns: int, rows: int, sector: float, order: str = "columns") -> Miura:
    return Miura(columns, rows, order, np.radians([sector]), np.array([0.95]), np.array([1.0]))


@pytest.mark.parametrize("sector", SECTORS)
@pytest.mark.parametrize("grid", [(3, 3), (4, 3), (5, 5)])
def test_stowed_size(grid: tuple[int, int], sector: float) -> None:
    """Length b + ny a cos g, width a sin g (case miura_stowed, derived), less what the edge gap takes off the outermost
    acute corners and the two zigzag edges; n layers."""
    made, b = sheet(*grid, sector), plain_build(1, T, E, G)
    t, g = made.topology(), made.geometry(b)
    bodies = solids(g.outline[0], T, poses(t.parent, g.axis[0], g.stowed_angle[0]))
    corner, n = np.radians(sector), grid[0] * grid[1]
    straight, zigzag = DIAMETER / grid[1], 0.95 * DIAMETER / grid[0] / np.sin(corner)
    length = zigzag + grid[1] * straight * np.cos(corner) - E * (1.0 / np.sin(corner) + 1.0 / np.tan(corner))
    # the stack lies along the zigzag creases of the root
    at = bodies.corners[..., :2].reshape(-1, 2)
    first = np.array(made.panels()[0])
    lean = (1.0 if first[0] % 2 == 0 else -1.0) / np.tan(corner)
    along = np.array([1.0, lean]) / np.hypot(1.0, lean)
    spans = [np.ptp(at @ v) for v in (along, np.array([-along[1], along[0]]))]
    assert near(spans, [length, straight * np.sin(corner) - E], rel=1e-9, why="rounding")
    assert near(stowed_size(bodies)[2], n * T + (n - 1) * G, rel=1e-9, why="rounding")
    assert near(bodies.corners[..., 2].max(axis=1), t.level * (T + G), abs=1e-12, why="rounding")


@pytest.mark.parametrize("sector", SECTORS)
@pytest.mark.parametrize("grid", GRIDS)
def test_angles_close_the_loops_and_the_solver_finds_the_same(grid: tuple[int, int], sector: float) -> None:
    made, b = sheet(*grid, sector), plain_build(1, T, E, G)
    t, g, s = made.topology(), made.geometry(b), np.linspace(0.04, 1.0, 9)
    told = made.angles(b, s)
    for k in range(len(s)):
        assert closure(t, g.axis, told[:, k]).gap.max() < 1e-12
    zigzag = int(np.flatnonzero(t.steps == 1)[0])
    driven = np.arange(len(t.hinges)) == zigzag
    run = follow(t, g.axis, told[:, 0], driven, told[:, :, driven])
    assert run.status.ok.all() and run.residual.max() < 1e-9
    assert near(run.angles, told, abs=1e-9, why="two ways to one state; closure below 1e-12")


@pytest.mark.parametrize("sector", [15.0, 35.0, 89.5])
def test_the_construction_holds_beyond_the_range_searched(sector: float) -> None:
    """Any sector angle: loops close on the whole way and there is one freedom, though it packs badly far from 90."""
    made, b, s = sheet(4, 3, sector), plain_build(1, T, E, G), np.linspace(0.0, 1.0, 11)
    t, g = made.topology(), made.geometry(b)
    told = made.angles(b, s)
    assert max(closure(t, g.axis, told[:, k]).gap.max() for k in range(len(s))) < 1e-12
    assert mobility(t, g.axis, told[:, 5]).freedoms[0] == 1


def test_folds_share_the_travel_evenly() -> None:
    """Zigzag and straight fold add up to 2 pi (1 - s), and tan of half the straight one is cos g times the other's."""
    made, s = sheet(3, 3, 80.0), np.linspace(0.0, 1.0, 41)
    t, b = made.topology(), plain_build(1, T, E, G)
    folds = np.abs(made.angles(b, s)[0])
    column = np.array(made.panels())[:, 0]
    straight = column[t.hinges[:, 0]] != column[t.hinges[:, 1]]
    psi, theta = folds[:, straight][:, 0] / 2.0, folds[:, ~straight][:, 0] / 2.0
    assert near(psi + theta, np.pi * (1.0 - s), abs=1e-12)
    assert near(
        np.tan(psi[1:]), np.cos(np.radians(80.0)) * np.tan(theta[1:]), rel=1e-9, why="rounding near half a turn"
    )
    assert np.ptp(folds[:, straight], axis=1).max() == 0.0


@pytest.mark.parametrize("grid", GRIDS)
def test_one_freedom_and_its_over_constraint(grid: tuple[int, int]) -> None:
    """6 rows a loop, 1 freedom (case dof_thick_miura, derived)."""
    made, b = sheet(*grid, 70.0), plain_build(1, T, E, G)
    t, g = made.topology(), made.geometry(b)
    columns, rows = grid
    assert len(t.closing) == (columns - 1) * (rows - 1)
    angles = made.angles(b, np.array([0.5]))
    count = mobility(t, g.axis, angles[:, 0])
    assert count.freedoms[0] == 1
    hinges = (columns - 1) * rows + columns * (rows - 1)
    assert count.redundant[0] == 6 * len(t.closing) - (hinges - 1)
    (only,) = stage_mobility(t, g.axis, angles)
    assert only.mobility.freedoms[0] == 1 and len(only.moving) == hinges


@pytest.mark.parametrize("grid", [(3, 3), (4, 3), (3, 4)])
def test_row_order_stacks_but_is_refused_because_it_cannot_move(grid: tuple[int, int]) -> None:
    made, b = sheet(*grid, 70.0, "rows"), plain_build(1, T, E, G)
    t, g = made.topology(), made.geometry(b)
    assert not g.status.ok[0] and "do not close" in g.status.reason[0]
    assert sorted(t.level - t.level.min()) == list(range(grid[0] * grid[1]))
    assert closure(t, g.axis, g.stowed_angle).gap.max() < 1e-12  # it does stack
    # and here is why it is refused: with both kinds of fold under way no closed state is left
    angles = made.angles(b, np.array([0.5]))[:, 0]
    column = np.array(made.panels())[:, 0]
    straight = column[t.hinges[:, 0]] != column[t.hinges[:, 1]]
    driven = np.isin(np.arange(len(t.hinges)), [np.argmax(straight), np.argmax(~straight)])
    held = close(t, g.axis, angles, driven, angles[:, driven])
    assert not held.status.ok[0] and held.residual[0] > 1e-3
    # in sequence it would: straight creases alone, then zigzags over the folded strips
    for share in (0.2, 0.7):
        for first, second in ((share, 0.0), (1.0, share)):
            turn = np.where(straight, first, second) * g.stowed_angle
            assert closure(t, g.axis, turn).gap.max() < 1e-12
    assert miura_opening(miura_levels(*grid, "rows"), np.radians(70.0), 0.8) > 0.1
    near_by = Miura.relatives({"columns": 3, "rows": 3, "order": "columns"}, 61, np.random.default_rng(0))
    assert near_by and all(cell["order"] == "columns" for cell in (*Miura.first_cells(61), *near_by))


def test_axes_stand_where_the_layers_ask_and_posts_pass_at_most_two_rows_less_two() -> None:
    """Axis (k p + g) / 2 above the face for k layers passed (case stack_hinge_rule, derived)."""
    made, b = sheet(3, 4, 70.0), plain_build(1, T, E, G)
    t, g = made.topology(), made.geometry(b)
    above = np.where(t.sense > 0, g.axis[0, :, 0, 2], -T - g.axis[0, :, 0, 2])
    assert near(above, ((t.steps - 1) * (T + G) + G) / 2.0, rel=1e-9, why="rounding")
    assert t.steps.max() == 2 * 4 - 1
    column = np.array(made.panels())[:, 0]
    straight = column[t.hinges[:, 0]] != column[t.hinges[:, 1]]
    assert set(t.steps[~straight].tolist()) == {1}
    assert sorted(t.steps[straight].tolist()) == sorted([1, 3, 5, 7] * 2)


@pytest.mark.parametrize("sector", SECTORS)
def test_panels_and_posts_keep_clear_on_the_way(sector: float) -> None:
    """Posts as boxes in the half gap from the back of a panel to the axis, at both ends of every straight hinge."""
    made, b = sheet(3, 3, sector), plain_build(1, T, E, G)
    t, g = made.topology(), made.geometry(b)
    boxes, owner, hinge = posts(t, g.axis[0], 8e-3)
    pairs = all_pairs(t.panels + len(boxes))
    owners = np.concatenate([np.arange(t.panels), owner])
    joints = np.concatenate([np.full(t.panels, -1), hinge])
    i, j = pairs.T
    tied = (owners[i] == owners[j]) | ((joints[i] == joints[j]) & (joints[i] >= 0))
    for a, c in ((i, j), (j, i)):
        tied |= (joints[a] >= 0) & (joints[c] < 0) & (t.hinges[joints[a]] == owners[c][:, None]).any(axis=1)
    pairs = pairs[~tied]
    for angle in made.angles(b, np.linspace(0.0, 1.0, 41))[0]:
        pose = poses(t.parent, g.axis[0], angle)
        panels, hardware = (
            solids(g.outline[0], T, pose),
            [prism(*box, pose[o]) for box, o in zip(boxes, owner, strict=True)],
        )
        merged = merge([panels, *hardware], g.outline.shape[2])
        assert least_gap(merged, pairs, 1e-4) > 1e-9


def posts(t, axis, width):  # type: ignore[no-untyped-def]
    """Plan corners, z limits, panel and hinge of the leaves of all hinges that pass layers: slots from both ends."""
    boxes, owner, hinge = [], [], []
    for h in np.flatnonzero(t.steps > 1):
        line = axis[h]
        span = np.linalg.norm(line[1] - line[0])
        along = ((line[1] - line[0]) / span)[:2]
        across = np.array([-along[1], along[0]])
        start = 2e-3 + width * (1.25 * t.slot[h] + 0.5)
        low, high = min(-T, line[0, 2] - 2e-3), max(0.0, line[0, 2] + 2e-3)
        for place in (start, span - start):
            for side, panel in zip((-1.0, 1.0), t.hinges[h], strict=True):
                at = line[0, :2] + place * along
                far = side * (E / 2.0 - 0.5e-3) * across
                w = width / 2.0 * along
                ring = [at - w, at + w, at + w + far, at - w + far]
                boxes.append((np.array(ring if side > 0 else ring[::-1]), low, high))
                owner.append(int(panel))
                hinge.append(int(h))
    return boxes, np.array(owner), np.array(hinge)


def prism(ring, low, high, pose):  # type: ignore[no-untyped-def]
    """One box from z = low to high, as Solids of one body."""
    return solids(
        ring[None], high - low, (pose @ np.array([[1, 0, 0, 0], [0, 1, 0, 0], [0, 0, 1, high], [0, 0, 0, 1]]))[None]
    )


def merge(bodies, corners):  # type: ignore[no-untyped-def]
    """Solids with different corner counts as one, padded by repeats."""

    def padded(part, to):  # type: ignore[no-untyped-def]
        return np.concatenate([part, np.repeat(part[:, -1:], to - part.shape[1], axis=1)], axis=1)

    return Solids(
        np.concatenate([padded(b.corners, 2 * corners) for b in bodies]),
        np.concatenate([padded(b.normals, corners + 1) for b in bodies]),
        np.concatenate([padded(b.edges, corners + 1) for b in bodies]),
    )


def test_light_is_what_the_gaps_leave() -> None:
    """A sheet that covers the circle collects all of it but the strips between panels."""
    made = Miura(3, 3, "columns", np.radians([84.0]), np.array([1.0]), np.array([1.1]))
    g = made.geometry(plain_build(1, T, E, G))
    light = circle_overlap(g.outline[0], DIAMETER / 2.0).sum()
    disc = np.pi * DIAMETER**2 / 4.0
    across = DIAMETER / 3.0
    lines = 2.0 * 2.0 * np.sqrt((DIAMETER / 2.0) ** 2 - (across / 2.0) ** 2)
    zigzag = lines / np.sin(np.radians(84.0))
    assert near(light, disc - E * (lines + zigzag), rel=3e-3, why="crossings of the strips count twice, zigzags move")
