"""Stacks of segments: known answers, layers, motion and trees."""

import itertools
from dataclasses import replace

import numpy as np
import pytest
from shapely.affinity import rotate
from shapely.geometry import MultiPoint, Polygon, box

from synth.core.errors import InputError
from synth.core.layers import stack
from synth.families._stacking import lowest_stack
from synth.families._tiling import TILINGS, tile_count, tiling
from synth.families._tree import NAMED, parents_of, swapped, text_of, visit_order
from synth.families._unfold import passing_gap
from synth.families.segment_stack import SegmentStack, _plan
from tests.families.sweep import angles_through, build_of, distinct, keep_apart, meetings, middle_of_box, placed
from tests.near import near
from tests.physics.fold_cases import case

HINGES_NARROW = "the edge gap is too narrow for hinges and panels that pass on the way"


def cell_of(tree, kind="hexagon", rings=2, corners="all", tips="sharp"):
    return {"tiling": kind, "rings": rings, "corners": corners, "tips": tips, "tree": tree}


def batch_of(cell, rows=1, cover=1.0, blunt=0.1):
    family = middle_of_box(SegmentStack, cell, rows)
    return replace(family, cover=np.full(rows, cover), blunt=np.full(rows, blunt))


def random_tree(seed, kind="hexagon", rings=2, swaps=15):
    tiles, rng = tiling(kind, rings, "all"), np.random.default_rng(seed)
    parent = parents_of("star", tiles)
    for _ in range(swaps):
        parent = swapped(parent, tiles, rng)
    return text_of(parent)


def stowed(topology, geometry, row=0):
    """Corners [P][N, 3] of all panels, stowed."""
    turn, shift = placed(topology, geometry, row, geometry.stowed_angle[row])
    thickness = geometry.thickness[row]
    out = []
    for panel, outline in enumerate(geometry.outline[row]):
        c = distinct(outline)
        both = np.concatenate([np.c_[c, np.zeros(len(c))], np.c_[c, np.full(len(c), -thickness)]])
        out.append(both @ turn[panel].T + shift[panel])
    return out


TREES = [("star", 1), ("spiral", 1), ("star", 2), ("spiral", 2), ("comb0", 2), ("comb1", 2), ("comb2", 2)]


def test_hexagon_counts_and_area_are_those_of_the_reference_case():
    """Case hex_stack (derived): w = 1000, r = 1, 2, 3."""
    w = 1000.0
    # seven panels: three times the stowed size (case pack_hex7, seen)
    assert near(
        tiling("hexagon", case("pack_hex7").inputs["r"], "all").span, case("pack_hex7").expected["ratio"], rel=1e-9
    )
    for rings, panels, across, total in [(1, 7, 3000, 6062177.826491), (2, 19, 5000, 16454482.6719)]:
        tiles = tiling("hexagon", rings, "all")
        assert tiles.count == panels == tile_count("hexagon", rings, "all")
        assert near(tiles.span * w, across, rel=1e-9)
        one = Polygon(tiles.circumradius * w * tiles.corner_directions[0])
        assert near(panels * one.area, total, rel=1e-9)
        assert near(2.0 * one.exterior.hausdorff_distance(MultiPoint([(0, 0)])), 1154.700538379, rel=1e-9)
    assert [tile_count("hexagon", r, "all") for r in (1, 2, 3, 4)] == [7, 19, 37, 61]


@pytest.mark.parametrize("name", TILINGS)
def test_tilings_are_whole_and_neighbours_share_an_edge(name):
    for rings, corners in itertools.product((1, 2, 3), ("all", "rounded")):
        if tile_count(name, rings, corners) < 3:
            continue
        tiles = tiling(name, rings, corners)
        assert tiles.count == tile_count(name, rings, corners)
        shapes = [
            Polygon(c + tiles.circumradius * d) for c, d in zip(tiles.centre, tiles.corner_directions, strict=True)
        ]
        edge = 2.0 * tiles.circumradius * np.sin(np.pi / tiles.sides)
        for i, j in itertools.combinations(range(tiles.count), 2):
            assert not shapes[i].buffer(-1e-6).intersects(shapes[j])
            common = shapes[i].buffer(1e-7).intersection(shapes[j].buffer(1e-7)).length / 2.0
            assert (j in tiles.neighbours[i]) == (common > 0.5 * edge)


def test_star_of_seven_asks_for_the_standoffs_of_the_reference_case():
    """Case hex_stack (derived): three a side, brackets ((j - 1)(t + g) + g) / 2 above the face."""
    topology = batch_of(cell_of("star", rings=1)).topology()
    assert sorted(topology.level.tolist()) == [-3, -2, -1, 0, 1, 2, 3]
    for thickness, gap, expected in [(0.020, 0.0, [0.0, 0.010, 0.020]), (0.005, 0.001, [0.0005, 0.0035, 0.0065])]:
        build = build_of(1, thickness=thickness, panel_gap=gap, diameter=3.0)
        z = batch_of(cell_of("star", rings=1)).geometry(build).axis[0, :, 0, 2]
        front = np.sort(z[topology.sense > 0])
        back = np.sort(-thickness - z[topology.sense < 0])
        assert near(front, expected, rel=1e-9, abs=1e-12)
        assert near(back, expected, rel=1e-9, abs=1e-12)


def test_star_of_seven_opens_two_opposite_tiles_at_a_time():
    topology = batch_of(cell_of("star", rings=1)).topology()
    assert topology.stage.max() == 2
    for stage in range(3):
        a, b = np.flatnonzero(topology.stage == stage)
        assert topology.sense[a] == -topology.sense[b]
        assert abs(a - b) == 3


@pytest.mark.parametrize("rings", [1, 2, 3])
def test_serial_chain_needs_no_standoff_and_stacks_on_one_footprint(rings):
    family, build = batch_of(cell_of("spiral", rings=rings)), build_of(1)
    topology, geometry = family.topology(), family.geometry(build)
    assert np.all(topology.steps == 1)
    assert np.all(topology.sense[1:] == -topology.sense[:-1])
    assert np.all(topology.parent[1:] == np.arange(topology.panels - 1))
    corners = stowed(topology, geometry)
    footprint = Polygon(geometry.outline[0, 0]).buffer(1e-9)
    for c in corners:
        assert footprint.covers(MultiPoint(c[:, :2]))
    z = np.concatenate(corners)[:, 2]
    n = topology.panels
    assert near(z.max() - z.min(), n * 0.005 + (n - 1) * 0.0005, rel=1e-9)


@pytest.mark.parametrize(("tree", "rings"), [*TREES, ("free1", 2), ("free2", 2)])
def test_folded_panels_lie_in_their_layers_with_the_face_gap_between(tree, rings):
    tree = random_tree(int(tree[4:])) if tree.startswith("free") else tree
    family, build = batch_of(cell_of(tree, rings=rings)), build_of(1)
    topology, geometry = family.topology(), family.geometry(build)
    low = [c[:, 2].min() for c in stowed(topology, geometry)]
    assert near(np.array(low) + 0.005, topology.level * build.pitch[0], rel=1e-9, abs=1e-12)
    assert len(set(topology.level.tolist())) == topology.panels
    turn, _ = placed(topology, geometry, 0, geometry.stowed_angle[0])
    assert np.array_equal(np.sign(turn[:, 2, 2]), topology.turned)


@pytest.mark.parametrize(
    ("kind", "rings", "corners", "tips", "tree"),
    [
        ("hexagon", 2, "all", "sharp", "star"),
        ("hexagon", 2, "rounded", "blunt", "comb1"),
        ("square", 2, "rounded", "sharp", "comb0"),
        ("square_even", 2, "all", "sharp", "spiral"),
        ("triangle", 2, "all", "blunt", "star"),
    ],
)
def test_outlines_keep_the_edge_gap_and_hinges_lie_in_the_middle_of_it(kind, rings, corners, tips, tree):
    family, build = middle_of_box(SegmentStack, cell_of(tree, kind, rings, corners, tips), 3, seed=4), build_of(3)
    topology, geometry = family.topology(), family.geometry(build)
    assert keep_apart(topology, geometry, edge_gap=0.002) > 0.0


def test_outer_tiles_are_cut_to_the_clear_circle_without_loss_of_light_or_hinge():
    """Twenty-five squares of a fifth of the diameter: what trimming takes lies outside the circle."""
    family = batch_of(cell_of("star", "square", 2))
    geometry = family.geometry(build_of(1))
    circle = MultiPoint([(0, 0)]).buffer(0.425, quad_segs=256)
    unit = 0.85 / 5.0
    whole = [
        rotate(box(x - unit / 2 + 0.001, y - unit / 2 + 0.001, x + unit / 2 - 0.001, y + unit / 2 - 0.001),
               float(family.spin[0]), origin=(0.0, 0.0), use_radians=True)
        for x, y in itertools.product(unit * (np.arange(5) - 2.0), repeat=2)
    ]  # fmt: skip
    trimmed = [Polygon(distinct(o)) for o in geometry.outline[0]]
    light = sum(t.intersection(circle).area for t in trimmed)
    assert near(light, sum(w.intersection(circle).area for w in whole), rel=1e-6)
    assert sum(t.area for t in trimmed) < 0.97 * sum(w.area for w in whole)
    lengths = np.linalg.norm(geometry.axis[0, :, 1] - geometry.axis[0, :, 0], axis=-1)
    assert near(lengths, unit - 0.002, rel=1e-9)


@pytest.mark.parametrize(
    ("tree", "kind", "rings", "tips"),
    [
        ("star", "hexagon", 1, "sharp"),
        ("spiral", "hexagon", 1, "sharp"),
        ("star", "hexagon", 2, "sharp"),
        ("spiral", "hexagon", 2, "blunt"),
        ("comb0", "hexagon", 2, "sharp"),
        ("comb1", "hexagon", 2, "blunt"),
        ("free1", "hexagon", 2, "blunt"),
        ("free2", "hexagon", 2, "blunt"),
        ("free3", "hexagon", 2, "blunt"),
        ("comb0", "square", 2, "sharp"),
        ("free4", "square_even", 2, "blunt"),
        ("star", "triangle", 2, "sharp"),
    ],
)
def test_nothing_meets_on_the_way_where_the_gap_is_wide_enough(tree, kind, rings, tips):
    tree = random_tree(int(tree[4:]), kind, rings) if tree.startswith("free") else tree
    family, build = batch_of(cell_of(tree, kind, rings, tips=tips)), build_of(1)
    plan = _plan(kind, rings, "all", tree)
    unit, blunt = np.array([0.85 / plan.tiles.span]), np.array([0.1 if tips == "blunt" else 0.0])
    asked = passing_gap(plan.terms, unit, build.pitch, build.thickness, blunt).max(initial=0.0)
    build = build_of(1, edge_gap=max(2e-3, 1.02 * float(asked)))
    assert asked < 0.02
    topology, geometry = family.topology(), family.geometry(build)
    # panels alone: hinges may ask for more (test_fins)
    assert geometry.status.reason[0] in ("", HINGES_NARROW)
    assert meetings(topology, geometry) == []


@pytest.mark.parametrize(("tree", "rings"), [("spiral", 2), ("comb2", 2)])
def test_the_gap_that_passing_panels_ask_for_is_the_one_at_which_they_meet(tree, rings):
    """Closed form of _unfold against sampled solids: clear 2 per cent above it, met 2 per cent below."""
    cell = cell_of(tree, rings=rings)
    family, build = batch_of(cell), build_of(1)
    terms = _plan("hexagon", rings, "all", tree).terms
    unit = np.array([0.85 / (2 * rings + 1)])
    asked = float(passing_gap(terms, unit, build.pitch, build.thickness, np.zeros(1)).max())
    assert asked > 0.001
    topology = family.topology()
    for factor in (1.02, 0.98):
        geometry = family.geometry(build_of(1, edge_gap=factor * asked))
        assert (meetings(topology, geometry, stations=80) == []) == (factor > 1.0)
        assert (geometry.status.reason[0] in ("", HINGES_NARROW)) == (factor > 1.0)


def test_passing_gap_is_the_distance_from_a_circle_about_the_axis():
    """A corner that lands 3 pitches deep at 0.1 passes the top of the layer two above: Pythagoras."""
    terms = np.array([[0.1, 0.3, 0.5, -3.0, -1.0]])
    one, pitch, thickness = np.ones(1), np.full(1, 0.01), np.full(1, 0.008)
    expected = 0.5 * (np.sqrt(0.1**2 + 0.034**2 - 0.006**2) - 0.1)
    assert near(passing_gap(terms, one, pitch, thickness, 0.0 * one), expected, rel=1e-9)
    blunted = 0.5 * (np.sqrt(0.12**2 + 0.034**2 - 0.006**2) - 0.12)
    assert near(passing_gap(terms, one, pitch, thickness, 0.1 * one), blunted, rel=1e-9)


@pytest.mark.parametrize("tree", ["star", "comb0", "free1", "free2", "free5"])
def test_hinges_on_one_stowed_edge_with_common_levels_have_different_slots(tree):
    tree = random_tree(int(tree[4:])) if tree.startswith("free") else tree
    family, build = batch_of(cell_of(tree)), build_of(1)
    topology, geometry = family.topology(), family.geometry(build)
    turn, shift = placed(topology, geometry, 0, geometry.stowed_angle[0])
    middle = geometry.axis[0].mean(axis=1)
    at = np.array([turn[p] @ m + shift[p] for p, m in zip(topology.parent[1:], middle, strict=True)])
    span = np.sort(topology.level[topology.hinges], axis=1)
    met = 0
    for a, b in itertools.combinations(range(len(at)), 2):
        if np.linalg.norm(at[a, :2] - at[b, :2]) < 1e-3 and span[a, 0] <= span[b, 1] and span[b, 0] <= span[a, 1]:
            met += 1
            assert topology.slot[a] != topology.slot[b]
    if not met:
        assert topology.slot.max() == 0


def test_standoffs_are_the_least_that_any_sides_and_order_give():
    """Against every choice of sides and ranks for small trees."""
    rng = np.random.default_rng(3)
    for _ in range(12):
        parent = [-1, *(int(rng.integers(0, k)) for k in range(1, 6))]
        best = min(
            int(stack(parent, order, [0, *sides]).steps.sum())
            for sides in itertools.product((1, -1), repeat=5)
            for order in itertools.permutations(range(6))
            if order[0] == 0
        )
        assert lowest_stack(parent).steps.sum() == best


def test_trees_read_back_and_swaps_stay_trees():
    tiles, rng = tiling("hexagon", 2, "all"), np.random.default_rng(0)
    parent = parents_of("spiral", tiles)
    for _ in range(200):
        fresh = swapped(parent, tiles, rng)
        assert sorted(visit_order(fresh)) == list(range(19))
        old = {frozenset((t, p)) for t, p in enumerate(parent) if p >= 0}
        new = {frozenset((t, p)) for t, p in enumerate(fresh) if p >= 0}
        assert len(old - new) == len(new - old) == 1
        assert parents_of(text_of(fresh), tiles) == fresh
        parent = fresh


@pytest.mark.parametrize(
    "tree", ["wheel", "t:", "t:0.0.x", "t:0.0", "t:0.0.0.0.0.3", "t:2.3.4.5.6.1", "t:0.1.2.3.4.99"]
)
def test_impossible_trees_are_told(tree):
    with pytest.raises(InputError, match=r"tree|tile"):
        parents_of(tree, tiling("hexagon", 1, "all"))
    assert not SegmentStack.allowed(cell_of(tree, rings=1))


def test_relatives_are_allowed_fresh_and_the_same_for_the_same_seed():
    for cell in (cell_of("star"), cell_of(random_tree(1)), cell_of("comb2", rings=1)):
        found = SegmentStack.relatives(cell, 40, np.random.default_rng(9))
        assert found == SegmentStack.relatives(cell, 40, np.random.default_rng(9))
        assert all(SegmentStack.allowed(c) and SegmentStack.panel_count(c) <= 40 and c != cell for c in found)
        assert sum(str(c["tree"]).startswith("t:") for c in found) >= 4
        assert {c["tree"] for c in found} >= set(NAMED) - {cell["tree"]}
        assert {c["tiling"] for c in found} >= {"square", "triangle"}


def test_every_stage_leaves_the_deployed_aperture_flat_at_the_end():
    family, build = batch_of(cell_of("comb0")), build_of(1)
    topology, geometry = family.topology(), family.geometry(build)
    *_, last = angles_through(topology, geometry, 0, 5)
    turn, shift = placed(topology, geometry, 0, last[2])
    assert np.allclose(turn, np.eye(3), atol=1e-12)
    assert np.allclose(shift, 0.0, atol=1e-12)


def test_rows_are_independent_and_finite_over_the_box():
    cell, rows = cell_of("comb1", tips="blunt"), 6
    family, build = middle_of_box(SegmentStack, cell, rows, seed=2), build_of(rows)
    together = family.geometry(build)
    for row in range(rows):
        alone = replace(family, **{k: getattr(family, k)[[row]] for k in family.reals()}).geometry(build_of(1))
        for name in ("outline", "axis", "latch_edge", "stowed_angle"):
            assert np.array_equal(getattr(together, name)[row], getattr(alone, name)[0])
        assert together.status.residual[row] == alone.status.residual[0]
    for low in (True, False):
        ends = {k: np.array([v.low if low else v.high]) for k, v in family.reals().items()}
        for sizes in ({"edge_gap": 0.02, "thickness": 0.04}, {"edge_gap": 1e-4, "thickness": 1e-3}):
            g = SegmentStack.of(cell, ends).geometry(build_of(1, diameter=0.3, **sizes))
            assert all(np.isfinite(x).all() for x in (g.outline, g.axis, g.latch_edge, g.status.residual))
