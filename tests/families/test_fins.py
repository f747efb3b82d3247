"""Hinges and panels that pass on the way: closed forms against circles, slots, the proof on both sides of the limit."""

from dataclasses import replace

import numpy as np
import pytest

from synth.cell import first_cells, space
from synth.core.build import Build
from synth.core.design import Design
from synth.evaluate import lay_out
from synth.families import _fins, segment_stack
from synth.families._fins import ACROSS, AXIS, BESIDE, MARGIN, PASSING_CLEARANCE, slack
from synth.families.segment_stack import _plan
from synth.fold.interference import prove
from synth.problem import Problem
from tests.near import near
from tests.samples import problem

NARROW = "the edge gap is too narrow for hinges and panels that pass on the way"


def build_of(edge_gap, knuckle=0.002, thickness=0.008, pitch=0.01, width=0.0):
    one = np.ones(1)
    return Build(1.0, 0.001, thickness * one, edge_gap * one, pitch * one, knuckle * one, width * one)


def term(kind, near_end, far_end, cosine, passing, standing, slot=0, tile=0):
    """A term from heights in pitches: passing and standing things without thickness or knuckle."""
    heights = [(passing[0], 0, 0), (passing[1], 0, 0), (standing[0], 0, 0), (standing[1], 0, 0)]
    return np.array([[kind, near_end, far_end, cosine, *np.ravel(heights), slot, tile]], dtype=np.float64)


def gap_asked(row, **sizes):
    """The edge gap at which the slack of one term is zero, by halving."""
    low, high = 1e-6, 1.0
    for _ in range(60):
        gap = (low + high) / 2.0
        if slack(row, np.ones(1), build_of(gap, **sizes), np.zeros(1), 4)[0] >= 0.0:
            high = gap
        else:
            low = gap
    return high


def test_room_across_is_half_the_gap_and_beside_a_stand_off_what_its_width_leaves(monkeypatch):
    """What lands 0.03 deep at 0.2 from the axis passes the level of the axis sqrt(0.2^2 + 0.03^2) - 0.2 farther out."""
    monkeypatch.setattr(_fins, "END_MARGIN", 0.0)
    out = np.hypot(0.2, 0.03) - 0.2 + MARGIN
    # cosine 1: the edge lies across the swing, all of it at one distance
    row = term(ACROSS, 0.2, 0.2, 1.0, (-3.0, -2.0), (-1.0, 1.0))
    assert near(gap_asked(row), 2.0 * out, rel=1e-6)
    row = term(BESIDE, 0.2, 0.2, 1.0, (-3.0, -2.0), (-1.0, 1.0))
    assert near(gap_asked(row), 2.0 * (out + 0.002), rel=1e-6)
    # what stands wholly 0.02 below the axis is passed later on the circle
    row = term(ACROSS, 0.2, 0.2, 1.0, (-3.0, -1.0), (-2.5, -2.0))
    assert near(gap_asked(row), 2.0 * (np.sqrt(0.2**2 + 0.03**2 - 0.02**2) - 0.2 + MARGIN), rel=1e-6)
    # a tile lies a room nearer to the axis than the fin: where they touch, the fin is at 0.2 and the tile came from
    # half a gap less
    row = term(ACROSS, 0.2, 0.2, 1.0, (-3.0, -2.0), (-1.0, 1.0), tile=1)
    gap = gap_asked(row)
    assert near(gap / 2.0, np.hypot(0.2 - gap / 2.0, 0.03) - (0.2 - gap / 2.0) + MARGIN, rel=1e-6)
    # or not at all where it lies below everything that passes
    row = term(ACROSS, 0.2, 0.2, 1.0, (-3.0, -1.0), (-5.0, -3.5))
    assert slack(row, np.ones(1), build_of(0.01), np.zeros(1), 4)[0] > 0.9


def test_what_stands_nearer_to_the_axis_is_passed_inwards(monkeypatch):
    """An edge that lands at 0.2 at the height of the axis was 0.04 higher at sqrt(0.2^2 - 0.04^2)."""
    monkeypatch.setattr(_fins, "END_MARGIN", 0.0)
    row = term(ACROSS, 0.2, 0.2, -1.0, (-1.0, 1.0), (-1.0, 4.0))
    # a tile lands half a gap farther out than the fin at 0.2
    tile = term(ACROSS, 0.2, 0.2, -1.0, (-1.0, 1.0), (-1.0, 4.0), tile=1)
    half = gap_asked(tile) / 2.0
    assert near(half, 0.2 + half - np.sqrt((0.2 + half) ** 2 - 0.04**2) + MARGIN, rel=1e-6)
    assert near(gap_asked(row), 2.0 * (0.2 - np.sqrt(0.2**2 - 0.04**2) + MARGIN), rel=1e-6)


def test_a_fin_on_the_axis_line_reaches_as_far_as_the_corner_of_the_layers_lets_it():
    """Layers whose corner is half the gap and 0.01 from the axis turn round a fin 0.002 wide that ends at 0.03."""
    row = term(AXIS, 0.0, 1.0, 1.0, (-2.0, -1.0), (0.0, 3.0))
    assert near(gap_asked(row), 2.0 * (np.sqrt(0.03**2 + 0.002**2 - 0.01**2) + MARGIN), rel=1e-6)


def test_slots_farther_from_the_corner_are_farther_from_the_axis():
    """Edge at 45 degrees from the axis line on: units in slot 1 stand 1.25 widths farther along it than in slot 0."""
    cosine = np.sqrt(0.5)
    asked = []
    for slot in (0, 1):
        row = term(ACROSS, 0.0, 1.0, cosine, (-3.0, -2.0), (-1.0, 1.0), slot)
        gap = gap_asked(row, width=0.1)
        n = (2e-3 + 1.25 * 0.1 * slot + gap / 2.0) * cosine
        assert near(gap, 2.0 * ((np.hypot(n, 0.03) - n) * cosine + MARGIN), rel=1e-6)
        asked.append(gap)
    assert asked[1] < 0.6 * asked[0]


def cell_where(asked: Problem, latches="none", **fixed):
    return next(
        c for c in first_cells(asked, "segment_stack")
        if dict(c.build)["latches"] == latches and fixed.items() <= dict(c.fixed).items()
    )  # fmt: skip


def designs(asked: Problem, cell, rows=40, seed=4, **values) -> tuple[Design, dict]:
    """Random rows with some coordinates set, and their columns."""
    axes = space(asked, cell)
    x = np.random.default_rng(seed).random((rows, axes.size))
    for k, axis in enumerate(axes.axes):
        name = axis.name.rsplit(".", 1)[1]
        if name in values:
            x[:, k] = [axis.encode(v) for v in np.broadcast_to(values[name], rows)]
    columns = axes.columns(x)
    with np.errstate(all="ignore"):
        return lay_out(asked, cell, columns)[0], columns


COMMON = {"material": "aluminium_6061", "section": "solid", "hinge": "pin_plain"}


@pytest.mark.parametrize(
    ("fixed", "thickness"),
    [
        ({"tiling": "hexagon", "rings": 2, "corners": "all", "tree": "star"}, 3e-3),
        ({"tiling": "hexagon", "rings": 1, "tree": "comb0"}, 8e-3),
        ({"tiling": "triangle", "rings": 2, "tree": "comb0"}, 3e-3),
    ],
)
def test_the_status_turns_where_the_proof_does(fixed, thickness):
    """Rows of rising edge gaps: just above the least that the status takes is clear, 15 per cent below it meets."""
    asked = problem()
    cell = cell_where(asked, **fixed)
    common = {**COMMON, "material": problem().materials[0].id, "cover": 1.0, "spin": 0.3, "thickness": thickness}
    gaps = np.geomspace(3e-3, 29e-3, 160)
    design, _ = designs(asked, cell, len(gaps), edge_gap=gaps, **common)
    status = design.geometry.status
    mine = np.flatnonzero(status.reason == NARROW)
    assert len(mine), "nothing is refused for this reason"
    last = int(mine.max())
    assert status.ok[last + 2], status.reason[last + 2]
    assert prove(design.one(last + 2)).clear
    tight = int(np.argmin(np.abs(gaps - 0.85 * gaps[last])))
    met = prove(design.one(tight))
    assert not met.clear and "fitting" in met.reason and "panel" in met.reason
    # a slope on the way: worse the narrower (flat only where stand-offs are thinned to pass at all)
    residual, wide = status.residual[mine], gaps[mine] > 2.0 * (1.5e-3 + PASSING_CLEARANCE)
    assert (np.diff(residual) >= 0.0).all() and (np.diff(residual[wide]) > 0.0).all() and wide.sum() > 5


@pytest.mark.parametrize(
    "fixed",
    [
        {"tiling": "square", "rings": 2, "tree": "comb0"},
        {"tiling": "hexagon", "rings": 2, "tree": "spiral"},
        {"tiling": "square_even", "rings": 2, "tree": "star"},
    ],
)
def test_hinges_that_come_face_to_face_on_the_way_stand_beside_each_other(fixed, monkeypatch):
    """One slot would do for the stowed stack; with it units of two hinges run into each other half way."""
    asked = problem()
    cell = cell_where(asked, **fixed)
    f = dict(cell.fixed)
    plan = _plan(str(f["tiling"]), int(f["rings"]), str(f["corners"]), str(f["tree"]))
    assert plan.topology.slot.max() == 1
    design, _ = designs(asked, cell, 240)
    fine = np.flatnonzero(design.status.ok)[:2]
    assert len(fine) == 2
    for row in fine:
        assert prove(design.one(int(row))).clear
    # the same designs with all units in one slot
    one = replace(plan, topology=replace(plan.topology, slot=0 * plan.topology.slot))
    monkeypatch.setattr(segment_stack, "_plan", lambda *_: one)
    design, _ = designs(asked, cell, 240)
    reasons = [prove(design.one(int(row))).reason for row in fine]
    assert any(r.count("hinge") == 2 for r in reasons), reasons


@pytest.mark.parametrize(("tiling", "rings"), [("square", 2), ("hexagon", 1)])
def test_latches_sit_in_the_middle_of_the_whole_edge_whatever_trimming_left_of_it(tiling, rings):
    asked = problem()
    cell = cell_where(asked, "all", tiling=tiling, rings=rings, tree="spiral")
    design, columns = designs(asked, cell, 12)
    f = dict(cell.fixed)
    plan = _plan(str(f["tiling"]), int(f["rings"]), str(f["corners"]), str(f["tree"]))
    unit = columns["segment_stack.cover"] * asked.aperture.clear_diameter / plan.tiles.span
    centre = plan.tiles.centre[plan.tile]
    i, j = design.topology.latchable.T
    c, s = np.cos(columns["segment_stack.spin"]), np.sin(columns["segment_stack.spin"])
    middle = (centre[i] + centre[j]) / 2.0
    x, y = c[:, None] * middle[:, 0] - s[:, None] * middle[:, 1], s[:, None] * middle[:, 0] + c[:, None] * middle[:, 1]
    there = np.stack([x, y], axis=-1) * unit[:, None, None]
    assert near(design.geometry.latch_edge.mean(axis=2), there, abs=1e-9, why="rounding")
