"""Room that joints take: leaves, knuckles and stand-offs of hinges, latch halves: upright boxes in the gap strips."""

import numpy as np

from synth.core.arrays import Floats, Ints
from synth.core.build import Build
from synth.core.fittings import NO_JOINT, Fittings
from synth.core.geometry import Geometry
from synth.core.joints import Units
from synth.core.polygon import area
from synth.core.topology import Topology
from synth.hinges.kind import JointKind

PASSING_CLEARANCE = 0.5e-3
"""m between a stand-off and the edges of the layers that it passes (common practice)."""
SWING_CLEARANCE = 0.1e-3
"""m that the end of a stand-off keeps from the edges it swings past."""
HINGE_SEAM = 0.05e-3
"""m that a leaf stops short of its hinge line, so that leaves of different hinges face to face do not touch."""
LATCH_SEAM = 0.25e-3
"""Least distance in m from a latch half to the middle of the gap, so that halves of different latches never rub."""
LATCH_DRAWN = 0.15
"""Share of the half gap that a latch half stays short of the middle: its bolt comes out when it latches, so that
panels that pass each other on the way do not bring their latches together (common practice for spring latches)."""
BRACKET_DENSITY = 2700.0
"""kg/m3: leaves are machined from aluminium (6061, catalogue value, seen)."""


def lay_fittings(
    topology: Topology, geometry: Geometry, build: Build, hinges: Units, latches: Units, latch: JointKind | None
) -> Fittings:
    """Leaves of the hinges (with posts where they pass layers) and latch halves."""
    t, half = geometry.thickness[:, None], build.edge_gap[:, None] / 2.0
    knuckle = build.knuckle[:, None]
    axis_z = hinges.at[..., 2]
    steps = topology.steps if len(topology.steps) else np.zeros(0, dtype=np.int64)
    layers = np.concatenate([steps, np.zeros(len(topology.closing), dtype=np.int64)])[hinges.owner] > 1
    # a stand-off is as wide as the knuckle, less where the half gap leaves no room to pass
    broad = np.where(
        layers, np.minimum(knuckle, np.maximum(half - PASSING_CLEARANCE, half / 4.0)), np.minimum(knuckle, half)
    )
    # in mid-turn the end of a post swings past the edges that it passes: its corner stays within half the gap
    swing = np.sqrt(np.maximum(half**2 - broad**2, 0.0)) - SWING_CLEARANCE
    notched = layers & build.notched
    if build.notched:
        # passed panels are notched to PASSING_CLEARANCE beyond the post: its corner keeps inside that circle
        broad = np.where(notched, build.post[:, None], broad)
        swing = np.where(notched, np.sqrt((broad + PASSING_CLEARANCE) ** 2 - broad**2) - SWING_CLEARANCE, swing)
    beyond = np.where(layers, np.clip(swing, 0.0, knuckle), knuckle)
    low, high = np.minimum(-t, axis_z - beyond), np.maximum(0.0, axis_z + beyond)
    # a post deeper than the half gap stands on its panel's face
    low = np.where(notched & (axis_z > -t / 2.0), 0.0, low)
    high = np.where(notched & (axis_z <= -t / 2.0), -t, high)
    span = build.unit_width[:, None] / 2.0
    made: list[tuple[Ints, Ints, Ints, Floats, Floats, Floats]] = []
    none = np.full(len(hinges.owner), NO_JOINT)
    flat = np.zeros_like(axis_z)
    seam = np.minimum(HINGE_SEAM, broad / 2.0)
    for side, sign in ((0, -1.0), (1, 1.0)):
        panel = hinges.panels[:, side]
        # the foot fills the strip from the panel's edge to under the knuckle, no higher than the panel
        foot = _boxes(hinges, span, np.where(notched, seam, np.maximum(broad / 2.0, seam)), half, sign)
        made.append((panel, hinges.owner, none, foot, flat - t, flat))
        made.append((panel, hinges.owner, none, _boxes(hinges, span, seam, broad, sign), low, high))
        if latch is not None and len(latches.owner):
            there = latches.stiffness.any(axis=-1)
            width = np.where(there, latch.width / 2.0, 0.0)
            box = _boxes(latches, width, np.minimum(np.maximum(LATCH_SEAM, LATCH_DRAWN * half), half), half, sign)
            count = len(latches.owner)
            loose = np.full(count, NO_JOINT)
            made.append((latches.panels[:, side], loose, latches.owner, box, there * -t, np.zeros_like(width)))
    if not made:
        return _no_fittings(geometry.rows)
    panel, hinge, latched = (np.concatenate([m[k] for m in made]) for k in range(3))
    outline, z_back, z_front = (np.concatenate([np.asarray(m[k]) for m in made], axis=1) for k in (3, 4, 5))
    z_back, z_front = np.broadcast_arrays(z_back, z_front)
    mass = BRACKET_DENSITY * area(outline) * (z_front - z_back)
    return Fittings(panel, hinge, latched, outline, z_back, z_front, mass)


def _no_fittings(rows: int) -> Fittings:
    none, flat = np.zeros(0, dtype=np.int64), np.zeros((rows, 0))
    return Fittings(none, none, none, np.zeros((rows, 0, 4, 2)), flat, flat, flat)


def _boxes(units: Units, half_width: Floats, near: Floats, far: Floats, sign: float) -> Floats:
    """Counter-clockwise boxes [B, U, 4, 2] beside the hinge line: along +- half_width, across near..far on one side."""
    along, across = units.axes[..., 0, :2], units.axes[..., 1, :2]
    shape = units.at.shape[:2]
    w = half_width[..., None] * along
    a = near[..., None] * across * sign
    b = far[..., None] * across * sign
    p, ring = units.at[..., :2], np.empty((*shape, 4, 2))
    low, high = p - w, p + w
    corners = (low + a, high + a, high + b, low + b)
    for k, corner in enumerate(corners if sign > 0 else corners[::-1]):
        ring[..., k, :] = corner
    return ring
