"""Notches in leaves that turn about the edges of a polygonal hub and lie on it one on another.

A stand-off of an upper leaf is `Build.post` deep on either side of its hinge line and passes every leaf below, at
rest. Its half that turns away stays inside a circle about its own line (see fold.leaves), so a notch leaves
PASSING_CLEARANCE and MARGIN beyond the post. From its half on the hub the leaves below part on circles about their
own lines: a point of a leaf at distance u' from its line, z above it, passes a post at u, no taller than H, only if
u'^2 + z^2 <= u^2 + H^2 (elementary). So a notch reaches sqrt(u^2 + H^2 - z^2) - u farther from the leaf's line: seen
from the notched edge partly along it and, where both edges look the same way, partly into the leaf. Near the corner of
two neighbouring edges that is more than there is room for: the upper one's hinge line is cut short there.
"""

from collections.abc import Callable

import numpy as np

from synth.core.arrays import Bools, Column, Floats, Ints
from synth.core.build import Build
from synth.core.geometry import Notches
from synth.core.topology import Topology
from synth.families._fins import END_MARGIN, MARGIN, PASSING_CLEARANCE
from synth.families._straight import ALONG, BESIDE, LEFT

HALVINGS = 30
"""Halvings in which the ends of a hinge line are found."""


def passed_leaves(topology: Topology) -> tuple[Ints, Ints]:
    """Which leaves [K] the stand-offs of which hinges [K] pass: those below, on the same side of the hub."""
    side, layer = topology.sense, topology.steps
    below = (side[:, None] == side[None, :]) & (layer[:, None] < layer[None, :])
    leaf, hinge = np.nonzero(below)
    return leaf.astype(np.int64) + 1, hinge.astype(np.int64)


def leaf_notches(
    topology: Topology, outline: Floats, axis: Floats, angle: Floats, inradius: Column, gap: Column, build: Build
) -> Notches:
    """Notches of all leaves, none where a leaf's outline does not come so near to the passing edge.

    outline [B, P, V, 2], axis [B, H, 2, 3] hinge lines, angle [H] of the hub's edges, inradius [B] m of their lines,
    gap [B] m between outlines.
    A leaf lies over the hub as its mirror image in its own edge, and so do the edges that notches are cut in.
    """
    leaf, hinge = passed_leaves(topology)
    own = angle[leaf - 1]
    outward = np.stack([np.cos(angle), np.sin(angle)], axis=-1)
    turned = angle[hinge] - own
    # what a notch asks for beside a post at rest, and by how much it is longer seen from the leaf's line
    least = build.post + PASSING_CLEARANCE + MARGIN - gap / 2.0
    longer = _longer(topology, axis, angle, inradius, build, leaf, hinge)
    depth = least[:, None] + longer * np.maximum(np.cos(turned), 0.0)
    depth = np.where(depth > 0.0, np.maximum(depth, LEFT), 0.0)
    # the mirror image of the passing edge, deployed
    normal = np.stack([np.cos(2.0 * own + np.pi - angle[hinge]), np.sin(2.0 * own + np.pi - angle[hinge])], axis=-1)
    line = axis[:, hinge, :, :2].mean(axis=2)
    ahead = (line * outward[leaf - 1]).sum(axis=-1)
    middle = line + 2.0 * (inradius[:, None] - ahead)[..., None] * outward[leaf - 1]
    behind = ((middle[:, :, None] - outline[:, leaf]) * normal[:, None]).sum(axis=-1).min(axis=-1)
    depth = np.where(behind < gap[:, None] / 2.0 + depth, depth, 0.0)
    middle = middle + ((build.edge_gap - gap) / 2.0)[:, None, None] * normal
    normal = np.broadcast_to(normal, (build.rows, *normal.shape))
    return Notches(leaf, hinge, middle, normal, depth, longer * np.abs(np.sin(turned)))


def clear_lines(topology: Topology, edge: Floats, angle: Floats, inradius: Column, gap: Column, build: Build) -> Floats:
    """Hinge lines [B, H, 2, 2] cut short at both ends until leaves below part from their posts.

    Posts in gaps: where the leaf's hub edge is the next one and looks the same way, so that it moves towards the post.
    Posts in notches: until the notch keeps clear of the panel's corner, unless it may lie free of the leaf.
    """
    leaf, hinge = passed_leaves(topology)
    if not build.notched:
        use = _neighbours(leaf, hinge, len(angle)) & (np.cos(angle[hinge] - angle[leaf - 1]) > ALONG)
        leaf, hinge = leaf[use], hinge[use]
    most = np.linalg.norm(edge[:, :, 1] - edge[:, :, 0], axis=-1) / 2.0
    room = _room(topology, edge, angle, inradius, gap, build, leaf, hinge)
    low, high = np.zeros((build.rows, len(leaf))), most[:, hinge]
    fits = room(low) >= 0.0
    for _ in range(HALVINGS if not fits.all() else 0):
        middle = (low + high) / 2.0
        good = room(middle) >= 0.0
        low, high = np.where(good, low, middle), np.where(good, middle, high)
    cut = np.zeros_like(most)
    for k, asked in zip(hinge.tolist(), np.where(fits, 0.0, high).T, strict=True):
        cut[:, k] = np.maximum(cut[:, k], asked)
    share = (1.0 - cut / np.maximum(most, 1e-12))[..., None, None]
    whole = edge.mean(axis=2, keepdims=True)
    return np.asarray(np.where(share < 1.0, whole + share * (edge - whole), edge))


def _neighbours(leaf: Ints, hinge: Ints, count: int) -> Bools:
    """Whether [K] the hub edges of leaves and hinges share a corner."""
    return np.isin((leaf - 1 - hinge) % count, (1, count - 1))


def _room(
    topology: Topology,
    edge: Floats,
    angle: Floats,
    inradius: Column,
    gap: Column,
    build: Build,
    leaf: Ints,
    hinge: Ints,
) -> Callable[[Floats], Floats]:
    """What is left [B, K] m as leaves part from posts whose lines are cut by so much [B, K].

    From seven edges on the next leaf's own edge turns away from the post's line by pi / 2 - 3 pi / n (elementary).
    """
    count = len(angle)
    turned = angle[hinge] - angle[leaf - 1]
    sine, toward = np.abs(np.sin(turned)), np.maximum(np.cos(turned), 0.0)
    lean = np.tan(max(np.pi / 2.0 - 3.0 * np.pi / count, 0.0)) * _neighbours(leaf, hinge, count)
    above = (topology.sense == topology.sense[leaf - 1][:, None]) & (topology.steps > topology.steps[leaf - 1][:, None])
    both = np.take_along_axis(above, np.stack([hinge - 1, hinge + 1], axis=-1) % count, axis=1).any(axis=1)
    meet = np.tan(np.pi / count) * both
    half, post = gap[:, None] / 2.0, build.post[:, None]
    broad = np.minimum(build.knuckle[:, None], np.maximum(half - PASSING_CLEARANCE, half / 4.0))
    beyond = _beyond(topology, build, leaf, hinge)
    lines = edge[:, hinge]
    near = (inradius * np.tan(np.pi / count))[:, None] - np.linalg.norm(lines[:, :, 1] - lines[:, :, 0], axis=-1) / 2.0
    away = _away(edge, angle, inradius, leaf, hinge)
    away = away - post * np.maximum(-np.cos(turned), 0.0) * build.notched

    def room(cut: Floats) -> Floats:
        u = np.maximum(away + (END_MARGIN + cut) * sine, 0.0)
        longer = np.sqrt(u**2 + beyond) - u
        start = near + END_MARGIN + cut
        if not build.notched:
            return np.asarray(half + (start + longer * sine) * lean - broad - MARGIN - longer * toward)
        begin = start - BESIDE - longer * sine
        free = half + begin * lean - post - PASSING_CLEARANCE - MARGIN - longer * toward
        # where the two edges are parallel a notch does; notches of two edges must not meet inside their corner
        return np.asarray(np.where(lean > 0.0, free, np.maximum(free, begin - near - LEFT + free * meet)))

    return room


def _away(line: Floats, angle: Floats, inradius: Column, leaf: Ints, hinge: Ints) -> Floats:
    """Distance [B, K] m of the nearer ends of hinge lines [B, H, 2, 2 or 3] from the lines of leaves."""
    outward = np.stack([np.cos(angle), np.sin(angle)], axis=-1)[leaf - 1]
    ahead = (line[:, hinge, :, :2] * outward[None, :, None]).sum(axis=-1)
    return np.asarray(inradius[:, None] - ahead.max(axis=-1))


def _beyond(topology: Topology, build: Build, leaf: Ints, hinge: Ints) -> Floats:
    """H^2 - z^2 [B, K] of the posts of hinges and the leaves that they pass, m^2, at least 0."""
    pitch = build.pitch[:, None]
    low, high = topology.steps[leaf - 1], topology.steps[hinge]
    tall = (high - low) * pitch / 2.0 + build.knuckle[:, None]
    under = low * pitch / 2.0 - build.thickness[:, None] / 2.0
    return np.asarray(np.maximum(tall**2 - under**2, 0.0))


def _longer(
    topology: Topology, axis: Floats, angle: Floats, inradius: Column, build: Build, leaf: Ints, hinge: Ints
) -> Floats:
    """sqrt(u^2 + H^2 - z^2) - u [B, K] m for the unit of a stand-off that is nearest to the leaf's own line."""
    turned = angle[hinge] - angle[leaf - 1]
    near = _away(axis, angle, inradius, leaf, hinge) + END_MARGIN * np.abs(np.sin(turned))
    near = np.maximum(near - build.post[:, None] * np.maximum(-np.cos(turned), 0.0), 0.0)
    return np.asarray(np.sqrt(near**2 + _beyond(topology, build, leaf, hinge)) - near)
