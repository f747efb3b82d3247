"""Notches in leaves that turn about the edges of a polygonal hub and lie on it one on another.

A stand-off of an upper leaf is `Build.post` deep on either side of its hinge line and passes every leaf below, at
rest. Its half that turns away stays inside a circle about its own line (see fold.leaves), so a notch leaves
PASSING_CLEARANCE and MARGIN beyond the post. From its half on the hub the leaves below part on circles about their
own lines: a point of a leaf at distance u' from its line, z above it, passes a post at u, no taller than H, only if
u'^2 + z^2 <= u^2 + H^2 (elementary). So a notch reaches sqrt(u^2 + H^2 - z^2) - u farther from the leaf's line: seen
from the notched edge partly along it and, where both edges look the same way, partly into the leaf.
"""

import numpy as np

from synth.core.arrays import Column, Floats, Ints
from synth.core.build import Build
from synth.core.geometry import Notches
from synth.core.topology import Topology
from synth.families._fins import END_MARGIN, MARGIN, PASSING_CLEARANCE
from synth.families._straight import LEFT


def passed_leaves(topology: Topology) -> tuple[Ints, Ints]:
    """Which leaves [K] the stand-offs of which hinges [K] pass: those below, on the same side of the hub."""
    side, layer = topology.sense, topology.steps
    below = (side[:, None] == side[None, :]) & (layer[:, None] < layer[None, :])
    leaf, hinge = np.nonzero(below)
    return leaf.astype(np.int64) + 1, hinge.astype(np.int64)


def leaf_notches(
    topology: Topology, axis: Floats, angle: Floats, inradius: Column, gap: Column, build: Build
) -> Notches:
    """Notches of all leaves.

    axis [B, H, 2, 3] hinge lines, angle [H] of the hub's edges, inradius [B] m of their lines, gap [B] m of outlines.
    A leaf lies over the hub as its mirror image in its own edge, and so do the edges that notches are cut in.
    """
    leaf, hinge = passed_leaves(topology)
    own = angle[leaf - 1]
    outward = np.stack([np.cos(angle), np.sin(angle)], axis=-1)
    turned = angle[hinge] - own
    # what a notch asks for beside a post at rest, and by how much it is longer seen from the leaf's line
    least = build.post + PASSING_CLEARANCE + MARGIN - gap / 2.0
    longer = _longer(topology, axis, outward, inradius, build, leaf, hinge)
    depth = least[:, None] + longer * np.maximum(np.cos(turned), 0.0)
    depth = np.where(depth > 0.0, np.maximum(depth, LEFT), 0.0)
    # the mirror image of the passing edge, deployed
    normal = np.stack([np.cos(2.0 * own + np.pi - angle[hinge]), np.sin(2.0 * own + np.pi - angle[hinge])], axis=-1)
    line = axis[:, hinge, :, :2].mean(axis=2)
    ahead = (line * outward[leaf - 1]).sum(axis=-1)
    middle = line + 2.0 * (inradius[:, None] - ahead)[..., None] * outward[leaf - 1]
    middle = middle + ((build.edge_gap - gap) / 2.0)[:, None, None] * normal
    normal = np.broadcast_to(normal, (build.rows, *normal.shape))
    return Notches(leaf, hinge, middle, normal, depth, longer * np.abs(np.sin(turned)))


def _longer(
    topology: Topology, axis: Floats, outward: Floats, inradius: Column, build: Build, leaf: Ints, hinge: Ints
) -> Floats:
    """sqrt(u^2 + H^2 - z^2) - u [B, K] m for the unit of a stand-off that is nearest to the leaf's own line."""
    mine = outward[leaf - 1]
    away = inradius[:, None, None] - (axis[:, hinge, :, :2] * mine[None, :, None]).sum(axis=-1)
    turn = (mine * outward[hinge]).sum(axis=-1)
    sine = np.sqrt(np.maximum(1.0 - turn**2, 0.0))
    near = away.min(axis=-1) + END_MARGIN * sine - build.post[:, None] * np.maximum(-turn, 0.0)
    near = np.maximum(near, 0.0)
    pitch = build.pitch[:, None]
    low, high = topology.steps[leaf - 1], topology.steps[hinge]
    tall = (high - low) * pitch / 2.0 + build.knuckle[:, None]
    under = low * pitch / 2.0 - build.thickness[:, None] / 2.0
    return np.asarray(np.sqrt(near**2 + np.maximum(tall**2 - under**2, 0.0)) - near)
