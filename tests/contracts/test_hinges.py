"""What every joint of the catalogue must keep once it is laid out on a real design."""

from dataclasses import replace

import numpy as np
import pytest

from synth.cell import Cell, Space, space
from synth.core.arrays import Floats
from synth.core.design import Design
from synth.core.polygon import area
from synth.evaluate import evaluate, lay_out
from synth.fold.leaves import BRACKET_DENSITY
from synth.problem import Problem
from synth.problem.catalogue import joints, of_role, rows
from synth.structure.posts import on_posts
from tests.near import near
from tests.samples import problem

B = 5
STRIPS = (("deploy", "together"), ("root", "end"), ("strips", 3))
TILES = (("corners", "all"), ("rings", 1), ("tiling", "hexagon"), ("tips", "sharp"), ("tree", "star"))


def laid(asked: Problem, family: str, fixed: tuple, pairs: int = 1, latches: str = "none") -> Design:
    cell = Cell(family, fixed, (("latches", latches), ("pairs", pairs)))
    free = space(asked, cell)
    return lay_out(asked, cell, free.columns(middle(free, B)))[0]


def middle(free: Space, count: int) -> Floats:
    """Solid panels from thin to thick, all else in the middle of its range."""
    X = np.full((count, free.size), 0.5)
    names = [a.name for a in free.axes]
    X[:, names.index("build.section")] = 0.1
    X[:, names.index("build.thickness")] = np.linspace(0.8, 0.2, count)
    return X


def only(hinge: str, **other: object) -> Problem:
    return problem(choices={"hinge_kinds": [hinge], "variables": {"build.edge_gap": ["20 mm", "30 mm"]}}, **other)


@pytest.mark.parametrize("name", sorted(n for n, k in joints().items() if k.role != "membrane"))
def test_numbers_are_finite_and_of_one_role(name: str) -> None:
    joint = joints()[name]
    assert joint.name == name and joint.title and joint.role in {"hinge", "latch", "mount"}
    numbers = [*joint.stiffness, *joint.sigma, joint.mass, joint.pad_radius]
    assert len(numbers) == 14 and np.isfinite(numbers).all() and min(numbers) > 0.0
    assert (name in of_role(joint.role)) != joint.model.moving_axis


@pytest.mark.parametrize("name", sorted(joints()))
def test_every_value_has_a_flag_and_a_source(name: str) -> None:
    (row,) = [r for r in rows("joints") if r["id"] == name]
    for key, value in row["values"].items():
        assert value["flag"] in {"seen", "memory", "derived", "chosen", "mixed"}, key
        assert value["source"] or value["flag"] == "chosen", key


@pytest.mark.parametrize("name", of_role("hinge"))
@pytest.mark.parametrize("pairs", [1, 2])
def test_units_carry_the_numbers_of_the_hinge_kind(name: str, pairs: int) -> None:
    kind, design = joints()[name], laid(only(name), "accordion", STRIPS, pairs)
    assert design.status.ok.all(), set(design.status.reason)
    u = design.units
    mine = np.flatnonzero(u.kind == 0)
    assert len(mine) == 2 * 2 * pairs, "two hinges of `pairs` pairs"
    bare_units = replace(u, stiffness=np.where(u.kind[:, None] == 0, np.array(kind.stiffness), u.stiffness))
    held = on_posts(bare_units, design.fittings, design.geometry.thickness).stiffness
    for b in range(B):
        for k in mine:
            near(u.stiffness[b, k], held[b, k], rel=1e-12, why="the kind's own, on the posts of the fittings")
            assert (u.stiffness[b, k] <= kind.stiffness).all()
            near(u.sigma[b, k], kind.sigma, rel=1e-12)
            near(u.axes[b, k] @ u.axes[b, k].T, np.eye(3), abs=1e-12)
            near(np.linalg.det(u.axes[b, k]), 1.0, rel=1e-9, why="right-handed")
    bare = 2.0 * pairs * kind.mass
    near(design.joint_masses.hinge, np.full((B, 2), bare), rel=1e-9, why="units of one hinge, leaves counted apart")
    made = BRACKET_DENSITY * (area(design.fittings.outline) * (design.fittings.z_front - design.fittings.z_back))
    near(design.fittings.mass, made, rel=1e-9)


@pytest.mark.parametrize("name", of_role("hinge"))
def test_a_hinge_unit_sits_on_its_line_and_its_feet_in_their_panels(name: str) -> None:
    design = laid(only(name), "segment_stack", TILES)
    u, g = design.units, design.geometry
    for b in np.flatnonzero(design.status.ok):
        for k in np.flatnonzero(u.kind == 0):
            first, second = g.axis[b, u.owner[k]]
            along = (second - first) / np.linalg.norm(second - first)
            assert np.linalg.norm(np.cross(u.at[b, k] - first, along)) < 1e-12
            near(u.axes[b, k, 0], along, abs=1e-12)
            for side in (0, 1):
                outline = g.outline[b, u.panels[k, side]]
                edge = np.roll(outline, -1, axis=0) - outline
                arm = u.feet[b, k, side] - outline
                inside = edge[:, 0] * arm[:, 1] - edge[:, 1] * arm[:, 0]
                assert (inside[np.linalg.norm(edge, axis=1) > 1e-9] > 0.0).all()


@pytest.mark.parametrize("name", of_role("hinge"))
def test_units_of_an_edge_are_mirrored_about_its_middle(name: str) -> None:
    design = laid(only(name), "accordion", STRIPS, 2)
    u, g = design.units, design.geometry
    for hinge in range(2):
        middle = g.axis[:, hinge].mean(axis=1)
        at = u.at[:, (u.kind == 0) & (u.owner == hinge)]
        near(at.mean(axis=1), middle, abs=1e-12)
        apart = np.sort(((at - middle[:, None]) @ u.axes[0, 0, 0]), axis=1)
        near(apart, -apart[:, ::-1], rel=1e-9)
        assert (np.diff(apart, axis=1) >= joints()[name].width).all(), "units do not share their place"


@pytest.mark.parametrize("name", of_role("hinge"))
def test_a_gap_narrower_than_the_hardware_is_no_design(name: str) -> None:
    least = joints()[name].least_gap
    for gap, right in ((0.98 * least, False), (1.02 * least, True)):
        asked = problem(choices={"hinge_kinds": [name], "variables": {"build.edge_gap": gap}})
        design = laid(asked, "accordion", STRIPS)
        assert (design.status.ok == right).all(), f"{gap} against {least}: {set(design.status.reason)}"


@pytest.mark.parametrize("name", of_role("hinge"))
def test_stiffer_or_truer_hinges_never_do_worse(name: str) -> None:
    """Rayleigh: more stiffness anywhere raises every frequency; a network with more pairs has both."""
    asked = only(name)
    few, many = (
        evaluate(asked, c, space(asked, c).columns(middle(space(asked, c), 1))).deployed
        for c in (Cell("accordion", STRIPS, (("latches", "none"), ("pairs", p))) for p in (1, 2))
    )
    assert many.joints_m2[0] < few.joints_m2[0]


def test_a_latch_and_the_mount_sit_where_they_should() -> None:
    asked = problem(choices={"hinge_kinds": ["pin_bearing"], "variables": {"build.edge_gap": ["20 mm", "30 mm"]}})
    design = laid(asked, "segment_stack", TILES, latches="all")
    u, t = design.units, design.topology
    latch, mount = asked.latch_kinds[0], asked.mount_kind
    assert latch is not None
    (held,) = np.flatnonzero(u.kind == 2)
    assert u.panels[held].tolist() == [0, -1]
    near(u.stiffness[0, held], mount.stiffness, rel=1e-12)
    near(design.joint_masses.mount, np.full(B, mount.mass), rel=1e-12)
    mine = np.flatnonzero(u.kind == 1)
    assert len(mine) == len(t.latchable) == 6, "twelve shared edges of seven hexagons, six carry hinges"
    for b in range(B):
        for k in mine:
            edge = design.geometry.latch_edge[b, u.owner[k]]
            near(u.at[b, k, :2], edge.mean(axis=0), abs=1e-12)
            assert sorted(u.panels[k].tolist()) == sorted(t.latchable[u.owner[k]].tolist())
            there = u.stiffness[b, k].any()
            near(design.joint_masses.latch[b, u.owner[k]], latch.mass if there else 0.0, rel=1e-12)
            if there:
                near(u.stiffness[b, k], latch.stiffness, rel=1e-12)
