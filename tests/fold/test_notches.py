"""Notched panels: what is cut out, that the way is clear, what stand-offs in notches cost and give, and the record."""

import json
from dataclasses import replace
from functools import cache

import ezdxf
import numpy as np
import pytest
import shapely

from synth.cell import Cell, cell_from, first_cells, space
from synth.core.errors import InputError
from synth.core.fittings import NO_JOINT
from synth.core.polygon import area, moments
from synth.evaluate import evaluate, family_of, lay_out
from synth.export.dxf import write_dxf
from synth.families import families
from synth.families.miura import Miura
from synth.fold.interference import prove
from synth.fold.leaves import PASSING_CLEARANCE
from synth.fold.route import course_of, motion_of
from synth.metrics import METRICS
from synth.recheck import recheck_record
from synth.recheck.asked import read_asked
from synth.record import Record
from synth.record.draft import unpacked
from synth.search.evaluator import work
from synth.search.types import Task
from synth.structure.orthogonal import _quadrature
from tests.near import near
from tests.samples import problem, text

STAR = {"tiling": "hexagon", "rings": 1, "corners": "all", "tips": "sharp", "tree": "star"}
PLAIN = {"thickness": "6 mm", "edge_gap": "7 mm", "hinge": "pin_bearing", "section": "solid"}


@cache
def batch(passing: str, count: int = 240):
    """Random stars of seven hexagons with one way of passing."""
    asked = problem()
    cell = next(c for c in first_cells(asked, "segment_stack") if STAR.items() <= dict(c.fixed).items()
                and dict(c.build)["latches"] == "none")  # fmt: skip
    if passing == "notch":
        cell = Cell(cell.family, cell.fixed, (*cell.build, ("passing", "notch")))
    rows = np.random.default_rng(3).random((count, space(asked, cell).size))
    with np.errstate(all="ignore"):
        return lay_out(asked, cell, space(asked, cell).columns(rows))[0]


def evaluated(passing: str):
    asked = problem()
    cell, row = cell_from(asked, "segment_stack", {**STAR, **PLAIN, "cover": 1.05, "passing": passing})
    return evaluate(asked, cell, space(asked, cell).columns(row))


def test_what_is_cut_out_lies_at_the_edges_of_panels_that_stand_offs_pass():
    design = batch("notch")
    g, fine = design.geometry, np.flatnonzero(design.status.ok)
    assert len(fine) > 10
    gone = area(g.outline) - area(g.cut)
    assert (gone[fine].max(axis=1) > 1e-6).sum() > 5
    for row in fine[:8]:
        for p in range(design.topology.panels):
            whole, cut = (shapely.Polygon(x[row, p]) for x in (g.outline, g.cut))
            assert cut.is_valid and cut.exterior.is_ccw and cut.within(whole.buffer(1e-9))
            assert near(whole.area - cut.area, gone[row, p], rel=1e-6, abs=1e-12)
            if gone[row, p] > 0.0:
                # nothing is taken out of the middle
                parts = [q for q in shapely.get_parts(whole.difference(cut)) if q.area > 1e-9]
                assert all(q.distance(whole.exterior) < 1e-9 for q in parts)


def test_random_notched_stars_are_clear_on_the_whole_way():
    design = batch("notch")
    cut = np.flatnonzero(design.status.ok & (area(design.geometry.outline) - area(design.geometry.cut)).any(axis=1))
    assert len(cut) > 5
    for row in cut[:6]:
        found = prove(design.one(int(row)))
        assert found.clear, found.reason
        assert found.least_m > 0.05e-3


def test_without_the_notches_the_same_stand_offs_meet_the_panels_they_pass():
    """The proof sees the notches: the whole outlines with the same hardware collide."""
    design = batch("notch")
    row = int(np.flatnonzero(design.status.ok & (area(design.geometry.outline) - area(design.geometry.cut)).any(1))[0])
    one = design.one(row)
    assert prove(one).clear
    assert not prove(replace(one, geometry=replace(one.geometry, cut=one.geometry.outline))).clear


def test_stand_offs_in_notches_are_two_knuckles_deep_and_stay_their_clearance_from_the_notch():
    design = batch("notch")
    g, f = design.geometry, design.fittings
    for row in np.flatnonzero(design.status.ok)[:4]:
        for k in np.flatnonzero((f.hinge != NO_JOINT) & (design.topology.steps[f.hinge] > 1)):
            tall = f.z_front[row, k] > 1e-4 or f.z_back[row, k] < -g.thickness[row] - 1e-4
            if tall:
                x = f.outline[row, k]
                sides = np.sort(np.linalg.norm(np.roll(x, -1, axis=0) - x, axis=-1))
                assert sides[0] > 0.9 * 2.0 * 1.5e-3, "two knuckles of the smallest kind, less the seam"
    assert PASSING_CLEARANCE == 0.5e-3


def test_notches_cost_light_and_give_stiffness_and_accuracy():
    gap, notch = evaluated("gap"), evaluated("notch")
    assert gap.status.ok[0] and notch.status.ok[0]
    assert 0.995 < notch.collecting_area[0] / gap.collecting_area[0] < 1.0
    assert notch.deployed.steady_m2[0] < 0.4 * gap.deployed.steady_m2[0], "gravity release tilts thin stand-offs"
    assert notch.deployed.first_mode_hz[0] > 1.1 * gap.deployed.first_mode_hz[0]
    assert near(notch.stowed_size, gap.stowed_size, rel=0.01)


def test_plate_integrals_run_over_the_notched_outline():
    design = batch("notch")
    row = int(np.flatnonzero(design.status.ok & (area(design.geometry.outline) - area(design.geometry.cut)).any(1))[0])
    for p in range(design.topology.panels):
        ring = design.geometry.cut[row, p]
        points, weights = _quadrature(ring, 4)
        assert near(weights.sum(), area(ring), rel=1e-9)
        assert near(weights @ points[:, 0] ** 2, moments(ring)[0], rel=1e-9)
        assert (weights > 0.0).all()


COMB = ("map_fold", {"columns": 3, "rows": 3, "tree": "comb"})
WINGS = ("wing", {"strips": 2, "root_fold": "front"})
SHEET = ("miura", {"columns": 3, "rows": 2, "order": "columns"})
LEAVES = ("petal", {"leaves": 6, "form": "full_staged", "fold": "both"})


def batch_of(family: str, fixed: dict, pinned: dict, count: int = 160, passing: str = "notch"):
    """Random rows of one cell, with one way of passing."""
    asked = problem()
    build = (("latches", "none"), ("pairs", 1), *([("passing", "notch")] if passing == "notch" else []))
    cell = Cell(family, tuple(sorted(fixed.items())), build)
    rows = np.random.default_rng(3).random((count, space(asked, cell).size))
    for k, axis in enumerate(space(asked, cell).axes):
        rows[:, k] = pinned.get(axis.name, rows[:, k])
    with np.errstate(all="ignore"):
        return lay_out(asked, cell, space(asked, cell).columns(rows))[0]


@pytest.mark.parametrize(
    ("family", "fixed", "pinned", "count"),
    [(*COMB, {}, 160), (*WINGS, {"wing.strip": 1.0}, 160), (*LEAVES, {"petal.hub": 0.5}, 60)],
)
def test_notches_are_clear_and_needed(family, fixed, pinned, count):
    """Spine hinges of combs, a wing folded over the other, leaves in layers on a hub: proven on the whole way, and not
    without the notches."""
    design = batch_of(family, fixed, pinned, count)
    gone = (area(design.geometry.outline) - area(design.geometry.cut)).max(axis=1)
    cut = np.flatnonzero(design.status.ok & (gone > 1e-9))
    assert len(cut) > 5
    for row in cut[:3]:
        one = design.one(int(row))
        found = prove(one)
        assert found.clear, found.reason
        assert found.least_m > 0.05e-3
        whole = prove(replace(one, geometry=replace(one.geometry, cut=one.geometry.outline)))
        assert not whole.clear and "fitting" in whole.reason


@pytest.mark.parametrize("passing", ["gap", "notch"])
def test_leaves_of_neighbouring_edges_part_from_each_others_posts(passing, monkeypatch):
    """Whatever their number: hinge lines are cut short for it, and they would meet stand-offs else."""
    for leaves, fold in ((5, "both"), (6, "up")):
        fixed = {"leaves": leaves, "form": "full_staged", "fold": fold}
        design = batch_of("petal", fixed, {"petal.hub": 0.5}, 40, passing)
        assert all(prove(design.one(int(row))).clear for row in np.flatnonzero(design.status.ok)[:2])
    monkeypatch.setattr("synth.families.petal.clear_lines", lambda topology, edge, *rest: edge)
    monkeypatch.setattr("synth.families.petal.leaf_notches", lambda *asked: None)
    design = batch_of("petal", fixed, {"petal.hub": 0.5}, 40, passing)
    found = [prove(design.one(int(row))) for row in np.flatnonzero(design.status.ok)[:3]]
    assert any(not f.clear and "fitting" in f.reason for f in found)


def deep_sheet(sector: float, **own):
    """A Miura sheet with deep posts, whether it is clear on the whole way, and its shortest straight hinge line."""
    asked = problem()
    cell, row = cell_from(asked, "miura", {**SHEET[1], **PLAIN, "edge_gap": "8 mm", "sector": sector, **own,
                                           "passing": "notch"})  # fmt: skip
    columns = space(asked, cell).columns(row)
    with np.errstate(all="ignore"):
        design, _, build = lay_out(asked, cell, columns)
    assert design.status.ok[0], design.status.reason[0]
    line = design.geometry.axis[0, design.topology.steps > 1]
    one = design.one(0)
    found = prove(one, course=course_of(one, motion_of(family_of(cell, columns), build, one)))
    return found, float(np.linalg.norm(line[:, 1] - line[:, 0], axis=-1).min())


def test_deep_posts_of_a_miura_sheet_stand_beside_the_layers_that_they_pass(monkeypatch):
    """Without a notch: near right sector angles their hinge lines are cut short, and they would meet panels else."""
    plain, length = deep_sheet(1.3)
    steep, short = deep_sheet(1.48)
    assert plain.clear and plain.least_m > 0.4e-3 and steep.clear and steep.least_m > 0.4e-3
    monkeypatch.setattr(Miura, "_beside", lambda made, topology, seam, crease, straight, build: seam[:, straight])
    assert near(deep_sheet(1.3)[1], length, rel=1e-12), "nothing is cut off there"
    left, whole = deep_sheet(1.48)
    assert not left.clear and "panel" in left.reason and short < whole - 1e-3


def test_tall_posts_of_a_miura_sheet_stay_out_of_the_next_rows_feet(monkeypatch):
    """On the way the foot of the next row's hinge, a slot farther in, passes the post in its own half gap."""
    thick = {"columns": 2, "rows": 3, "thickness": "34 mm", "edge_gap": "7 mm"}
    found, _ = deep_sheet(1.51, **thick)
    assert found.clear and found.least_m > 0.4e-3
    monkeypatch.setattr("synth.families.miura.SLOT_PITCH", 1e3)  # as if that slot were out of reach
    found, _ = deep_sheet(1.51, **thick)
    assert not found.clear and found.reason.count("fitting") == 2


def test_strips_narrower_than_the_centre_need_no_notch():
    """Deep stand-offs then stand beside the pack, in what the strips are narrower, and half a gap."""
    design = batch_of(*WINGS, {"wing.strip": 0.8}, count=60)
    fine = np.flatnonzero(design.status.ok)
    assert len(fine) > 5 and near(area(design.geometry.outline[fine]), area(design.geometry.cut[fine]), rel=1e-12)
    assert all(prove(design.one(int(row))).clear for row in fine[:3])


@pytest.mark.parametrize(("family", "fixed"), [COMB, WINGS, LEAVES])
def test_deep_stand_offs_are_stiffer(family, fixed):
    asked, own = problem(), {"wing": {"strip": "1.0"}, "petal": {"hub": "0.4", "reach": "1.0"}}.get(family, {})
    told = []
    for passing in ("gap", "notch"):
        values = {**fixed, **own, **PLAIN, "edge_gap": "8 mm", "passing": passing}
        cell, row = cell_from(asked, family, values)
        told.append(evaluate(asked, cell, space(asked, cell).columns(row)))
    gap, notch = told
    assert gap.status.ok[0] and notch.status.ok[0]
    assert 0.995 < notch.collecting_area[0] / gap.collecting_area[0] < 1.0
    assert notch.deployed.first_mode_hz[0] > 1.1 * gap.deployed.first_mode_hz[0]
    assert notch.deployed.steady_m2[0] < 0.9 * gap.deployed.steady_m2[0]


@pytest.mark.parametrize("family", sorted(families()))
def test_every_family_says_which_of_its_cells_admit_notches(family):
    """Those that do lay out both ways; the others refuse the choice by name."""
    asked, kind = problem(), families()[family]
    known = [dict(c.fixed) for c in first_cells(asked, family)]
    admitting = [f for f in known if kind.admits_notches(f)]
    assert bool(admitting) == (family in {"map_fold", "miura", "petal", "segment_stack", "wing"})
    for fixed in admitting[:1]:
        cell, row = cell_from(asked, family, {**fixed, "passing": "notch"})
        assert ("passing", "notch") in cell.build
        with np.errstate(all="ignore"):
            lay_out(asked, cell, space(asked, cell).columns(row))
    for fixed in [f for f in known if f not in admitting][:1]:
        with pytest.raises(InputError, match="passing"):
            cell_from(asked, family, {**fixed, "passing": "notch"})


def test_a_problem_can_pin_the_way_of_passing():
    asked = problem(choices={"families": ["segment_stack"], "variables": {"build.passing": ["notch"]}})
    assert {dict(c.build).get("passing") for c in first_cells(asked, "segment_stack")} == {"notch"}
    asked = problem(choices={"families": ["segment_stack"], "variables": {"build.passing": ["gap"]}})
    assert {dict(c.build).get("passing") for c in first_cells(asked, "segment_stack")} == {None}


@pytest.mark.parametrize(("family", "fixed"), [("segment_stack", {**STAR, "cover": 1.05}), LEAVES, SHEET])
def test_a_notched_design_is_verified_told_in_its_record_and_rechecked(family, fixed, tmp_path):
    asked = problem()
    own = {"petal": {"hub": 0.4, "reach": 1.0}, "miura": {"sector": 1.48, "edge_gap": "8 mm"}}.get(family, {})
    cell, row = cell_from(asked, family, {**PLAIN, **own, **fixed, "passing": "notch"})
    scores = work(asked, Task(cell, row, "verify"))
    assert scores.verified is not None and scores.verified[0]
    record = json.loads(json.dumps({**unpacked(scores.extra)[0], "id": "box-1"}))
    Record.model_validate(record)
    assert record["genes"]["build.passing"] == "notch" and set(record["metrics"]) == set(METRICS)
    bent = [p for p in record["panels"] if shapely.Polygon(p["outline"]).convex_hull.area
            - shapely.Polygon(p["outline"]).area > 1e-6]  # fmt: skip
    assert len(bent) == (0 if family == "miura" else 4), "the stand-offs of the upper leaves pass four panels"
    (tmp_path / "problem.toml").write_text(text())
    assert [str(f) for f in recheck_record(record, read_asked(tmp_path / "problem.toml"))] == []
    write_dxf(record, tmp_path, 0.85)
    rings = ezdxf.readfile(tmp_path / "layout.dxf").modelspace().query('LWPOLYLINE[layer=="outline"]')
    assert sorted(len(r) for r in rings) == sorted(len(p["outline"]) for p in record["panels"])
