"""Wrapped hub: the sheet without thickness folds without strain, membranes are long enough, solids never meet."""

import dataclasses

import numpy as np
import pytest

from synth.cell import cell_from
from synth.core.arrays import transform
from synth.core.build import Build
from synth.core.motion import turns_about
from synth.core.polygon import area
from synth.families import wrapped_hub
from synth.families._wrap import closed_form
from synth.families._wrap_arm import pieces, seams
from synth.families._wrap_way import KNOTS, Arm, arm_poses, partings
from synth.families.wrapped_hub import WrappedHub
from synth.fold.course import Course
from synth.fold.interference import KEPT, prove_solids
from synth.fold.solids import solids_of
from synth.fold.tree import hinge_parting, poses
from synth.verify import PLIES, Verified, verify
from tests.families.folding import plain_build
from tests.near import near
from tests.samples import problem

T, E, G = 5e-3, 10e-3, 1e-3
THIN = Build(1e9, 0.0, *(np.ones(1) for _ in range(5)))


def hub(sides: int, lead: float = 0.5, reach: float = 1.1, rings: int = 2, rows: int = 0) -> WrappedHub:
    return WrappedHub(sides, rings, rows, np.array([reach]), np.array([lead]), np.array([0.8]))


def thin_arm(sides: int, rings: int = 2, rows: int = 0) -> Arm:
    return hub(sides, lead=0.0, rings=rings, rows=rows)._arm(THIN)


@pytest.mark.parametrize(("sides", "rings"), [(5, 2), (6, 2), (12, 2), (5, 3), (6, 3), (8, 3)])
def test_without_thickness_the_split_sheet_folds_without_strain(sides: int, rings: int) -> None:
    """At every knot all seams close to a ten-millionth of the hub's radius: rigid pieces, so no strain at all."""
    arm, way = thin_arm(sides, rings), wrapped_hub._thin(sides, rings, 0)
    apart = np.linalg.norm(partings(arm, way[None])[0], axis=-1) / arm.radius[0]
    assert apart.max() < 1e-6
    # one way, all along: the clock goes on, no angle jumps, none passes its half turn
    assert (np.diff(np.abs(way[:, -1])) < 0.0).all() and np.abs(np.diff(way, axis=0)).max() < 0.05
    folds = arm.stowed != 0.0
    assert (np.abs(way[:, folds]) <= np.abs(arm.stowed[folds]) + 1e-6).all()
    assert (way[1:-1, folds] * np.sign(arm.stowed[folds]) > 0.0).all()
    bent = np.degrees(np.abs(way[:, ~folds]).max())
    assert 25.0 < bent < 45.0
    # what it is held against: one diagonal kept straight parts the seams by a large share of the hub
    for k in np.flatnonzero(~folds):
        stiff = way.copy()
        stiff[:, k] = 0.0
        assert np.linalg.norm(partings(arm, stiff[None])[0], axis=-1).max() / arm.radius[0] > 0.05


@pytest.mark.parametrize("rings", [2, 3])
def test_the_split_sheet_has_one_freedom(rings: int) -> None:
    """Rank of the seams' closure by differences at a folded state, all arms alike: one angle is free (as counted)."""
    arm, way = thin_arm(6, rings), wrapped_hub._thin(6, rings, 0)
    size = held(arm, way[90])
    assert size[-1] < 1e-6 < 1e-2 < size[-2]


def held(arm: Arm, at: np.ndarray) -> np.ndarray:
    """Singular values of the seams' closure over the angles of an arm."""
    h, pulls = 1e-5, []
    for k in range(len(at)):
        both = np.stack([at, at])
        both[:, k] += np.array([h, -h])
        ahead, back = partings(arm, both[None])[0] / arm.radius[0]
        pulls.append(((ahead - back) / (2.0 * h)).reshape(-1))
    return np.linalg.svd(np.stack(pulls, axis=1), compute_uv=False)


@pytest.mark.parametrize("sides", [5, 6, 8, 12])
def test_with_a_row_all_quads_stay_whole_and_the_sheet_folds_without_strain(sides: int) -> None:
    """Two freedoms, as counted, at the drum and on the way; no fold passes its half turn or turns back its sense."""
    arm, way = thin_arm(sides, rows=1), wrapped_hub._thin(sides, 2, 1)
    assert (np.linalg.norm(partings(arm, way[None])[0], axis=-1) / arm.radius[0]).max() < 1e-6
    assert {len(p.corners) for p in pieces(2, 1)} == {3, 4} and all(p.fold != "diagonal" for p in pieces(2, 1))
    assert (np.abs(way) <= np.abs(arm.stowed) + 1e-6).all() and (way[1:-1] * np.sign(arm.stowed) > 0.0).all()
    assert np.abs(np.diff(way, axis=0)).max() < 0.07
    for knot in (0, 60, 120):
        size = held(arm, way[knot])
        assert size[-2] < 1e-6 < 1e-2 < size[-3]


@pytest.mark.parametrize("sides", [6, *(pytest.param(n, marks=pytest.mark.slow) for n in (5, 8, 12))])
def test_with_two_rows_two_quads_are_split_and_the_sheet_folds_without_strain(sides: int) -> None:
    """Five corners on the rim leave four freedoms and two whole quads take two; no fold leaves its sense on the way."""
    arm, way = thin_arm(sides, 3, 2), wrapped_hub._thin(sides, 3, 2)
    assert (np.linalg.norm(partings(arm, way[None])[0], axis=-1) / arm.radius[0]).max() < 1e-6
    made, folds = pieces(3, 2), arm.stowed != 0.0
    assert sorted(len(p.corners) for p in made) == [3] * 8 + [4] * 2 and np.flatnonzero(~folds).tolist() == [3, 5]
    share = way[:, folds] / arm.stowed[folds]
    assert near(share[0], 1.0, abs=0.0) and near(way[-1], 0.0, abs=0.0)
    assert (share[1:-1] > 1e-3).all() and share.max() <= 1.0 and np.abs(np.diff(way, axis=0)).max() < 0.05
    assert 30.0 < np.degrees(np.abs(way[:, ~folds]).max()) < 42.0
    for knot in (60, 120):
        size = held(arm, way[knot])
        assert size[-2] < 1e-6 < 1e-3 < size[-3]
    # what it is held against: either diagonal kept straight parts the seams by a large share of the hub
    for k in np.flatnonzero(~folds):
        stiff = way.copy()
        stiff[:, k] = 0.0
        assert np.linalg.norm(partings(arm, stiff[None])[0], axis=-1).max() / arm.radius[0] > 0.05


@pytest.mark.parametrize("sides", [6, *(pytest.param(n, marks=pytest.mark.slow) for n in (8, 12))])
def test_three_rings_with_one_row_fold_with_little_strain(sides: int) -> None:
    """Not without: seams part by up to a hundredth of the hub's radius.

    Seven corners on the rim leave six freedoms, four whole quads take four.
    """
    arm, way = thin_arm(sides, 3, 1), wrapped_hub._thin(sides, 3, 1)
    apart = (np.linalg.norm(partings(arm, way[None])[0], axis=-1) / arm.radius[0]).max()
    assert 1e-4 < apart < 0.011
    made, folds = pieces(3, 1), arm.stowed != 0.0
    assert sorted(len(p.corners) for p in made) == [3] * 10 + [4] * 4 and np.flatnonzero(~folds).tolist() == [6, 8]
    share = way[:, folds] / arm.stowed[folds]
    assert near(share[0], 1.0, abs=0.0) and near(way[-1], 0.0, abs=0.0)
    assert (share[1:-1] > 1e-3).all() and share.max() <= 1.0 and np.abs(np.diff(way, axis=0)).max() < 0.07
    for k in np.flatnonzero(~folds):
        stiff = way.copy()
        stiff[:, k] = 0.0
        assert np.linalg.norm(partings(arm, stiff[None])[0], axis=-1).max() / arm.radius[0] > 10.0 * apart
    size = held(arm, way[100])
    assert size[-2] < 1e-2 * size[-3]


def test_two_rows_lower_the_drum_by_a_third() -> None:
    """Closed forms: two levels of three, 8 layers, and the stack of the arm has as many, one pitch apart."""
    made, b = hub(6, rings=3, rows=2), plain_build(1, T, E, G)
    flat, plain = closed_form(6, 3, 2), closed_form(6, 3, 0)
    assert near(flat.stowed_height, plain.stowed_height * 2.0 / 3.0, rel=1e-12) and flat.layers == 8
    # two quads of six arms are split
    assert made.topology().panels == flat.faces + 2 * 6 == 61
    corners = transform(made.poses(b, np.zeros(1))[0, 0], made.geometry(b).corners[0])
    drum = flat.stowed_height * made._radius(b)[0]
    assert 0.85 * drum < np.ptp(corners[..., 2]) < drum + 2.0 * T
    wall = np.array([np.cos(np.pi / 6), np.sin(np.pi / 6), 0.0])
    level = [corners[1 + m * 6] @ wall for m in range(10)]
    assert near([np.ptp(x) for x in level], T, rel=1e-9, why="upright prisms")
    assert near(
        [x.mean() for x in level] - level[0].mean(), (T + G) * np.array([0, 1, 2, 2, 3, 3, 4, 5, 6, 7]), abs=1e-12
    )


def test_a_row_halves_the_drum_and_stacks_six_layers() -> None:
    """Closed forms: half the height of the drum without a row, N (N + 1) = 6 layers, 6 n + 1 faces."""
    made, b = hub(6, rows=1), plain_build(1, T, E, G)
    t, g, flat, plain = made.topology(), made.geometry(b), closed_form(6, 2, 1), closed_form(6, 2, 0)
    assert t.panels == flat.faces == 37 and flat.layers == 6
    assert near(flat.stowed_height, plain.stowed_height / 2.0, rel=1e-12)
    corners = transform(made.poses(b, np.zeros(1))[0, 0], g.corners[0])
    drum = flat.stowed_height * made._radius(b)[0]
    assert 0.85 * drum < np.ptp(corners[..., 2]) < drum + 2.0 * T
    wall = np.array([np.cos(np.pi / 6), np.sin(np.pi / 6), 0.0])
    level = [corners[1 + m * 6] @ wall for m in range(6)]
    assert near([np.ptp(x) for x in level], T, rel=1e-9, why="upright prisms")
    assert near(np.diff([x.mean() for x in level]), np.full(5, T + G), abs=1e-12)


@pytest.mark.parametrize(
    ("rings", "rows", "gap", "clear"),
    [
        (2, 1, "10 mm", "850 mm"),
        pytest.param(3, 1, "8 mm", "1200 mm", marks=pytest.mark.slow),
        pytest.param(3, 2, "8 mm", "1200 mm", marks=pytest.mark.slow),
    ],
)
def test_rows_with_hardware_are_verified_for_their_whole_way(rings: int, rows: int, gap: str, clear: str) -> None:
    asked = problem(aperture={"clear_diameter": clear}, choices={"max_panels": 85})
    given = {"sides": 6, "rings": rings, "rows": rows, "thickness": "5 mm", "edge_gap": gap, "hinge": "pin_bearing"}
    cell, row = cell_from(asked, "wrapped_hub", {**given, "section": "solid", "material": "al_6061_t6"})
    found = verify(asked, cell, row)
    assert isinstance(found, Verified) and found.verified, found
    assert found.clearance.clear and found.closure < 1e-9 and found.motion.between == 0.0
    assert found.findings["ideal_sheet_strain"] < 1e-9 and found.findings["ideal_sheet_strain_on_the_way"] < (
        0.02 if rings > 2 * rows else 1e-3
    )


def three_spheres(centres: list[np.ndarray], radii: list[float]) -> list[np.ndarray]:
    """The two points at given distances from three points (elementary)."""
    u = (centres[1] - centres[0]) / np.linalg.norm(centres[1] - centres[0])
    i, away = u @ (centres[2] - centres[0]), np.linalg.norm(centres[1] - centres[0])
    v = centres[2] - centres[0] - i * u
    j = np.linalg.norm(v)
    x = (radii[0] ** 2 - radii[1] ** 2 + away**2) / (2.0 * away)
    y = (radii[0] ** 2 - radii[2] ** 2 + i**2 + j**2 - 2.0 * i * x) / (2.0 * j)
    z = np.sqrt(radii[0] ** 2 - x**2 - y**2) * np.cross(u, v / j)
    return [centres[0] + x * u + y * v / j + side * z for side in (1.0, -1.0)]


@pytest.mark.parametrize("knot", [40, 80, 120, 160])
def test_where_the_row_ends_by_three_spheres(knot: int) -> None:
    """The end of a row has kept its distances from a hub corner and the two spine corners beside it, six sides."""
    arm, way, a, p = thin_arm(6), wrapped_hub._thin(6, 2, 0), 1.0, np.pi / 6.0
    first = np.array([1.0, 0.0, 0.0])
    second = np.array([np.cos(2.0 * p), np.sin(2.0 * p), 0.0])
    fold, rise = way[knot, 0], a * np.tan(p)
    out = np.array([np.cos(p), np.sin(p), 0.0])
    spine = first + a * (second - first) + rise * (np.cos(fold) * out + np.sin(fold) * np.array([0.0, 0.0, 1.0]))
    turn = np.array([[np.cos(2.0 * p), -np.sin(2.0 * p), 0.0], [np.sin(2.0 * p), np.cos(2.0 * p), 0.0], [0, 0, 1.0]])
    found = three_spheres([second, spine, turn @ spine], [a, a / np.cos(p), rise])
    placed = arm_poses(arm.axis, way[None, knot])[0, 1]
    row = hub(6, lead=0.0)._places(THIN)[(-1, 2, 0)][0]
    end = turn @ transform(placed, np.array([[*row, 0.0]]))[0] / arm.radius[0]
    assert min(np.abs(end - f).max() for f in found) < 1e-4
    assert near(end, min(found, key=lambda f: float(np.abs(end - f).max())), abs=1e-4, why="hold on the angles")


@pytest.mark.parametrize(("sides", "rings", "rows"), [(5, 2, 0), (6, 2, 0), (6, 3, 0), (6, 2, 1), (6, 3, 1), (6, 3, 2)])
def test_poses_are_a_tree_of_true_hinges_and_membranes_are_long_enough(sides: int, rings: int, rows: int) -> None:
    made, b, s = (
        hub(sides, rings=rings, rows=rows),
        plain_build(1, T, 0.7 * E if rings == 3 and rows else E, G),
        np.linspace(0.0, 1.0, 200),
    )
    t, g = made.topology(), made.geometry(b)
    assert g.status.ok.all()
    placed = made.poses(b, s)
    tree = poses(t, g.axis, np.repeat(made.folds(s), sides, axis=1)[None])
    assert near(placed, tree, abs=1e-12, why="rounding")
    parting = hinge_parting(t, g.axis, placed)[0].max(axis=0)
    hinges = t.panels - 1
    assert parting[:hinges].max() < 1e-12 and (g.slack[0, :hinges] == 0.0).all()
    seam = g.slack[0, hinges:]
    assert (parting[hinges:] <= seam).all() and seam.max() < (4.0 if rows else 2.5) * (T + G)
    # not much longer than needed: the seam's ends stand a setback inside of the creases
    assert (parting[hinges:] > 0.8 * seam).all()
    assert near(turns_about(g.axis[0, hinges:], _relative(placed[0, 0], t.hinges[hinges:])), g.stowed_angle[0, hinges:],
                abs=1e-12)  # fmt: skip
    assert near(
        np.abs(g.stowed_angle[0, hinges:]),
        2.0 * np.pi / sides,
        rel=0.011 if (rings, rows) == (3, 1) else 5e-3,
        why="rows of a thick wrap lean",
    )


def _relative(placed: np.ndarray, pairs: np.ndarray) -> np.ndarray:
    turn = np.swapaxes(placed[pairs[:, 0], :, :3], -1, -2)
    both = turn @ placed[pairs[:, 1]]
    both[..., 3] -= np.einsum("hij,hj->hi", turn, placed[pairs[:, 0], :, 3])
    return both


@pytest.mark.parametrize("sides", [5, 6])
def test_stowed_stack_is_a_drum(sides: int) -> None:
    """Height of the zero-thickness drum but for gaps; panels of an arm parallel to its wall, one pitch apart."""
    made, b = hub(sides), plain_build(1, T, E, G)
    g = made.geometry(b)
    placed = made.poses(b, np.zeros(1))[0, 0]
    corners = transform(placed, g.corners[0])
    drum = closed_form(sides, 2, 0).stowed_height * made._radius(b)[0]
    # gaps, and tangents of the clear circle at the tips, take off some of it
    assert 0.85 * drum < np.ptp(corners[..., 2]) < drum + 2.0 * T
    wall = np.array([np.cos(np.pi / sides), np.sin(np.pi / sides), 0.0])
    level = [corners[1 + m * sides] @ wall for m in range(len(pieces(2)))]
    assert near([np.ptp(x) for x in level], T, rel=1e-9, why="upright prisms")
    middles = np.array([x.mean() for x in level])
    # hub edge piece, inner, outer (two pieces side by side), inner
    assert near(np.diff(middles), (T + G) * np.array([1.0, 1.0, 0.0, 1.0]), abs=1e-12)


@pytest.mark.parametrize(
    ("rings", "rows"), [(2, 0), (3, 0), (2, 1), (3, 2), pytest.param(3, 1, marks=pytest.mark.slow)]
)
def test_solids_never_meet_on_the_way(rings: int, rows: int) -> None:
    made, b = hub(6, rings=rings, rows=rows), plain_build(1, T, E, G)
    t, g = made.topology(), made.geometry(b)
    s = np.linspace(0.0, 1.0, KNOTS)
    solids = solids_of(t, g, None, np.zeros((0, 2, 3)))
    told = np.repeat(made.folds(s), 6, axis=1)
    proof = prove_solids(Course.along(t, g.axis[0], s, told), solids)
    assert proof.clear
    near(proof.least_m, G, rel=1e-6, why="the face gap, stowed")


@pytest.mark.parametrize(("rings", "rows", "pitches"), [(2, 0, 1.335), (3, 0, 1.335), (2, 1, 2.381), (3, 2, 2.379)])
def test_partings_grow_with_the_pitch_alone(rings: int, rows: int, pitches: float) -> None:
    made, found = hub(6, rings=rings, rows=rows), []
    for scale in (1.0, 2.0):
        b = dataclasses.replace(plain_build(1, scale * T, E, scale * G, 0.0), diameter=85.0)
        found.append(made._partings(made._arm(b)).max() / made._pitch(b)[0])
    near(found[0], found[1], rel=5e-3, why="to first order in pitch over hub radius")
    near(found[0], pitches, rel=5e-3, why="value found, kept against change")


def test_findings_tell_the_ideal_sheet_and_what_thickness_costs() -> None:
    made, b = hub(6), plain_build(1, T, E, G)
    told, slack = made.findings(b), made.geometry(b).slack.max()
    assert told["ideal_sheet_strain"][0] < 1e-12
    # angles go linearly between knots, so that seams part there by the square of a step
    assert 1e-6 < told["ideal_sheet_strain_on_the_way"][0] < 1e-4
    near(slack, 1.02 * told["greatest_parting_m"][0] + 1e-4, rel=1e-9)
    # the fourth corner of a quad climbs by about half a pitch
    assert 0.3 < told["stowed_quad_warp_m"][0] / (T + G) < 0.8
    near(told["diagonal_fold_rad"][0], np.abs(wrapped_hub._thin(6, 2, 0)[:, 3]).max(), rel=1e-12)


def test_films_have_room_whatever_panel_gap_is_asked() -> None:
    """Layers lie so far apart that verification finds room for two films folded once between them."""
    needed = PLIES * problem().film.film_thickness / KEPT
    b = dataclasses.replace(plain_build(1, T, E, 1e-5, 1e-3), panel_gap=1e-5)
    assert needed < hub(6)._pitch(b)[0] - T < 1.1 * needed
    thin = dataclasses.replace(plain_build(1, 1e-3, E, 1e-5, 3e-3), panel_gap=1e-5)
    assert needed < hub(6)._pitch(thin)[0] - 0.5e-3 - 3e-3 < 1.1 * needed


def test_narrow_gaps_and_wide_knuckles_are_judged() -> None:
    made = hub(6)
    narrow = made.geometry(plain_build(1, 12e-3, 3e-3, G))
    assert not narrow.status.ok[0] and "diagonals" in narrow.status.reason[0]
    wide = plain_build(1, 2e-3, E, G, 4e-3)
    assert near(made._pitch(wide)[0], 1e-3 + 4e-3 + 0.5e-3, rel=1e-12)
    assert made.geometry(dataclasses.replace(wide, edge_gap=np.array([0.09]))).status.residual[0] < 0.0


@pytest.mark.parametrize(("rings", "rows"), [(2, 0), (3, 0), (2, 1), (3, 1), (3, 2)])
def test_pieces_tile_the_pattern_once(rings: int, rows: int) -> None:
    """Outlines without gap and lead have the area of the closed form."""
    made = hub(6, lead=0.0, reach=0.5, rings=rings, rows=rows)
    b = dataclasses.replace(plain_build(1, T, 0.0, G, 0.0), diameter=8500.0)
    g, a = made.geometry(b), closed_form(6, rings, rows)
    scale = made._radius(b)[0]
    assert near(area(g.outline).sum(), a.deployed_area * scale**2, rel=1e-4, why="first order in pitch over radius")
    assert len(seams(rings, rows)) == {(3, 1): 6}.get((rings, rows), 2 * (rings - 1))
    assert len(pieces(rings, rows)) == {(2, 1): 6, (3, 1): 14, (3, 2): 10}.get((rings, rows), 4 * rings - 3)
