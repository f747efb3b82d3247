"""Joint hardware laid out on a batch: six-way units, their feet, and the fittings that take room.

A hinge unit has a leaf on each of its two panels. The leaf is an upright box that fills
its panel's half of the edge gap, from the panel up to the hinge line and a knuckle
beyond: where the fold passes other layers it is a stand-off. Everything of a hinge lies
in the gap strip, so it covers no light and passes beside the layers, not through them.
Units sit in pairs, mirrored about the middle of the hinge line, because stacked tiles
are mirror images of each other and only a symmetric place is the same on all of them.
"""

from dataclasses import dataclass

import numpy as np

from synth.core.arrays import Bools, Column, Floats, Ints, norm, pair, quarter_turn, unit
from synth.core.build import Build
from synth.core.fittings import Fittings
from synth.core.geometry import Geometry
from synth.core.joints import SPACECRAFT, JointMasses, Units
from synth.core.polygon import ahead, centroid
from synth.core.status import Status
from synth.core.topology import Topology
from synth.core.turning import TurnLaw
from synth.fold.leaves import lay_fittings
from synth.hinges.kind import JointKind, JointNumbers
from synth.hinges.membrane import Membrane

END_MARGIN = 2e-3
"""m between the end of a hinge line and its first unit (common practice: room for an edge radius)."""
SLOT_PITCH = 1.25
"""Distance of neighbouring slots in unit widths."""
PAD_INSIDE, PAD_NEEDS = 0.75, 0.76
"""Feet lie at least this many pad radii inside the outline: a pad that reaches far past a narrow panel does not hold
it (the motion of such a pad, a mean over a disc partly in the air, does not settle with the polynomial degree). Feet
that are moved to find room get a hundredth of a radius more."""
INWARD = 1.2
"""Feet lie this many pad radii inside the panel's edge."""
SLANTED = 0.02
"""Sine between hinge line and panel edge below which moving along the line takes a foot no farther from the edge."""
LEAST_RING = 0.3
"""Least ring radius of the mount over that of its kind, for a narrow root panel (practice: feet still side by side)."""


@dataclass(frozen=True, eq=False)
class Hardware:
    """What this module adds to a design. flexing [B, H]: stress of what flexes in each hinge, stowed, over the
    allowed."""

    units: Units
    fittings: Fittings
    masses: JointMasses
    turns: TurnLaw
    flexing: Floats
    status: Status


LEAST_GAP = 20e-6
"""m: least face gap that is laid out whatever panel gap is asked: layers with none touch, which verification refuses.
Chosen: the motion down to which synth.fold.interference halves its intervals; half of it was still proven apart."""


def stack_pitch(thickness: Column, knuckle: Column, panel_gap: float) -> Column:
    """Layer pitch [B]: thickness + face gap, the gap raised until knuckles of hinges two layers apart clear each other.

    A knuckle of half height k about an axis in the middle of the face gap g must neither
    stick out behind its panel (k <= t + g / 2) nor reach the next hinge on the same edge
    (k < t + 3 g / 2, with half a millimetre to spare). Geometry, elementary.
    """
    gap = np.maximum(2.0 * (knuckle - thickness), (knuckle + 0.5e-3 - thickness) / 1.5)
    return thickness + np.maximum(panel_gap, gap)


def lay_hardware(
    topology: Topology,
    geometry: Geometry,
    build: Build,
    hinge: JointNumbers,
    pairs: int,
    latch: JointKind | None,
    mount: JointKind,
    film: Membrane,
) -> Hardware:
    """Units and fittings of every hinge, latch and the mount.

    pairs: hinge units on each edge are 2 * pairs. latch: None leaves the free edges open;
    a free edge too short for one stays open too (its unit has zero stiffness and mass).
    Hinges with slack are membranes: one unit that bends and holds nothing else, no fittings.
    Status: hinge lines long enough for their units, feet inside the panels.
    """
    status = Status.fine(geometry.rows)
    slack = np.asarray(geometry.slack.any(axis=0))
    lines = _lengths(geometry)
    slots = int(topology.slot.max(initial=0)) + 1
    room = 2.0 * (END_MARGIN + SLOT_PITCH * slots * pairs * build.unit_width)
    room = room + (latch.width if latch is not None else 0.0)
    inner = _farther_in(topology, geometry, build, hinge, np.maximum(lines - room[:, None], 0.0) / 2.0)
    hinges, films = _hinge_units(topology, geometry, build, hinge, pairs, inner), []
    if slack.any():
        hinges = _of_owners(hinges, np.flatnonzero(~slack))
        films = [_film_units(topology, geometry, build, np.flatnonzero(slack), film)]
    latches = _latch_units(topology, geometry, build, latch)
    parts = [hinges, *films, latches, _mount_units(geometry, mount)]
    units = Units(
        **{n: np.concatenate([getattr(p, n) for p in parts]) for n in ("panels", "owner", "kind")},
        **{
            n: np.concatenate([getattr(p, n) for p in parts], axis=1)
            for n in ("at", "axes", "stiffness", "sigma", "feet", "pad_radius")
        },
    )
    short = (lines[:, ~slack] / np.maximum(room, 1e-9)[:, None]).min(axis=1, initial=np.inf) - 1.0
    status = status.require(short, "a hinge line is too short for its hinge units")
    status = status.require(_feet_slack(units, geometry), "a panel is too narrow for the pads of its joints")
    turn = np.abs(geometry.stowed_angle).max(axis=1, initial=0.0)
    status = status.require(
        hinge.largest_angle / np.maximum(turn, 1e-9) - 1.0 + 1e-9, "the hinge kind cannot turn as far as the fold asks"
    )
    status = status.require(
        build.edge_gap / np.maximum(hinge.least_gap, 1e-9) - 1.0 + 1e-9, "the edge gap is too narrow for the hinge kind"
    )
    fittings = lay_fittings(topology, geometry, build, hinges, latches, latch)
    flexing = np.where(geometry.slack > 0.0, 0.0, hinge.stress_ratio(np.abs(geometry.stowed_angle)))
    there = latches.stiffness.any(axis=-1) if latch is not None else np.zeros((geometry.rows, 0), dtype=bool)
    masses = JointMasses(
        hinge=np.where(
            slack, film.film_mass(lines, _film_length(geometry, build)), 2.0 * pairs * np.asarray(hinge.mass)[:, None]
        ),
        latch=np.where(there, latch.mass if latch is not None else 0.0, 0.0),
        mount=np.full(geometry.rows, mount.mass),
    )
    return Hardware(units, fittings, masses, _turns(geometry, build, hinge, pairs, film), flexing, status)


def _frames(line: Floats) -> Floats:
    """Unit axes [..., 3, 3] of lines [..., 2, 3] in the plane: rows along, across (= z x along), z."""
    out = np.zeros((*line.shape[:-2], 3, 3))
    along = unit(line[..., 1, :] - line[..., 0, :])
    out[..., 0, :] = along
    out[..., 1, 0], out[..., 1, 1] = -along[..., 1], along[..., 0]
    out[..., 2, 2] = 1.0
    return out


def _feet(at: Floats, axes: Floats, inset: Floats) -> Floats:
    """Feet [B, U, 2, 2]: inset [B, U] m to either side of the line."""
    across, out = axes[..., 1, :2] * inset[..., None], np.empty((*at.shape[:-1], 2, 2))
    out[..., 0, :], out[..., 1, :] = at[..., :2] - across, at[..., :2] + across
    return out


def _farther_in(topology: Topology, geometry: Geometry, build: Build, hinge: JointNumbers, spare: Floats) -> Floats:
    """How much farther from the ends of its line each hinge's units sit [B, H], m, so that their pads find room.

    Where the circle cuts a panel's ends its edge runs at a slant to the hinge line, and the outer foot comes too
    close to it. Moved by e along the line a foot gains e times the sine between the two, so e is what is short over
    that sine, and at most spare [B, H]. Where hinges have slots of their own all move alike: their units stay apart.
    """
    axes = _frames(geometry.axis)
    along, across = axes[..., 0, :2], axes[..., 1, :2]
    from_end = END_MARGIN + build.unit_width * (SLOT_PITCH * topology.slot[:, None] + 0.5)
    inset = (build.edge_gap / 2.0 + INWARD * hinge.pad_radius)[:, None, None]
    asked: Floats = np.zeros(spare.shape)
    normals, reals = _edges(geometry.outline)
    needed = PAD_NEEDS * np.asarray(hinge.pad_radius)[:, None, None]
    for side, sign in ((0, -1.0), (1, 1.0)):
        panels = topology.hinges[:, side]
        outline, normal, real = geometry.outline[:, panels], normals[:, panels], reals[:, panels]
        for end, way in ((0, along), (1, -along)):
            foot = geometry.axis[:, :, end, :2] + from_end.T[..., None] * way + sign * inset * across
            short = needed - _beyond(foot[:, :, None], outline, normal)
            sine = way[:, :, None, 0] * normal[..., 0] + way[:, :, None, 1] * normal[..., 1]
            use = real & (sine > SLANTED) & (short > 0.0)
            if use.any():
                asked = np.maximum(asked, np.where(use, short / np.where(use, sine, 1.0), 0.0).max(axis=2))
    if int(topology.slot.max(initial=0)) > 0:
        asked = np.broadcast_to(asked.max(axis=1, keepdims=True), spare.shape)
    return np.asarray(np.minimum(asked, spare))


def _edges(outline: Floats) -> tuple[Floats, Bools]:
    """Inward unit normals [..., V, 2] of the edges of outlines [..., V, 2], and which edges have a length."""
    step = ahead(outline) - outline
    return unit(quarter_turn(step)), np.asarray(np.maximum(np.abs(step[..., 0]), np.abs(step[..., 1])) > 1e-9)


def _beyond(points: Floats, outline: Floats, normal: Floats) -> Floats:
    """How far points lie inside the edges that begin at corners of an outline: (point - corner) . normal."""
    x, y = points[..., 0] - outline[..., 0], points[..., 1] - outline[..., 1]
    return np.asarray(x * normal[..., 0] + y * normal[..., 1])


def _hinge_units(
    topology: Topology, geometry: Geometry, build: Build, hinge: JointNumbers, pairs: int, inner: Floats
) -> Units:
    """2 * pairs units a hinge, in pairs mirrored about the middle of its line, inner [B, H] m farther in than its ends
    allow."""
    rows, count = geometry.axis.shape[0], geometry.axis.shape[1]
    slots = int(topology.slot.max(initial=0)) + 1
    place = topology.slot[:, None] + slots * np.arange(pairs)[None, :]
    from_end = END_MARGIN + build.unit_width[:, None, None] * (SLOT_PITCH * place[None] + 0.5) + inner[..., None]
    offset = pair(from_end, _lengths(geometry)[..., None] - from_end).reshape(rows, count, 2 * pairs)
    axes = _frames(geometry.axis)
    at = geometry.axis[:, :, None, 0] + offset[..., None] * axes[:, :, None, 0]
    number = 2 * pairs
    flat = at.reshape(rows, count * number, 3)
    axes = np.repeat(axes, number, axis=1)
    inset = np.repeat((build.edge_gap / 2.0 + INWARD * hinge.pad_radius)[:, None], count * number, axis=1)
    return Units(
        panels=np.repeat(topology.hinges, number, axis=0),
        owner=np.repeat(np.arange(count), number),
        kind=np.zeros(count * number, dtype=np.int64),
        at=flat,
        axes=axes,
        stiffness=np.repeat(hinge.stiffness[:, None], count * number, axis=1),
        sigma=np.repeat(hinge.sigma[:, None], count * number, axis=1),
        feet=_feet(flat, axes, inset),
        pad_radius=np.repeat(np.asarray(hinge.pad_radius)[:, None], count * number, axis=1),
    )


def _of_owners(units: Units, owners: Ints) -> Units:
    """The units of these joints only."""
    mine = np.isin(units.owner, owners)
    plain = (units.panels[mine], units.owner[mine], units.kind[mine])
    columns = (units.at, units.axes, units.stiffness, units.sigma, units.feet, units.pad_radius)
    return Units(*plain, *(c[:, mine] for c in columns))


def _lengths(geometry: Geometry) -> Floats:
    """[B, H] m of the hinge lines."""
    return norm(geometry.axis[:, :, 1] - geometry.axis[:, :, 0])


def _film_length(geometry: Geometry, build: Build) -> Floats:
    """Free length [B, H] m of membranes: the gap that they span and the slack."""
    return geometry.slack + build.edge_gap[:, None]


def _film_units(topology: Topology, geometry: Geometry, build: Build, which: Ints, film: Membrane) -> Units:
    """One unit in the middle of each hinge line that a membrane stands for: bending about the line, and no more."""
    line = geometry.axis[:, which]
    rows, count = line.shape[:2]
    at, axes = line.mean(axis=-2), _frames(line)
    stiffness = np.zeros((rows, count, 6))
    free = _film_length(geometry, build)[:, which]
    stiffness[..., 3] = film.bending_stiffness(_lengths(geometry)[:, which], free)
    inset = np.repeat((build.edge_gap / 2.0 + INWARD * film.bond)[:, None], count, axis=1)
    return Units(
        panels=topology.hinges[which].reshape(-1, 2),
        owner=which,
        kind=np.zeros(count, dtype=np.int64),
        at=at,
        axes=axes,
        stiffness=stiffness,
        sigma=np.zeros((rows, count, 6)),
        feet=_feet(at, axes, inset),
        pad_radius=np.full((rows, count), film.bond),
    )


def _turns(geometry: Geometry, build: Build, hinge: JointNumbers, pairs: int, film: Membrane) -> TurnLaw:
    """Law [B, H] of each hinge, all its units together; a membrane's film only bends, about its flat state."""
    slack = geometry.slack > 0.0
    held = hinge.turn.times(2.0 * pairs).columns(geometry.slack.shape)
    if not slack.any():
        return held
    rate = film.bending_stiffness(_lengths(geometry), _film_length(geometry, build))
    return held.where(slack, TurnLaw(flexure_rate=rate, largest_angle=np.pi))


def _latch_units(topology: Topology, geometry: Geometry, build: Build, latch: JointKind | None) -> Units:
    """One unit in the middle of each free edge that is long enough."""
    rows = geometry.rows
    edges = geometry.latch_edge if latch is not None else np.zeros((rows, 0, 2, 2))
    count = edges.shape[1]
    z = -np.broadcast_to(geometry.thickness[:, None, None, None] / 2.0, (rows, count, 2, 1))
    line = np.concatenate([edges, z], axis=-1)
    at, axes = line.mean(axis=-2), _frames(line)
    length = np.linalg.norm(line[..., 1, :] - line[..., 0, :], axis=-1)
    pad = latch.pad_radius if latch is not None else 1.0
    there = length >= ((latch.width if latch is not None else 0.0) + 2.0 * END_MARGIN)
    there = there & (length >= 2.0 * pad)
    six = np.array(latch.stiffness if latch is not None else [0.0] * 6)
    sigma = np.array(latch.sigma if latch is not None else [0.0] * 6)
    inset = np.repeat((build.edge_gap / 2.0 + INWARD * pad)[:, None], count, axis=1)
    return Units(
        panels=topology.latchable[:count].reshape(-1, 2),
        owner=np.arange(count),
        kind=np.ones(count, dtype=np.int64),
        at=at,
        axes=axes,
        stiffness=there[..., None] * six,
        sigma=there[..., None] * sigma,
        feet=_feet(at, axes, inset),
        pad_radius=np.full((rows, count), pad),
    )


def _mount_units(geometry: Geometry, mount: JointKind) -> Units:
    """The mount as one six-way unit on the back of the root at its centre of area, its pad the ring of its feet.

    A root panel too narrow for the ring gets a smaller one, down to LEAST_RING of it. The struts keep their lean, so
    forces pass as before, while moments and tilts go by arms of the ring's radius r: stiffness
    about each axis as r^2, errors as 1 / r (statics of three bipods, derived).
    """
    plan = centroid(geometry.outline[:, 0])[:, None]
    rows = geometry.rows
    room = _inside(plan, geometry.outline[:, :1])[:, 0] / (PAD_NEEDS * mount.pad_radius)
    share = np.clip(room, LEAST_RING, 1.0)[:, None]
    turning = np.array([False, False, False, True, True, True])
    return Units(
        panels=np.array([[0, SPACECRAFT]]),
        owner=np.zeros(1, dtype=np.int64),
        kind=np.full(1, 2, dtype=np.int64),
        at=np.concatenate([plan, -geometry.thickness[:, None, None]], axis=-1),
        axes=np.broadcast_to(np.eye(3), (rows, 1, 3, 3)).copy(),
        stiffness=(np.where(turning, share**2, 1.0) * np.array(mount.stiffness))[:, None],
        sigma=(np.where(turning, 1.0 / share, 1.0) * np.array(mount.sigma))[:, None],
        feet=np.stack([plan, plan], axis=-2),
        pad_radius=mount.pad_radius * share,
    )


def _inside(points: Floats, outline: Floats) -> Floats:
    """Least distance [B, U] of points [B, U, 2] to the edges of their outlines [B, U, V, 2]; negative outside."""
    normal, real = _edges(outline)
    return np.asarray(np.where(real, _beyond(points[:, :, None], outline, normal), np.inf).min(axis=2))


def _feet_slack(units: Units, geometry: Geometry) -> Column:
    """Least distance [B] from a foot to the edges of its panel over what a pad needs, less one."""
    worst = np.full(geometry.rows, np.inf)
    live = np.asarray(units.stiffness.any(axis=-1))
    normal, real = _edges(geometry.outline)
    for side in (0, 1):
        known = np.asarray(units.panels[:, side] >= 0)
        panel = units.panels[known, side]
        inside = _beyond(units.feet[:, known, side, None], geometry.outline[:, panel], normal[:, panel])
        slack = np.where(real[:, panel], inside, np.inf).min(axis=2) / units.pad_radius[:, known]
        worst = np.minimum(worst, np.where(live[:, known], slack, np.inf).min(axis=1, initial=np.inf))
    return np.clip(worst / PAD_INSIDE - 1.0, -10.0, 10.0)
