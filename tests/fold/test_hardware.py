"""Leaves, stand-offs and latch halves: what of the gap strip they fill."""

import numpy as np
import pytest

from synth.cell import Cell, first_cells, space
from synth.core.fittings import NO_JOINT
from synth.evaluate import lay_out
from synth.fold.hardware import END_MARGIN, LEAST_RING, SLOT_PITCH
from synth.fold.interference import prove
from synth.fold.leaves import HINGE_SEAM, LATCH_DRAWN, LATCH_SEAM, PASSING_CLEARANCE
from synth.problem.catalogue import joint_of, rows
from tests.near import near
from tests.samples import problem


def laid(family: str, count: int = 40, latches: str = "none", seed: int = 3, **fixed):
    asked = problem()
    cell: Cell = next(
        c for c in first_cells(asked, family)
        if dict(c.build)["latches"] == latches and fixed.items() <= dict(c.fixed).items()
    )  # fmt: skip
    x = np.random.default_rng(seed).random((count, space(asked, cell).size))
    with np.errstate(all="ignore"):
        design, _, build = lay_out(asked, cell, space(asked, cell).columns(x))
    return design, build


def across(design, f):
    """Nearest and farthest distance [B] of fitting f from the line of its joint."""
    of = design.fittings
    line = design.geometry.axis[:, of.hinge[f], :, :2] if of.hinge[f] != NO_JOINT else None
    line = design.geometry.latch_edge[:, of.latch[f]] if line is None else line
    along = line[:, 1] - line[:, 0]
    along = along / np.linalg.norm(along, axis=-1, keepdims=True)
    away = of.outline[:, f] - line[:, :1]
    distance = np.abs(away[..., 0] * along[:, None, 1] - away[..., 1] * along[:, None, 0])
    return distance.min(axis=1), distance.max(axis=1)


@pytest.mark.parametrize(
    ("family", "fixed"), [("accordion", {"strips": 4}), ("wing", {"strips": 2, "root_fold": "front"})]
)
def test_a_leaf_is_a_foot_no_higher_than_its_panel_and_a_knuckle_as_wide_as_high(family, fixed):
    design, build = laid(family, **fixed)
    half, knuckle = build.edge_gap / 2.0, build.knuckle
    steps, seen = design.topology.steps, set()
    of = design.fittings
    for f in range(len(of.panel)):
        first, last = across(design, f)
        if near_rows(last, half):
            assert near(of.z_back[:, f], -build.thickness, abs=1e-12, why="within the panel")
            assert near(of.z_front[:, f], 0.0, abs=1e-12, why="within the panel")
            seen.add("foot")
            continue
        passes = steps[of.hinge[f]] > 1
        broad = np.minimum(knuckle, np.maximum(half - PASSING_CLEARANCE, half / 4.0) if passes else half)
        assert near(last, broad, abs=1e-9, why="rounding")
        assert near(first, np.minimum(HINGE_SEAM, broad / 2.0), abs=1e-9, why="rounding")
        axis = design.geometry.axis[:, of.hinge[f], 0, 2]
        top = np.maximum(of.z_front[:, f] - axis, axis - of.z_back[:, f] - 0.0)
        assert (top >= np.minimum(knuckle, 0.2 * half) - 1e-12).all()
        if passes:
            # in mid-turn the corner of the end keeps inside the circle that the passed edges leave
            end = np.where(axis > 0.0, of.z_front[:, f] - axis, axis - of.z_back[:, f])
            ok = half > 1e-3
            assert (np.hypot(last, end)[ok] < half[ok]).all()
        seen.add("post" if passes else "knuckle")
    assert seen == ({"foot", "knuckle"} if family == "accordion" else {"foot", "knuckle", "post"})


def near_rows(a, b):
    return bool(np.allclose(a, b, rtol=0.0, atol=1e-9))


def test_hinge_units_of_a_trimmed_grid_keep_to_the_ends_of_their_cell_edges_where_no_latch_is():
    """Corner tiles are cut by the circle: units counted from what is left would come under the latches."""
    design, _ = laid("map_fold", latches="all", count=80, columns=6, rows=6, tree="comb_middle")
    line = design.geometry.axis[..., :2]
    middle = line.mean(axis=2)
    # every hinge line lies about the middle of a cell edge: middles of one column line have the cells' own places
    level = np.abs(line[:, :, 1, 1] - line[:, :, 0, 1]) < 1e-9
    for row in np.flatnonzero(design.status.ok)[:6]:
        x = np.unique(np.round(middle[row, level[row], 0], 9))
        assert len(x) == 6 and near(x, -x[::-1], abs=1e-8, why="rounding")
        step = np.diff(x)
        assert near(step, step.mean(), rel=1e-6)
        # lines on one edge of the stack have one length, so that units meet units and latches meet latches
        length = np.linalg.norm(line[row, :, 1] - line[row, :, 0], axis=-1)
        for side in (level[row], ~level[row]):
            assert len(np.unique(np.round(length[side], 9))) <= 2


def test_latch_halves_stop_short_of_the_middle():
    design, build = laid("map_fold", latches="all", tree="comb", columns=3)
    latched = np.flatnonzero(design.fittings.latch != NO_JOINT)
    there = design.fittings.z_front[:, latched] > design.fittings.z_back[:, latched]
    assert there.any()
    for k, f in enumerate(latched):
        first, _ = across(design, int(f))
        asked = np.maximum(LATCH_SEAM, LATCH_DRAWN * build.edge_gap / 2.0)
        assert near(first[there[:, k]], asked[there[:, k]], abs=1e-9, why="rounding")


def test_stacked_leaves_around_a_hub_do_not_touch():
    """Full sectors on raised axes: random designs of every leaf count are clear, stowed and on the way."""
    for leaves in (4, 6):
        design, _ = laid("petal", form="full_staged", leaves=leaves)
        fine = np.flatnonzero(design.status.ok)[:3]
        assert len(fine)
        for row in fine:
            assert prove(design.one(int(row))).clear


def wide_strips(count: int, strips: int):
    """A wide batch of accordions of many strips, all of them at least four pad radii wide, on an aperture of 850 mm."""
    design, build = laid("accordion", count=count, strips=strips)
    wide = np.ptp(design.geometry.outline[..., 0], axis=2).min(axis=1) > 4.0 * design.units.pad_radius[:, 0]
    return design, build, wide


@pytest.mark.parametrize("strips", [8, 12])
def test_strips_wide_enough_find_room_for_their_pads(strips):
    """End units move in where the circle cuts the strips' ends; the mount takes a smaller ring on a narrow root."""
    design, _, wide = wide_strips(200, strips)
    refused = np.array(["pads" in str(r) for r in design.status.reason]) & ~design.status.ok
    assert wide.sum() > 20
    assert not refused[wide].any()


def test_units_move_in_only_where_a_pad_asks_for_it_and_stay_mirrored():
    design, build, wide = wide_strips(60, 12)
    units, line = design.units, design.geometry.axis
    moved = 0
    for hinge in range(len(design.topology.hinges)):
        mine = np.flatnonzero((units.kind == 0) & (units.owner == hinge))
        end = [np.linalg.norm(units.at[:, mine[k]] - line[:, hinge, k], axis=-1) for k in (0, 1)]
        assert near(end[0], end[1], rel=1e-9, why="mirrored about the middle of the line")
        least = END_MARGIN + build.unit_width * (SLOT_PITCH * design.topology.slot[hinge] + 0.5)
        assert (end[0] >= least - 1e-12).all()
        moved += int((end[0][wide] > least[wide] + 1e-9).any())
    # the middle strips end square: only hinges near the rim move
    assert 2 <= moved < len(design.topology.hinges)


def test_the_mount_on_a_narrow_root_is_the_same_three_bipods_on_a_smaller_ring():
    asked = problem()
    kind = asked.mount_kind
    row = next(r for r in rows("joints") if r["id"] == kind.name)
    design, _, _ = wide_strips(40, 12)
    mount = int(np.flatnonzero(design.units.kind == 2)[0])
    radius = design.units.pad_radius[:, mount]
    narrow = np.flatnonzero(radius < 0.99 * kind.pad_radius)
    assert len(narrow) > 10 and (radius >= LEAST_RING * kind.pad_radius * (1.0 - 1e-12)).all()
    for k in narrow[:5]:
        values = dict(row["values"])
        values["ring_radius_m"] = {**values["ring_radius_m"], "value": float(radius[k])}
        small = joint_of({**row, "values": values})
        assert near(design.units.stiffness[k, mount], small.stiffness, rel=1e-9)
        assert near(design.units.sigma[k, mount], small.sigma, rel=1e-9)
