"""Mobility counts and stamp foldings against the reference cases."""

from itertools import permutations, product

import numpy as np

from synth.core.layers import stack
from synth.fold.loops import close
from synth.fold.mobility import kutzbach, miura_redundant, mobility, quad_sheet_count, sheet_count
from synth.fold.thickness import miura_levels
from tests.fold.structures import bare, miura_corners, miura_folds, miura_heights, sheet, vertex
from tests.physics.fold_cases import case

CORNER, TILT = np.radians(60.0), np.radians(40.0)


def test_miura_ranks() -> None:
    given = case("dof_miura").expected
    for k, m in enumerate(case("dof_miura").inputs["m"]):
        shape = sheet(miura_corners(m, m, CORNER))
        folds = shape.by_hinge(miura_folds(m, m, CORNER, TILT))[None]
        count = mobility(shape.topology, shape.axis, folds, spherical=True)
        told = (count.hinges, count.rows, count.rank[0], count.freedoms[0], count.redundant[0])
        wanted = ("creases", "rows", "rank", "dof", "redundant")
        assert told == tuple(given[name][k] for name in wanted)
        assert count.margin[0] > 1e4
        assert quad_sheet_count(m, m) + miura_redundant(m, m) == given["dof"][k]
        assert miura_redundant(m, m) == given["redundant"][k]


def test_rank_drops_in_the_flat_state() -> None:
    given = case("dof_flat_state_pitfall")
    for m, freedoms in zip(given.inputs["m"], given.expected["dof_first_order_flat"], strict=True):
        shape = sheet(miura_corners(m, m, CORNER))
        flat = np.zeros((1, shape.axis.shape[1]))
        assert mobility(shape.topology, shape.axis, flat, spherical=True).freedoms[0] == freedoms == 2 * m - 2


def test_thick_miura_ranks() -> None:
    given = case("dof_thick_miura")
    corner, tilt = given.angle("gamma_deg"), given.angle("theta_deg")
    for k, m in enumerate(given.inputs["m"]):
        shape = sheet(
            miura_corners(m, m, corner), given.inputs["t"] * miura_heights(m, m, miura_levels(m, m, "columns"))
        )
        count = mobility(shape.topology, shape.axis, shape.by_hinge(miura_folds(m, m, corner, tilt))[None])
        told = (count.hinges, count.rows, count.freedoms[0])
        assert told == tuple(given.expected[name][k] for name in ("hinges", "rows", "mobility"))


def test_generic_quadrilateral_sheets() -> None:
    """Random folded sheets of plane quadrilaterals: each new corner is the meet of three planes through its edges."""
    given = case("dof_generic_quads")
    rng = np.random.default_rng(5)
    for (m, n), freedoms in zip(given.inputs["grid"], given.expected["dof"], strict=True):
        corners = miura_corners(m, n, CORNER, TILT)
        corners[:, 0] += 0.1 * rng.standard_normal((m + 1, 3))
        corners[0, 1:] += 0.1 * rng.standard_normal((n, 3))
        for i in range(1, m + 1):
            for j in range(1, n + 1):  # the fourth corner stays in the plane of the other three
                o, p, q = corners[i - 1, j - 1], corners[i, j - 1], corners[i - 1, j]
                u, v = 1.0 + 0.2 * rng.standard_normal(2)
                corners[i, j] = o + u * (p - o) + v * (q - o)
        shape = sheet(corners)
        folded = np.zeros((1, shape.axis.shape[1]))  # this state is taken as reference: folds relative to it are zero
        count = mobility(shape.topology, shape.axis, folded, spherical=True)
        assert count.freedoms[0] == freedoms == max(quad_sheet_count(m, n), 0)


def test_triangulated_discs() -> None:
    """A grid of squares, each cut by a diagonal, folded at random: E_boundary - 3."""
    given = case("dof_triangulated_disc")
    rng = np.random.default_rng(3)
    for (m, n), edge, freedoms in zip(*given.inputs.values(), *given.expected.values(), strict=True):
        at = np.stack(np.meshgrid(np.arange(m + 1.0), np.arange(n + 1.0), indexing="ij"), axis=-1)
        at = np.concatenate([at, rng.uniform(-0.4, 0.4, (m + 1, n + 1, 1))], axis=-1).reshape(-1, 3)
        grid = [(i, j) for i in range(m) for j in range(n)]
        faces = []
        for i, j in grid:
            a, b, c, d = (k * (n + 1) + h for k, h in ((i, j), (i + 1, j), (i + 1, j + 1), (i, j + 1)))
            halves = [(a, b, c), (a, c, d)]
            faces += halves if i == 0 else halves[::-1]  # so that each face meets one before it
        parent, closing, lines = joined(faces)
        axis = at[np.array(lines)][None]
        count = mobility(bare(parent, closing), axis, np.zeros((1, axis.shape[1])), spherical=True)
        assert count.freedoms[0] == freedoms == sheet_count(edge, (3,) * len(faces))


def joined(faces: list[tuple[int, ...]]) -> tuple[np.ndarray, np.ndarray, list[tuple[int, int]]]:
    """Spanning tree, closing pairs and hinge corners of faces that share edges; faces come in an order that grows."""
    owner: dict[frozenset[int], int] = {}
    parent, tree, rest, loops = [-1], [], [], []
    for k, face in enumerate(faces):
        edges = [frozenset((face[q], face[(q + 1) % len(face)])) for q in range(len(face))]
        shared = [e for e in edges if e in owner]
        assert shared or k == 0
        for place, edge in enumerate(shared):
            line = tuple(sorted(edge))
            if place == 0:
                parent.append(owner[edge])
                tree.append(line)
            else:
                loops.append((owner[edge], k))
                rest.append(line)
        owner.update({e: k for e in edges if e not in owner})
    return np.array(parent), np.array(loops).reshape(-1, 2), tree + rest


def test_single_vertices_and_trees() -> None:
    given = case("dof_single_vertex")
    for n, freedoms in zip(given.inputs["n"], given.expected["dof"], strict=True):
        shape = vertex(np.full(n, 2.0 * np.pi / n))
        start = np.where(np.arange(n) % 2 == 0, 1.0, -0.8)
        driven = shape.driven(*range(n - 3))
        held = close(
            shape.topology, shape.axis, shape.by_hinge(start)[None], driven, 0.6 + 0.1 * np.arange(n - 3)[None], True
        )
        assert held.status.ok.all()
        assert mobility(shape.topology, shape.axis, held.angles, spherical=True).freedoms[0] == freedoms
    given = case("dof_tree")
    for panels, freedoms in zip(given.inputs["panels"], given.expected["dof"], strict=True):
        chain = bare(np.arange(-1, panels - 1), np.zeros((0, 2), dtype=np.int64))
        axis = np.broadcast_to(np.eye(2, 3), (1, panels - 1, 2, 3))
        assert mobility(chain, axis, np.zeros((1, panels - 1))).freedoms[0] == freedoms


def test_kutzbach_counts() -> None:
    given = case("dof_kutzbach")
    assert [kutzbach(n, n) for n in given.inputs["n"]] == given.expected["M"]
    given = case("dof_wrap_count")
    for n, edge, quads, count in zip(
        given.inputs["n"], given.expected["E_boundary"], given.expected["quads"], given.expected["count"], strict=True
    ):
        assert sheet_count(edge, (4,) * quads + (n,)) == count


def foldings(stamps: int) -> set[tuple[int, ...]]:
    """Stack orders of a strip by brute force: no two creases of one side of the stack cross."""
    found = set()
    for order in permutations(range(stamps)):
        place = {s: k for k, s in enumerate(order)}
        arcs = [tuple(sorted((place[s], place[s + 1]))) for s in range(stamps - 1)]
        sides = [[a for s, a in enumerate(arcs) if s % 2 == side] for side in (0, 1)]
        if not any(a[0] < b[0] < a[1] < b[1] for side in sides for a, b in product(side, side)):
            found.add(order)
    return found


def test_stamp_foldings_hold_all_stacks_of_a_strip() -> None:
    given = case("stamp_folding_counts")
    for n, ways in zip(given.inputs["n"][:7], given.expected["ways"], strict=False):
        every = foldings(n)
        assert len(every) == ways
        for sides in product((1, -1), repeat=n - 1):
            made = stack(list(range(-1, n - 1)), sides=[0, *sides])
            assert tuple(np.argsort(made.level)) in every
            assert sorted(made.level - made.level.min()) == list(range(n))
