"""An obvious way to fold a candidate and to look for panels that meet, apart from the code under test.

Poses come from scipy's rotations, one panel after another; solids meet by the collision
library's convex test; a pair is only asked about where its bounding spheres touch.
"""

import itertools

import fcl
import numpy as np
from scipy.spatial import ConvexHull
from scipy.spatial.transform import Rotation
from shapely.geometry import MultiPoint, Polygon

from synth.core.build import Build
from tests.near import near


def build_of(rows, diameter=0.85, thickness=0.005, panel_gap=0.0005, edge_gap=0.002):
    """A build with one set of sizes for all rows."""
    one = np.ones(rows)
    return Build(
        diameter=diameter,
        panel_gap=panel_gap,
        thickness=thickness * one,
        edge_gap=edge_gap * one,
        pitch=(thickness + panel_gap) * one,
        knuckle=0.002 * one,
        unit_width=0.006 * one,
    )


def middle_of_box(family, cell, rows=1, seed=None):
    """A batch of a cell: the middle of its variable box, or random rows for a seed."""
    reals = family.reals()
    if seed is None:
        return family.of(cell, {k: np.full(rows, (v.low + v.high) / 2.0) for k, v in reals.items()})
    rng = np.random.default_rng(seed)
    return family.of(cell, {k: rng.uniform(v.low, v.high, rows) for k, v in reals.items()})


def distinct(outline):
    """Corners of a padded polygon without its repeats."""
    keep = np.linalg.norm(outline - np.roll(outline, 1, axis=0), axis=1) > 1e-9
    return outline[keep]


def placed(topology, geometry, row, angles):
    """Rotation matrices [P, 3, 3] and shifts [P, 3] of the panels for hinge angles [H]."""
    count = len(topology.parent)
    turn, shift = np.zeros((count, 3, 3)), np.zeros((count, 3))
    turn[0] = np.eye(3)
    for panel in range(1, count):
        first, second = geometry.axis[row, panel - 1]
        along = (second - first) / np.linalg.norm(second - first)
        own = Rotation.from_rotvec(along * angles[panel - 1]).as_matrix()
        parent = topology.parent[panel]
        turn[panel] = turn[parent] @ own
        shift[panel] = turn[parent] @ (first - own @ first) + shift[parent]
    return turn, shift


def angles_through(topology, geometry, row, stations):
    """Hinge angles at stations crowded towards the ends of every stage, where panels meet if at all."""
    stowed = geometry.stowed_angle[row]
    share = (1.0 - np.cos(np.pi * np.linspace(0.0, 1.0, stations) ** 1.0)) / 2.0
    for stage in range(int(topology.stage.max()) + 1):
        for x in share:
            done = np.clip(np.where(topology.stage < stage, 1.0, np.where(topology.stage == stage, x, 0.0)), 0, 1)
            yield stage, float(x), stowed * (1.0 - done)


def _solid(outline, thickness):
    corners = distinct(outline)
    points = np.concatenate([np.c_[corners, np.full(len(corners), -thickness)], np.c_[corners, np.zeros(len(corners))]])
    middle = points.mean(axis=0)
    faces = []
    for simplex in ConvexHull(points).simplices:
        a, b, c = points[simplex]
        outward = np.dot(np.cross(b - a, c - a), a - middle) > 0
        faces.append([3, *(simplex if outward else simplex[::-1])])
    shape = fcl.Convex(points, len(faces), np.array(faces).ravel())
    return shape, middle, np.linalg.norm(points - middle, axis=1).max()


def meetings(topology, geometry, row=0, stations=60):
    """[(stage, share, i, j)] of panels found to meet at any station; one entry a stage and pair."""
    thickness = float(geometry.thickness[row])
    solids = [_solid(o, thickness) for o in geometry.outline[row]]
    middle = np.array([s[1] for s in solids])
    radius = np.array([s[2] for s in solids])
    bodies = [fcl.CollisionObject(s[0], fcl.Transform()) for s in solids]
    request, found = fcl.CollisionRequest(), {}
    first, second = np.triu_indices(len(solids), 1)
    before = None
    for stage, share, angles in angles_through(topology, geometry, row, stations):
        turn, shift = placed(topology, geometry, row, angles)
        at = np.einsum("pij,pj->pi", turn, middle) + shift
        near = np.linalg.norm(at[first] - at[second], axis=1) < radius[first] + radius[second]
        if before is not None:
            # a pair that did not move against each other cannot have met
            relative = np.einsum("nji,njk->nik", turn[first], turn[second])
            old = np.einsum("nji,njk->nik", before[0][first], before[0][second])
            gap = np.einsum("nji,nj->ni", turn[first], shift[second] - shift[first])
            old_gap = np.einsum("nji,nj->ni", before[0][first], before[1][second] - before[1][first])
            near &= (np.abs(relative - old).max(axis=(1, 2)) > 1e-12) | (np.abs(gap - old_gap).max(axis=1) > 1e-12)
        before = (turn, shift)
        for body, r, t in zip(bodies, turn, shift, strict=True):
            body.setTransform(fcl.Transform(r, t))
        for i, j in zip(first[near], second[near], strict=True):
            if (stage, i, j) not in found and fcl.collide(bodies[i], bodies[j], request, fcl.CollisionResult()):
                found[stage, i, j] = share
    return [(stage, share, int(i), int(j)) for (stage, i, j), share in found.items()]


def keep_apart(topology, geometry, edge_gap):
    """Outlines are simple, convex and an edge gap apart; hinge lines and free edges lie in the middle of the gap and
    run with their second panel on the left. Returns the length of the shortest of these lines, m."""
    shortest = np.inf
    for row in range(len(geometry.outline)):
        shapes = [Polygon(distinct(o)) for o in geometry.outline[row]]
        assert all(s.is_valid and s.exterior.is_ccw and s.convex_hull.area - s.area < 1e-12 for s in shapes)
        for i, j in itertools.combinations(range(topology.panels), 2):
            assert shapes[i].distance(shapes[j]) >= edge_gap - 1e-9
        lines = [(geometry.axis[row, h, :, :2], *topology.hinges[h]) for h in range(topology.panels - 1)]
        lines += [(e, *pair) for e, pair in zip(geometry.latch_edge[row], topology.latchable, strict=True)]
        for line, i, j in lines:
            for end, shape in itertools.product(line, (shapes[i], shapes[j])):
                assert near(shape.distance(MultiPoint([end])), edge_gap / 2.0, rel=1e-6)
            length = np.linalg.norm(line[1] - line[0])
            along = (line[1] - line[0]) / length
            away = geometry.outline[row, j].mean(axis=0) - geometry.outline[row, i].mean(axis=0)
            assert np.dot([-along[1], along[0]], away) > 0.0  # along = across x z
            shortest = min(shortest, length)
    return shortest
