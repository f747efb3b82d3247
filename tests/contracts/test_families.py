"""What every family must keep, run on each that the folder holds."""

import dataclasses
import json
import sys
from typing import Any

import numpy as np
import pytest
from shapely.geometry import Point, Polygon

from synth.core.arrays import transform
from synth.core.family import Count, Layout, Real
from synth.core.geometry import Geometry
from synth.core.polygon import area, centroid
from synth.core.topology import Topology
from synth.families import families
from tests.families.folding import (
    PANEL_GAP,
    all_pairs,
    batch,
    build,
    columns,
    gaps,
    least_gap,
    poses,
    scaled,
    solids,
    stations,
    take,
)
from tests.near import near

MOST = 61
ROWS = 5
RESTING = 1e-9
"""m: rounding of coordinates of about a metre, with room."""


def _spread(name: str, most: int, cells: int) -> list[dict[str, Any]]:
    """First cells with no more panels than that, at most so many, evenly picked."""
    family = families()[name]
    found = [dict(c) for c in family.first_cells(MOST) if family.panel_count(c) <= most]
    step = max(1, -(-len(found) // cells))
    return found[::step]


def _cases(most: int, cells: int) -> list[Any]:
    out = []
    for name in families():
        for cell in _spread(name, most, cells):
            out.append(pytest.param(name, cell, id=name + "-" + "-".join(str(v)[:24] for v in cell.values())))
    return out


def _designs(g: Geometry) -> list[int]:
    """The first two rows that are designs; there must be some."""
    found = np.flatnonzero(g.status.ok)[:2].tolist()
    assert found, set(g.status.reason)
    return [int(r) for r in found]


ALL = _cases(MOST, 40)
SOME = _cases(MOST, 8)
MOVING = _cases(20, 7)


@pytest.mark.parametrize("name", list(families()))
def test_variables_are_declared_with_bounds_units_and_words(name: str) -> None:
    family = families()[name]
    assert family.name == name and family.title and family.__doc__
    words = family.__doc__ + (sys.modules[family.__module__].__doc__ or "")
    assert "cut" in words, "the docstring must say which creases are cut"
    params = family.__dataclass_params__  # type: ignore[attr-defined]
    assert params.frozen and not params.eq
    for key, variable in family.variables().items():
        assert key.isidentifier() and variable.doc
        if isinstance(variable, Real):
            assert variable.low < variable.high and variable.unit in {"1", "m", "rad"}
        elif isinstance(variable, Count):
            assert 0 <= variable.low < variable.high
        else:
            assert isinstance(variable, Layout) and len(set(variable.options)) == len(variable.options)


@pytest.mark.parametrize("name", list(families()))
def test_first_cells_are_distinct_allowed_and_small_enough(name: str) -> None:
    family = families()[name]
    for most in (7, 20, MOST):
        cells = [dict(c) for c in family.first_cells(most)]
        keys = {json.dumps(c, sort_keys=True) for c in cells}
        assert len(keys) == len(cells)
        for cell in cells:
            assert set(cell) == set(family.fixed()) and family.allowed(cell)
            assert family.panel_count(cell) <= most
            for key, variable in family.fixed().items():
                value = cell[key]
                if isinstance(variable, Count):
                    assert isinstance(value, int) and variable.low <= value <= variable.high
                else:
                    assert isinstance(value, str) and (not variable.options or value in variable.options)
    assert cells


@pytest.mark.parametrize(("name", "cell"), SOME)
def test_relatives_are_cells_of_the_family(name: str, cell: dict[str, Any]) -> None:
    family = families()[name]
    found = family.relatives(cell, MOST, np.random.default_rng(4))
    again = family.relatives(cell, MOST, np.random.default_rng(4))
    assert [dict(c) for c in found] == [dict(c) for c in again]
    for other in found:
        assert dict(other) != cell and set(other) == set(cell)
        assert family.allowed(other) and family.panel_count(other) <= MOST
    for other in found[:: max(1, len(found) // 3)]:  # plans of many tiles take a second each
        made = family.of(other, columns(family, 1))
        assert made.topology().panels == family.panel_count(other)


@pytest.mark.parametrize(("name", "cell"), ALL)
def test_topology_is_a_tree_with_whole_stages_and_slots(name: str, cell: dict[str, Any]) -> None:
    family = families()[name]
    t = family.of(cell, columns(family, 1)).topology()
    assert t.panels == family.panel_count(cell)
    assert t.parent[0] == -1
    assert all(0 <= t.parent[p] < p for p in range(1, t.panels))
    count = len(t.hinges)
    for part in (t.sense, t.steps, t.stage, t.slot):
        assert part.shape == (count,) and part.dtype == np.int64
    assert set(t.sense.tolist()) <= {-1, 1} and (t.steps >= 0).all() and (t.slot >= 0).all()
    assert sorted(set(t.stage.tolist())) == list(range(int(t.stage.max(initial=0)) + 1))
    assert t.level.shape == t.turned.shape == t.receiving.shape == (t.panels,)
    pairs = [tuple(sorted(p)) for p in t.latchable.tolist()]
    assert len(set(pairs)) == len(pairs) and not set(pairs) & {tuple(sorted(p)) for p in t.hinges.tolist()}
    assert all(0 <= i < j < t.panels for i, j in pairs)


@pytest.mark.parametrize(("name", "cell"), ALL)
def test_layers_follow_from_senses_and_steps(name: str, cell: dict[str, Any]) -> None:
    """Z_c = Z_p + 2 s_p h with h = sense steps pitch / 2 (half-turn rule, derived): levels, and one panel a layer."""
    family = families()[name]
    t = family.of(cell, columns(family, 1)).topology()
    if not t.level.any():
        return
    for h, (i, j) in enumerate(t.hinges.tolist()):
        if t.steps[h]:
            assert t.level[j] == t.level[i] + t.turned[i] * t.sense[h] * t.steps[h]
            assert t.turned[j] == -t.turned[i]
    if (t.steps > 0).all():
        assert len(set(t.level.tolist())) == t.panels
        assert t.level.max() - t.level.min() == t.panels - 1


@pytest.mark.parametrize(("name", "cell"), ALL)
def test_geometry_has_its_shapes_and_is_finite_over_the_box(name: str, cell: dict[str, Any]) -> None:
    family, b = families()[name], build(16, seed=8)
    # the far corners of what a build may be, too: thick panels, hardly any gap, wide hinges
    extreme = dataclasses.replace(
        b,
        thickness=np.where(np.arange(16) % 2, 40e-3, 1e-3),
        pitch=np.where(np.arange(16) % 2, 60e-3, 12e-3),
        edge_gap=np.where(np.arange(16) % 4 < 2, 40e-3, 0.2e-3),
    )
    for whole in (b, extreme):
        t, g = batch(family, cell, whole)
        rows, count, held = whole.rows, len(t.hinges), len(t.latchable)
        assert g.outline.shape[:2] == (rows, t.panels) and g.outline.shape[3] == 2
        assert g.axis.shape == (rows, count, 2, 3) and g.stowed_angle.shape == (rows, count)
        assert g.latch_edge.shape == (rows, held, 2, 2) and g.thickness.shape == (rows,)
        for part in (g.outline, g.axis, g.stowed_angle, g.latch_edge, g.status.residual):
            assert np.isfinite(part).all()
        assert ((g.status.residual < 0) == (g.status.reason != "")).all()
        assert (np.abs(g.stowed_angle) <= np.pi + 1e-12).all()
        # a hinge may be flat at both ends of the way
        assert ((np.sign(g.stowed_angle) == t.sense) | (g.stowed_angle == 0.0)).all()


@pytest.mark.parametrize(("name", "cell"), ALL)
def test_outlines_are_convex_and_an_edge_gap_apart(name: str, cell: dict[str, Any]) -> None:
    family, b = families()[name], build(ROWS)
    t, g = batch(family, cell, b)
    for row in _designs(g):
        shapes = [Polygon(o) for o in g.outline[row]]
        assert near(area(g.outline[row]), [s.convex_hull.area for s in shapes], rel=1e-9, why="convex, ccw, no overlap")
        edge = np.roll(g.outline[row], -1, axis=1) - g.outline[row]
        after = np.roll(edge, -1, axis=1)
        assert (edge[..., 0] * after[..., 1] - edge[..., 1] * after[..., 0] > -1e-12).all()
        for i, j in all_pairs(t.panels):
            assert shapes[i].distance(shapes[j]) >= b.edge_gap[row] - RESTING, (i, j)


@pytest.mark.parametrize(("name", "cell"), ALL)
def test_hinge_and_latch_lines_lie_in_the_middle_of_the_gap_and_along_both_edges(
    name: str, cell: dict[str, Any]
) -> None:
    family, b = families()[name], build(ROWS)
    t, g = batch(family, cell, b)
    for row in _designs(g):
        half = b.edge_gap[row] / 2.0
        shapes = [Polygon(o) for o in g.outline[row]]
        middle = centroid(g.outline[row])
        lines = [*g.axis[row, :, :, :2], *g.latch_edge[row]]
        pairs = [*t.hinges.tolist(), *t.latchable.tolist()]
        for (i, j), line in zip(pairs, lines, strict=True):
            for share in (0.0, 0.5, 1.0):
                point = Point(line[0] + share * (line[1] - line[0]))
                assert near(shapes[i].distance(point), half, abs=1e-8, why="rounding")
                assert near(shapes[j].distance(point), half, abs=1e-8, why="rounding")
            along = (line[1] - line[0]) / np.linalg.norm(line[1] - line[0])
            across = np.array([-along[1], along[0]])
            # along = across x z: then across = z x along points from i to j
            assert across @ (middle[j] - line[0]) > 0.0 > across @ (middle[i] - line[0])
        assert np.ptp(g.axis[row, :, :, 2], axis=1).max(initial=0.0) == 0.0


@pytest.mark.parametrize(("name", "cell"), SOME)
def test_all_at_once_equals_one_at_a_time_and_shuffling_shuffles(name: str, cell: dict[str, Any]) -> None:
    family, b = families()[name], build(6)
    x = columns(family, 6)
    whole = family.of(cell, x).geometry(b)
    order = np.random.default_rng(3).permutation(6)
    mixed = family.of(cell, {k: v[order] for k, v in x.items()}).geometry(take(b, order))
    single = [family.of(cell, {k: v[r : r + 1] for k, v in x.items()}).geometry(take(b, [r])) for r in range(6)]
    for part in ("outline", "axis", "stowed_angle", "latch_edge"):
        here = getattr(whole, part)
        np.testing.assert_array_equal(getattr(mixed, part), here[order])
        np.testing.assert_allclose(np.concatenate([getattr(s, part) for s in single]), here, rtol=0, atol=1e-13)
    np.testing.assert_array_equal(mixed.status.residual, whole.status.residual[order])


@pytest.mark.parametrize(("name", "cell"), SOME)
def test_lengths_scale_together(name: str, cell: dict[str, Any]) -> None:
    family, b = families()[name], build(4)
    x = columns(family, 4)
    factor = 2.5
    bigger = {k: v * factor if family.reals()[k].unit == "m" else v for k, v in x.items()}
    small = family.of(cell, x).geometry(b)
    large = family.of(cell, bigger).geometry(scaled(b, factor))
    ok = small.status.ok
    assert (ok == large.status.ok).all()
    assert near(large.axis[ok], factor * small.axis[ok], abs=1e-8, why="rounding")
    assert near(area(large.outline)[ok], factor**2 * area(small.outline)[ok], rel=1e-7, why="rounding")
    for row in np.flatnonzero(ok):
        for a, b_ in zip(large.outline[row], factor * small.outline[row], strict=True):
            assert Polygon(a).hausdorff_distance(Polygon(b_)) < 1e-7
    assert near(large.stowed_angle[ok], small.stowed_angle[ok], rel=1e-9, why="rounding")


@pytest.mark.parametrize(("name", "cell"), SOME)
def test_genes_go_through_text_and_come_back(name: str, cell: dict[str, Any]) -> None:
    family, b = families()[name], build(1)
    x = columns(family, 1)
    genes = {**cell, **{k: float(v[0]) for k, v in x.items()}}
    back = json.loads(json.dumps(genes))
    again = family.of({k: back[k] for k in family.fixed()}, {k: np.array([back[k]]) for k in family.reals()})
    first = family.of(cell, x).geometry(b)
    np.testing.assert_array_equal(again.geometry(b).outline, first.outline)
    np.testing.assert_array_equal(again.geometry(b).axis, first.axis)


@pytest.mark.parametrize(("name", "cell"), ALL)
def test_stowed_panels_keep_the_panel_gap(name: str, cell: dict[str, Any]) -> None:
    """Panels that no hinge joins, and the two of a half-turn hinge, stay panel_gap apart; the others do not meet."""
    family, b = families()[name], build(ROWS)
    t, g = batch(family, cell, b)
    pairs = all_pairs(t.panels)
    joined = {tuple(sorted(p)): h for h, p in enumerate(t.hinges.tolist())}
    for row in _designs(g):
        bodies = solids(g.outline[row], b.thickness[row], poses(t.parent, g.axis[row], g.stowed_angle[row]))
        half = np.isclose(np.abs(g.stowed_angle[row]), np.pi)
        tied = np.array([(i, j) in joined and not half[joined[i, j]] for i, j in pairs.tolist()], dtype=bool)
        if (~tied).any():
            assert least_gap(bodies, pairs[~tied], 0.01) >= PANEL_GAP - RESTING
        if tied.any():
            assert gaps(bodies, pairs[tied]).min() > RESTING


@pytest.mark.parametrize(("name", "cell"), MOVING)
def test_panels_do_not_meet_on_the_way(name: str, cell: dict[str, Any]) -> None:
    """Sampled stations of every stage (a proof is the business of verification)."""
    family, b = families()[name], build(ROWS)
    t, g = batch(family, cell, b)
    pairs = all_pairs(t.panels)
    stages = int(t.stage.max(initial=0)) + 1
    made, s = family.of(cell, columns(family, b.rows)), np.linspace(0.0, 1.0, 61)
    own, placed = made.angles(b, s), made.poses(b, s)
    for row in _designs(g):
        if placed is not None:
            for pose in placed[row]:
                assert least_gap(solids(g.outline[row], b.thickness[row], pose), pairs, 1e-4) > RESTING
            continue
        linear = stations(t, g.stowed_angle[row], max(8, 60 // stages))
        for angle in linear if own is None else own[row]:
            bodies = solids(g.outline[row], b.thickness[row], poses(t.parent, g.axis[row], angle))
            assert least_gap(bodies, pairs, 1e-4) > RESTING


@pytest.mark.parametrize(("name", "cell"), ALL)
def test_hardware_on_one_edge_of_the_stack_has_slots_of_its_own(name: str, cell: dict[str, Any]) -> None:
    """Hinges whose lines coincide in plan when stowed, and whose layers overlap, differ in slot."""
    family, b = families()[name], build(2)
    t, g = batch(family, cell, b)
    if not (t.steps > 0).all():
        return
    # row 0 and 1 are the two ends of the box of variables, where edges coincide most
    for row in (0, 1):
        _slots_differ(t, g, row, b.edge_gap[row] / 2.0)


def _slots_differ(t: Topology, g: Geometry, row: int, width: float) -> None:
    pose = poses(t.parent, g.axis[row], g.stowed_angle[row])
    i, j = t.hinges.T
    ends = np.einsum("hab,hkb->hka", pose[i, :3, :3], g.axis[row]) + pose[i, None, :3, 3]
    plan, low, high = ends[..., :2], np.minimum(t.level[i], t.level[j]), np.maximum(t.level[i], t.level[j])
    for h, k in all_pairs(len(i)).tolist():
        along = (plan[h, 1] - plan[h, 0]) / np.linalg.norm(plan[h, 1] - plan[h, 0])
        off = plan[k] - plan[h, 0]
        beside = np.abs(off[:, 0] * along[1] - off[:, 1] * along[0]).max()
        place, length = off @ along, float((plan[h, 1] - plan[h, 0]) @ along)
        meets = place.min() < length - 1e-6 and place.max() > 1e-6
        if beside < width and meets and low[h] <= high[k] and low[k] <= high[h]:
            assert t.slot[h] != t.slot[k], (h, k)
            # slots count from the ends of each line, so such lines must have the same ends
            assert near(sorted(place), [0.0, length], abs=1e-6, why="rounding"), (h, k)


@pytest.mark.parametrize(("name", "cell"), SOME)
def test_hinges_that_close_loops_stay_whole_on_the_way(name: str, cell: dict[str, Any]) -> None:
    """Both panels of every hinge carry its line to the same place, at any station, but for the slack of membranes."""
    family, b = families()[name], build(ROWS)
    t, g = batch(family, cell, b)
    made, s = family.of(cell, columns(family, b.rows)), np.linspace(0.0, 1.0, 13)
    own, placed = made.angles(b, s), made.poses(b, s)
    if placed is not None:
        np.testing.assert_array_equal(placed[:, -1], np.broadcast_to(np.eye(3, 4), placed[:, -1].shape))
        i, j = t.hinges.T
        ends = np.broadcast_to(g.axis[:, None], (b.rows, 13, *g.axis.shape[1:]))
        apart = np.linalg.norm(transform(placed[:, :, i], ends) - transform(placed[:, :, j], ends), axis=-1).max(-1)
        for row in _designs(g):
            assert (apart[row] <= g.slack[row] + 1e-12).all()
        return
    if own is None:
        assert not len(t.closing), "hinges in loops need angles that keep them closed"
        return
    assert own.shape == (b.rows, 13, len(t.hinges))
    np.testing.assert_array_equal(own[:, 0], g.stowed_angle)
    np.testing.assert_array_equal(own[:, -1], 0.0)
    for row in _designs(g):
        for angle in own[row]:
            pose = poses(t.parent, g.axis[row], angle)
            i, j = t.hinges.T
            lines = [np.einsum("hab,hkb->hka", pose[p, :3, :3], g.axis[row]) + pose[p, None, :3, 3] for p in (i, j)]
            assert np.abs(lines[0] - lines[1]).max() < 1e-12
            turned = np.einsum("hba,hbc->hac", pose[i, :3, :3], pose[j, :3, :3])
            trace = np.trace(turned, axis1=1, axis2=2)
            assert near(trace, 1.0 + 2.0 * np.cos(angle), abs=1e-9, why="a turn by the hinge's angle")


@pytest.mark.parametrize(("name", "cell"), MOVING)
def test_angles_of_its_own_bend_no_more_than_told(name: str, cell: dict[str, Any]) -> None:
    """Second differences of the angles on a comb inside every interval stay below the bound, and come near it."""
    family = families()[name]
    made, b = family.of(cell, columns(family, ROWS)), build(ROWS)
    s = np.linspace(0.0, 1.0, 41)
    bends = made.bends(b, s)
    if made.angles(b, s) is None:
        assert bends is None
        return
    assert bends is not None
    step = np.diff(s)[:, None] / 8.0
    at = s[:-1, None] + step * np.arange(9)
    told = made.angles(b, at.reshape(-1))
    assert told is not None and bends.shape == (ROWS, 40, told.shape[-1])
    fine = told.reshape(ROWS, 40, 9, -1)
    found = np.abs(np.diff(fine, 2, axis=2)).max(axis=2) / step[None] ** 2
    assert (found <= bends * (1.0 + 1e-9) + 1e-8).all()
    assert (found.max(axis=1) > 0.8 * bends.max(axis=1)).all()
