"""Leaves around a hub: closed forms, wedges, stages."""

import itertools
from dataclasses import replace

import numpy as np
import pytest
from shapely.geometry import MultiPoint, Polygon

from synth.families.petal import Petal
from tests.families.sweep import build_of, distinct, keep_apart, meetings, middle_of_box, placed
from tests.near import near
from tests.physics.fold_cases import cases

PLAIN = {"hub": 0.36, "reach": 1.0, "taper": 0.9, "lean": 0.0, "split": 0.6}
FORMS = [
    (n, form, fold)
    for n in (4, 5, 6, 8, 12)
    for form in ("narrow", "full_staged", "two_part")
    for fold in ("up", "down", "both")
    if Petal.allowed({"leaves": n, "form": form, "fold": fold})
]


def batch_of(n, form, fold, **values):
    family = middle_of_box(Petal, {"leaves": n, "form": form, "fold": fold})
    return replace(family, **{k: np.array([v]) for k, v in {**PLAIN, **values}.items()})


def stowed(topology, geometry, row=0):
    """Corners [P][N, 3], stowed."""
    turn, shift = placed(topology, geometry, row, geometry.stowed_angle[row])
    out = []
    for panel, outline in enumerate(geometry.outline[row]):
        c = distinct(outline)
        both = np.concatenate([np.c_[c, np.zeros(len(c))], np.c_[c, np.full(len(c), -geometry.thickness[row])]])
        out.append(both @ turn[panel].T + shift[panel])
    return out


@pytest.mark.parametrize("given", cases("petal_rect"), ids=str)
def test_rectangular_leaves_stow_as_the_reference_cases_say(given):
    """Thickness and gaps a hundred-thousandth."""
    n, r, leaf = (given.inputs[k] for k in ("n", "r", "l"))
    deployed = given.expected["deployed_diameter"]
    tiny = 1e-5
    build = build_of(1, diameter=deployed, thickness=tiny, panel_gap=tiny, edge_gap=tiny)
    family = batch_of(n, "narrow", "up", hub=2.0 * r / deployed, reach=2.0 * (r + leaf) / deployed, taper=1.0)
    topology, geometry = family.topology(), family.geometry(build)
    shapes = [Polygon(distinct(o)) for o in geometry.outline[0]]
    # trimming may only take what lies beyond the circle
    assert near(sum(s.area for s in shapes), given.expected["area"], rel=1e-3)
    share = sum(s.area for s in shapes) / (np.pi * (deployed / 2.0) ** 2)
    assert near(share, given.expected["fill"], rel=1e-3)
    edge = geometry.axis[0, :, 1] - geometry.axis[0, :, 0]
    assert near(np.linalg.norm(edge, axis=-1), given.expected["edge"], rel=1e-3)
    assert near(2.0 * np.linalg.norm(geometry.outline[0], axis=-1).max(), deployed, rel=1e-3)
    corners = np.concatenate(stowed(topology, geometry))
    assert near(2.0 * np.linalg.norm(corners[:, :2], axis=1).max(), given.expected["stowed_diameter"], rel=1e-3)
    assert near(corners[:, 2].max(), given.expected["stowed_height"], rel=1e-3)


def test_thick_leaves_stand_outside_the_hub_edge_by_half_the_gap():
    build = build_of(1)
    for fold, side in (("up", 1.0), ("down", -1.0)):
        family = batch_of(6, "narrow", fold)
        topology, geometry = family.topology(), family.geometry(build)
        leaf = stowed(topology, geometry)[1]
        r = 0.36 * 0.425
        assert near(leaf[:, 0].min(), r + 0.00025, rel=1e-9)
        assert near(leaf[:, 0].max(), r + 0.00025 + 0.005, rel=1e-9)
        height = leaf[:, 2] if side > 0 else -0.005 - leaf[:, 2]
        # half the panel gap and half the edge gap above the hub
        assert near(height.min(), 0.00025 + 0.001, rel=1e-9)
        assert near(height.max(), 0.425 - r + 0.00025, rel=1e-9)


@pytest.mark.parametrize(("n", "form", "fold"), FORMS)
def test_outlines_keep_the_edge_gap_and_hinges_lie_in_the_middle_of_it(n, form, fold):
    family, build = middle_of_box(Petal, {"leaves": n, "form": form, "fold": fold}, 3, seed=n), build_of(3)
    topology, geometry = family.topology(), family.geometry(build)
    assert topology.panels == Petal.panel_count({"leaves": n, "form": form, "fold": fold})
    assert keep_apart(topology, geometry, edge_gap=0.002) > 0.01


@pytest.mark.parametrize(("n", "form", "fold"), FORMS)
def test_leaves_meet_only_where_the_status_says_so(n, form, fold):
    """Random candidates of every form: what the closed form of the wedge accepts keeps clear in the sampled motion."""
    family, build = middle_of_box(Petal, {"leaves": n, "form": form, "fold": fold}, 3, seed=1), build_of(3)
    family = replace(family, lean=np.linspace(-0.1, 0.25, 3), hub=np.linspace(0.6, 0.3, 3))
    topology, geometry = family.topology(), family.geometry(build)
    for row in np.flatnonzero(geometry.status.ok):
        assert meetings(topology, geometry, row, stations=40) == []
    if form == "full_staged":
        assert geometry.status.ok.all()


@pytest.mark.parametrize(
    ("n", "form", "fold", "values"),
    [
        (6, "narrow", "up", {"taper": 1.0, "lean": 0.3}),
        (12, "narrow", "both", {"taper": 1.0}),
        (8, "two_part", "both", {"taper": 1.0, "hub": 0.3}),
    ],
)
def test_leaves_too_wide_for_their_wedge_are_refused_and_do_meet(n, form, fold, values):
    family = batch_of(n, form, fold, **values)
    topology, geometry = family.topology(), family.geometry(build_of(1))
    assert not geometry.status.ok[0]
    assert "neighbours" in geometry.status.reason[0]
    assert meetings(topology, geometry)


def test_the_wedge_is_used_up_to_the_panel_gap():
    """At the widest lean that the status accepts, neighbours stowed are the panel gap apart."""
    low, high = 0.0, 0.5
    for _ in range(40):
        middle = (low + high) / 2.0
        ok = batch_of(6, "narrow", "up", taper=0.6, lean=middle).geometry(build_of(1)).status.ok[0]
        low, high = (middle, high) if ok else (low, middle)
    family = batch_of(6, "narrow", "up", taper=0.6, lean=low)
    corners = stowed(family.topology(), family.geometry(build_of(1)))
    # the wedge's plane between leaves 1 and 2
    normal = np.array([-np.sin(np.pi / 6.0), np.cos(np.pi / 6.0), 0.0])
    assert near(-(corners[1] @ normal).max(), 0.00025, rel=1e-6)
    assert near((corners[2] @ normal).min(), 0.00025, rel=1e-6)


@pytest.mark.parametrize("fold", ["up", "down", "both"])
@pytest.mark.parametrize("n", [4, 5, 8, 12])
def test_staged_leaves_lie_in_layers_on_the_hub(n, fold):
    family, build = batch_of(n, "full_staged", fold), build_of(1)
    topology, geometry = family.topology(), family.geometry(build)
    corners = stowed(topology, geometry)
    low = np.array([c[:, 2].min() for c in corners])
    assert near(low + 0.005, topology.level * 0.0055, rel=1e-9, abs=1e-12)
    assert len(set(topology.level.tolist())) == n + 1
    hub = Polygon(geometry.outline[0, 0]).buffer(1e-9)
    assert all(hub.covers(MultiPoint(c[:, :2])) for c in corners)
    # outermost first, and one at a time on each side
    for side in (1, -1):
        own = np.flatnonzero(topology.sense == side)
        order = own[np.argsort(topology.stage[own])]
        assert np.all(np.diff(np.abs(topology.level[order + 1])) == -1)


def test_two_parts_stow_half_as_high():
    whole, halves = batch_of(8, "narrow", "up"), batch_of(8, "two_part", "up", split=0.52)
    build = build_of(1)
    tall = np.concatenate(stowed(whole.topology(), whole.geometry(build)))[:, 2].max()
    low = np.concatenate(stowed(halves.topology(), halves.geometry(build)))[:, 2].max()
    leaf = 0.425 * (1.0 - 0.36)
    assert near(tall, leaf + 0.00025, rel=1e-6)
    assert near(low, 0.52 * leaf - 0.001 + 0.00025, rel=1e-6)


def test_every_sector_of_a_large_enough_hub_is_filled():
    """Full sectors on an octagon of 0.36: the gaps and little else is lost of the circle."""
    geometry = batch_of(8, "full_staged", "both", reach=1.05).geometry(build_of(1))
    circle = MultiPoint([(0, 0)]).buffer(0.425, quad_segs=256)
    share = sum(Polygon(distinct(o)).intersection(circle).area for o in geometry.outline[0]) / circle.area
    assert 0.94 < share < 0.99


def test_rows_are_independent_and_finite_over_the_box():
    for n, form, fold in FORMS[::4]:
        cell = {"leaves": n, "form": form, "fold": fold}
        family = middle_of_box(Petal, cell, 5, seed=2)
        together = family.geometry(build_of(5))
        for row in range(5):
            alone = replace(family, **{k: getattr(family, k)[[row]] for k in family.reals()}).geometry(build_of(1))
            for name in ("outline", "axis", "latch_edge", "stowed_angle"):
                assert np.array_equal(getattr(together, name)[row], getattr(alone, name)[0])
            assert together.status.residual[row] == alone.status.residual[0]
        names = list(family.reals())
        box = np.array(list(itertools.product(*[(v.low, v.high) for v in family.reals().values()]))).T
        for sizes in ({"edge_gap": 0.03, "thickness": 0.04}, {"edge_gap": 1e-4, "thickness": 1e-3}):
            g = Petal.of(cell, dict(zip(names, box, strict=True))).geometry(build_of(box.shape[1], 0.3, **sizes))
            assert all(np.isfinite(x).all() for x in (g.outline, g.axis, g.latch_edge, g.status.residual))
