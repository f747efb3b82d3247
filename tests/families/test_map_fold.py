"""Map fold: trees of the grid, raised spine axes, one footprint, the light it keeps."""

import numpy as np
import pytest

from synth.core.polygon import circle_overlap
from synth.families.accordion import Accordion
from synth.families.map_fold import MapFold, present
from tests.families.folding import DIAMETER, all_pairs, least_gap, plain_build, poses, solids, stations, stowed_size
from tests.near import near

T, E, G = 4e-3, 6e-3, 1e-3
GRIDS = [(2, 2), (3, 2), (2, 3), (3, 3), (4, 3), (4, 4)]


def folded(columns: int, rows: int, tree: str) -> MapFold:
    return MapFold(columns, rows, tree, np.array([0.95]), np.array([0.9]))


@pytest.mark.parametrize("grid", GRIDS)
@pytest.mark.parametrize("tree", ["comb", "comb_middle", "serpentine"])
def test_map_fold_stows_to_one_tile_and_n_layers(grid: tuple[int, int], tree: str) -> None:
    """nx ny t (+ gaps): reference notes, stowed thickness of map folds, derived."""
    made = folded(*grid, tree)
    t, g = made.topology(), made.geometry(plain_build(1, T, E, G))
    n = grid[0] * grid[1]
    bodies = solids(g.outline[0], T, poses(t.parent, g.axis[0], g.stowed_angle[0]))
    size = stowed_size(bodies)
    tile = [(0.95 * DIAMETER + E) / grid[0] - E, (0.9 * DIAMETER + E) / grid[1] - E]
    assert near(size[2], n * T + (n - 1) * G, rel=1e-9, why="rounding")
    assert (size[:2] <= np.array(tile) + 1e-12).all()
    if grid == (3, 3):
        # the middle tile is not trimmed; with others the circle may trim the widest tile a little
        assert near(size[:2], tile, rel=1e-9, why="rounding")
    assert near(bodies.corners[..., 2].max(axis=1), t.level * (T + G), abs=1e-12, why="rounding")


def test_map_fold_with_one_row_is_an_accordion() -> None:
    b = plain_build(1, T, E, G)
    one, x = np.ones(1), np.array([0.93])
    for tree, root in (("comb", "end"), ("comb_middle", "middle")):
        flat, strip = MapFold(6, 1, tree, x, one), Accordion(6, root, "together", x, one)
        a, c = flat.topology(), strip.topology()
        for part in ("parent", "sense", "steps", "stage", "slot", "level", "turned"):
            assert getattr(a, part).tolist() == getattr(c, part).tolist(), part
        ga, gc = flat.geometry(b), strip.geometry(b)
        assert near(ga.axis[..., 0], gc.axis[..., 0], abs=1e-12, why="rounding")
        assert near(ga.axis[..., 2], gc.axis[..., 2], rel=1e-12, why="rounding")
        light = [circle_overlap(g.outline[0], DIAMETER / 2).sum() for g in (ga, gc)]
        assert near(light[0], light[1], rel=1e-9, why="the trims differ, the light does not")


@pytest.mark.parametrize("tree", ["comb", "comb_middle"])
@pytest.mark.parametrize("grid", [(3, 3), (4, 4), (5, 3)])
def test_spine_axes_stand_above_the_packs_they_pass(grid: tuple[int, int], tree: str) -> None:
    """Axis (k p + gap) / 2 above the face for k passed layers: reference notes, thick panels, derived."""
    made = folded(*grid, tree)
    t, g, tiles = made.topology(), made.geometry(plain_build(1, T, E, G)), made.tiles()
    spine = np.array([tiles[p][1] == tiles[tiles[p][2]][1] for p in range(1, len(tiles))])
    passed = grid[1] - 1
    assert spine.sum() == grid[0] - 1
    above = np.where(t.sense > 0, g.axis[0, :, 0, 2], -T - g.axis[0, :, 0, 2])
    assert near(above[spine], (passed * (T + G) + G) / 2, rel=1e-9, why="rounding")
    assert near(above[~spine], G / 2, rel=1e-9, why="rounding")
    # columns are folded first, so the spine is deployed first
    assert set(t.stage[spine].tolist()) == {0} and set(t.stage[~spine].tolist()) == {1}


def test_serpentine_joins_neighbouring_layers_only_and_moves_row_by_row() -> None:
    t = folded(4, 3, "serpentine").topology()
    assert set(t.steps.tolist()) == {1} and t.level.tolist() == list(range(12))
    assert t.stage.tolist() == [0, 0, 0, 1, 2, 2, 2, 3, 4, 4, 4]


@pytest.mark.parametrize("grid", [(2, 2), (4, 3), (5, 4), (8, 7)])
def test_every_cut_crease_can_be_latched(grid: tuple[int, int]) -> None:
    made = folded(*grid, "comb")
    there = present(*grid)
    creases = int((there[1:] & there[:-1]).sum() + (there[:, 1:] & there[:, :-1]).sum())
    t = made.topology()
    assert len(t.latchable) == creases - (t.panels - 1) > 0
    edges = np.linalg.norm(np.diff(made.geometry(plain_build(1, T, E, G)).latch_edge, axis=2)[0, :, 0], axis=-1)
    assert (edges > 0).all() and np.median(edges) > 0.02


def test_corner_tiles_without_light_are_left_out() -> None:
    assert present(4, 4).all() and MapFold.allowed({"columns": 4, "rows": 4, "tree": "serpentine"})
    there = present(8, 7)
    assert (there == there[::-1]).all() and (there == there[:, ::-1]).all()
    assert not there[0, 0] and there[0, 3] and there[4, 0]
    assert not MapFold.allowed({"columns": 8, "rows": 7, "tree": "serpentine"})
    assert int(present(6, 6).sum()) == 32 == MapFold.panel_count({"columns": 6, "rows": 6, "tree": "comb"})


@pytest.mark.parametrize(("grid", "lost"), [((8, 7), 0.0), ((6, 6), 0.01)])
def test_left_out_corners_take_no_or_little_light(grid: tuple[int, int], lost: float) -> None:
    """The inner corners of the 8 x 7 corner tiles lie outside the circle, those of 6 x 6 just inside."""
    made = MapFold(*grid, "comb", np.ones(1), np.ones(1))
    e, r = 3e-3, DIAMETER / 2
    light = circle_overlap(made.geometry(plain_build(1, 2e-3, e, G)).outline[0], r).sum()
    x, y = ((DIAMETER + e) * (np.arange(1, n) / n - 0.5) for n in grid)
    strips = sum(slice_of_circle(v + e / 2, r) - slice_of_circle(v - e / 2, r) for v in [*x, *y])
    crossings = sum(e**2 for u in x for v in y if np.hypot(u, v) < r)
    full = np.pi * r**2 - strips + crossings
    if lost:
        assert (1.0 - lost) * full < light < full * (1.0 - 1e-6)
    else:
        assert near(light, full, rel=1e-9, why="exact areas")


def slice_of_circle(x: float, radius: float) -> float:
    """Area of a circle left of x."""
    return float(x * np.sqrt(radius**2 - x**2) + radius**2 * (np.arcsin(x / radius) + np.pi / 2))


def test_light_is_the_circle_less_the_gap_strips() -> None:
    made = MapFold(3, 3, "comb_middle", np.ones(1), np.ones(1))
    g = made.geometry(plain_build(1, T, E, G))
    r, seam = DIAMETER / 2, (DIAMETER + E) / 6

    strip = slice_of_circle(seam + E / 2, r) - slice_of_circle(seam - E / 2, r)
    assert near(circle_overlap(g.outline[0], r).sum(), np.pi * r**2 - 4 * strip + 4 * E**2, rel=1e-9, why="exact areas")


@pytest.mark.parametrize("cell", [(4, 3, "serpentine"), (5, 4, "comb"), (4, 4, "comb_middle")])
def test_thick_maps_unfold_in_sequence_without_meeting(cell: tuple[int, int, str]) -> None:
    made = folded(*cell)
    t, g = made.topology(), made.geometry(plain_build(1, 8e-3, E, G))
    for angle in stations(t, g.stowed_angle[0], 12):
        bodies = solids(g.outline[0], 8e-3, poses(t.parent, g.axis[0], angle))
        assert least_gap(bodies, all_pairs(t.panels), 1e-4) > 0.0


def test_combs_collide_where_columns_open_before_the_spine() -> None:
    """Crossed accordions move in sequence, not at once (reference notes, derived): the check can fail."""
    made = folded(3, 3, "comb")
    t, g = made.topology(), made.geometry(plain_build(1, 8e-3, E, G))
    worst = []
    for u in np.linspace(0.05, 0.95, 19):
        angle = g.stowed_angle[0] * np.where(t.stage == 1, 1.0 - u, 1.0)
        worst.append(least_gap(solids(g.outline[0], 8e-3, poses(t.parent, g.axis[0], angle)), all_pairs(9), 1e-4))
    assert min(worst) < -1e-3
