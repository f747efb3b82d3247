"""Equalities between parts of the program that were written apart; README.md in this folder is the map of them all."""

import re
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from synth.core.arrays import Floats
from synth.core.geometry import Geometry
from synth.core.topology import Topology
from synth.families import families
from synth.families._wrap import closed_form
from synth.families.accordion import Accordion
from synth.families.map_fold import MapFold
from synth.families.miura import Miura
from synth.families.segment_stack import SegmentStack
from synth.fold.path import schedule
from synth.fold.tree import poses
from synth.structure.loads import Loads
from synth.structure.network import deployed
from tests.families.folding import DIAMETER, columns, plain_build
from tests.near import near
from tests.structure.make import strip

T, E, G = 4e-3, 6e-3, 1e-3
ROUNDING = "rounding"
MAP = Path(__file__).parent / "README.md"
TESTS = Path(__file__).parent.parent


def upright(columns: int, rows: int) -> Miura:
    return Miura(columns, rows, "columns", np.full(1, np.pi / 2.0), np.full(1, 0.9), np.full(1, 0.9))


def corners(topology: Topology, geometry: Geometry, placed: Floats) -> Floats:
    """Middle of the face and of the back [P, 2, 3] of every panel as placed [P, 3, 4]."""
    middle = geometry.outline[0].mean(axis=1)
    both = np.stack([np.c_[middle, np.zeros(len(middle))], np.c_[middle, np.full(len(middle), -T)]], axis=1)
    return np.asarray(np.einsum("pij,pkj->pki", placed[..., :3], both) + placed[:, None, :, 3])


@pytest.mark.parametrize("grid", [(3, 3), (2, 3), (4, 3)])
def test_a_miura_sheet_with_right_angles_is_a_map_fold(grid: tuple[int, int]) -> None:
    """Columns laid one on the other to and fro: the layers, axes and stowed places of a serpentine of as many rows.

    Where the sheet's root lies an odd number of creases from the chain's, mountains and valleys change places.
    """
    m, n = grid
    b = plain_build(1, T, E, G)
    sheet = upright(m, n)
    # the sheet's outer edges lose half a gap, the map's do not
    cover = np.full(1, 0.9 - E / DIAMETER)
    chain = MapFold(n, m, "serpentine", cover, cover)
    one, other = sheet.topology(), chain.topology()
    g, h = sheet.geometry(b), chain.geometry(b)
    at = {(i, n - 1 - j): k for k, (i, j) in enumerate(sheet.panels())}
    same = np.array([at[r, c] for c, r, _ in chain.tiles()])  # panel of the sheet for each tile of the chain
    level = one.level[same] - one.level[same[0]]
    assert level.tolist() == other.level.tolist()
    assert (one.turned[same] * one.turned[same[0]]).tolist() == other.turned.tolist()
    # hinges of the chain are hinges of the sheet, at the same height over the faces
    number = {frozenset(map(int, pair)): k for k, pair in enumerate(one.hinges)}
    mine = [number[frozenset(map(int, same[pair]))] for pair in other.hinges]
    assert (one.steps[mine] == other.steps).all() and (one.sense[mine] * one.turned[same[0]] == other.sense).all()
    side = int(one.turned[same[0]])
    z = g.axis[0, mine, 0, 2] if side > 0 else -T - g.axis[0, mine, 0, 2]
    near(z, h.axis[0, :, 0, 2], rel=1e-9, why=ROUNDING)
    # stowed, both lie in one pile at the same heights, face up or down in turn
    stowed = poses(one, g.axis, np.asarray(g.stowed_angle)[:, None])[0, 0]
    pile = poses(other, h.axis, np.asarray(h.stowed_angle)[:, None])[0, 0]
    found, wanted = corners(one, g, stowed)[same][..., 2], corners(other, h, pile)[..., 2]
    near(found.mean(axis=1) - found[0].mean(), wanted.mean(axis=1) - wanted[0].mean(), abs=1e-12, why=ROUNDING)
    near(side * np.diff(found, axis=1), np.diff(wanted, axis=1), abs=1e-12, why=ROUNDING)


def test_a_miura_sheet_with_right_angles_opens_as_a_map_does() -> None:
    """Across first, then along: tan(f / 2) = cos(g) tan(th) lets straight folds turn only while zigzag folds are shut.
    Angles of the spine and of the columns of a comb, which takes half of the way for each."""
    b, s = plain_build(1, T, E, G), np.linspace(0.0, 1.0, 41)
    sheet, comb = upright(3, 3), MapFold(3, 3, "comb", np.full(1, 0.9), np.full(1, 0.9))
    told = np.abs(sheet.angles(b, s)[0])
    column = np.array(sheet.panels())[:, 0]
    straight = column[sheet.topology().hinges[:, 0]] != column[sheet.topology().hinges[:, 1]]
    t, g = comb.topology(), comb.geometry(b)
    angles = np.abs(schedule(t).angles_at(g.stowed_angle, s)[0])
    tiles = comb.tiles()
    spine = np.array([tiles[p][1] == tiles[tiles[p][2]][1] for p in range(1, len(tiles))])
    for fold, of in ((straight, spine), (~straight, ~spine)):
        assert np.ptp(told[:, fold], axis=1).max() < 1e-12
        near(told[:, fold][:, 0], angles[:, of][:, 0], abs=1e-6, why="cos 90 degrees is 6e-17, its root 1e-8")


def test_a_segment_tree_without_branches_is_an_accordion() -> None:
    """Mountains and valleys in turn, one layer on the next, every axis half a face gap off the face it closes.

    The chain begins with a mountain, the strips with a valley: the same pile seen from behind.
    """
    b, one = plain_build(1, T, 20e-3, G), np.ones(1)
    chain = SegmentStack("hexagon", 1, "all", "sharp", "spiral", one, 0.0 * one, 0.1 * one)
    a = chain.topology()
    strips = Accordion(a.panels, "end", "in_turn", one, one)
    c = strips.topology()
    for part in ("parent", "steps", "turned"):
        assert getattr(a, part).tolist() == getattr(c, part).tolist(), part
    # one hinge at a time in both, tiles that go round the centre in an order of their own
    assert sorted(a.stage) == sorted(c.stage) == list(range(a.panels - 1))
    assert a.sense.tolist() == (-c.sense).tolist() and a.level.tolist() == (-c.level).tolist()
    near(-T - chain.geometry(b).axis[0, ..., 2], strips.geometry(b).axis[0, ..., 2], rel=1e-12, why=ROUNDING)


def flat_cells() -> list[Any]:
    """Two cells of each family, the first and one of middling size. The wrapped hub, which leaves its films a room that
    does not shrink, has a test of its own."""
    out = []
    for name, family in families().items():
        if name == "wrapped_hub":
            continue
        found = [dict(c) for c in family.first_cells(13)]
        for k in sorted({0, len(found) // 2}):
            out.append(pytest.param(name, found[k], id=f"{name}-{k}"))
    return out


@pytest.mark.parametrize(("name", "cell"), flat_cells())
def test_without_thickness_every_scheme_is_flat_folding(name: str, cell: dict[str, Any]) -> None:
    """Half turns become reflections of the plane across the creases: x -> x - 2 ((x - c).n) n, and all axes lie in it.

    One, then a tenth of a thousandth of a millimetre, hardware as thin: heights of axes and what panels stand off the
    plane fall in proportion.
    """
    family = families()[name]
    rows = 4
    heights, off = [], []
    for t in (1e-6, 1e-7):
        b = replace(plain_build(rows, t, 8e-3, t, t), panel_gap=t)
        made = family.of(cell, columns(family, rows))
        topology, g = made.topology(), made.geometry(b)
        tree = topology.panels - 1
        heights.append(np.abs(g.axis[..., 2]).max())
        half = np.abs(np.abs(g.stowed_angle[:, :tree]) - np.pi) < 1e-12
        stowed = poses(topology, g.axis, np.asarray(g.stowed_angle)[:, None])[:, 0]
        worst = 0.0
        plan, level = np.tile(np.eye(3), (rows, topology.panels, 1, 1)), np.ones((rows, topology.panels), dtype=bool)
        for p in range(1, topology.panels):
            up = int(topology.parent[p])
            level[:, p] = level[:, up] & half[:, p - 1]
            plan[:, p] = plan[:, up] @ mirror(g.axis[:, p - 1, :, :2])
            middle = np.concatenate([g.outline[:, p].mean(axis=1), np.zeros((rows, 1))], axis=-1)
            told = np.einsum("bij,bj->bi", stowed[:, p, :, :3], middle) + stowed[:, p, :, 3]
            wanted = np.einsum("bij,bj->bi", plan[:, p], np.c_[middle[:, :2], np.ones(rows)])
            gap = np.linalg.norm(told - np.c_[wanted[:, :2], np.zeros(rows)], axis=-1)
            worst = max(worst, float(gap[level[:, p]].max(initial=0.0)))
        off.append(worst)
    layers = 4 * topology.panels
    assert heights[0] <= layers * 1e-6
    near(heights[1], heights[0] / 10.0, rel=1e-6, why="proportional to the thickness")
    assert off[0] <= layers * 1e-6 and off[1] <= 0.11 * off[0] + 1e-12


def mirror(line: Floats) -> Floats:
    """Reflections [B, 3, 3] of the plane across lines [B, 2, 2]."""
    way = line[:, 1] - line[:, 0]
    normal = np.stack([-way[:, 1], way[:, 0]], axis=-1) / np.linalg.norm(way, axis=-1, keepdims=True)
    out = np.tile(np.eye(3), (len(line), 1, 1))
    out[:, :2, :2] -= 2.0 * normal[:, :, None] * normal[:, None, :]
    out[:, :2, 2] = 2.0 * np.sum(line[:, 0] * normal, axis=-1)[:, None] * normal
    return out


def test_a_hub_of_many_sides_has_no_height_left() -> None:
    """Why wrapped hub -> map fold is struck out: a very large hub with panels of one size has very many sides, and its
    drum is h a tan(pi / n) high, which vanishes; with few sides it is the same figure enlarged."""
    high = []
    for n in (6, 60, 600):
        hub = closed_form(n, 3, 1)
        edge = 2.0 * np.sin(np.pi / n)
        high.append(hub.stowed_height / edge)
    near(high, np.tan(np.pi / np.array([6, 60, 600])), rel=1e-9, why="closed form")


@pytest.mark.parametrize("factor", [0.5, 3.0])
def test_lengths_times_a_factor_scale_mass_frequency_and_errors(factor: float) -> None:
    """All lengths times c, one material: mass c^3, plate stiffness c^3; springs c (forces) and c^3 (moments) keep the
    ratio of joint to plate. First mode 1 / c, errors of misfits c where shifts grow with c and turns do not; what
    gravity bends grows as c^2 (all elementary)."""
    shift, turn = (1e7, 1e7, 1e7), (1e4, 1e4, 1e4)

    def made(c: float) -> Any:
        return strip(
            3, 0.3 * c, 0.2 * c, gap=2e-3 * c, reach=0.01 * c, thickness=0.01 * c, pad=0.01 * c,
            stiffness=(*(k * c for k in shift), *(k * c**3 for k in turn)),
            sigma=(*(5e-6 * c,) * 3, *(2e-5,) * 3),
        )  # fmt: skip

    small, large = made(1.0), made(factor)
    one, other = (deployed(d, Loads(gravity_release=0.02)) for d in (small, large))
    near(large.panels.mass.sum(), factor**3 * small.panels.mass.sum(), rel=1e-9, why=ROUNDING)
    near(other.first_mode_hz, one.first_mode_hz / factor, rel=1e-6, why="an iteration ends at 1e-7")
    near(np.sqrt(other.joints_m2), factor * np.sqrt(one.joints_m2), rel=1e-6, why=ROUNDING)
    near(np.sqrt(other.gravity_m2), factor**2 * np.sqrt(one.gravity_m2), rel=1e-6, why=ROUNDING)


def edges() -> list[tuple[str, str, str]]:
    """Rows of the map: equality, tests (or "struck out"), reason of the tolerance (or of striking out)."""
    rows = [line.strip().strip("|").split("|") for line in MAP.read_text(encoding="utf-8").splitlines() if "|" in line]
    return [(a.strip(), b.strip(), c.strip()) for a, b, c in rows[2:]]


def test_every_edge_of_the_map_is_a_test_that_exists_or_is_struck_out_with_its_reason() -> None:
    assert len(edges()) == 16
    for equality, tests, reason in edges():
        assert len(reason) > 15, equality
        named = re.findall(r"`([\w/]+\.py)::(\w+)`", tests)
        assert named or tests.startswith("struck out"), equality
        for file, function in named:
            assert f"def {function}(" in (TESTS / file).read_text(encoding="utf-8"), f"{file}::{function}"
