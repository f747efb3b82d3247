"""What turns the hinges on the way: torque at every angle, margins, energy and speed at latch-up."""

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np

from synth.core.arrays import Column, Floats, norm, quarter_turn
from synth.core.design import Design
from synth.core.polygon import area, centroid, moments
from synth.core.turning import TurnLaw
from synth.structure.stowed import carried_mass
from synth.structure.torque import Resistances, margins

HARNESS_TORQUE = 0.005
"""N m: greatest torque of the harness loop over a hinge, at either end of its turn (four thin twisted pairs; common
practice, order of magnitude: harness torque is to be measured)."""
HARNESS_HYSTERESIS = 0.1
"""Share of that which is hysteresis (ratio of the worked example of the ECSS form)."""
COLD_FRICTION, COLD_HARNESS, HOT_SPRING = 1.5, 1.5, 0.97
"""Cold: friction and harness over their room values; hot: what is left of springs (common practice, to be measured)."""
STAGE_SECONDS = 60.0
"""s that a damped stage takes (common practice for viscous dampers)."""
PEAK_ACCELERATION, PEAK_RATE = 10.0 / np.sqrt(3.0), 1.875
"""Of the smoothest rest-to-rest turn (quintic): greatest acceleration angle / time^2, rate angle / time (derived)."""
STATIONS = 13


@dataclass(frozen=True, eq=False)
class Turning:
    """Torques [B, H, S] on S angles of each hinge from stowed to its end of travel, N m; angle rad, magnitudes.

    supplied: springs, and bent parts where they drive. inertia [B, H] kg m^2: of all that the hinge carries, deployed.
    moving [B, H]: whether the hinge turns at all.
    """

    angle: Floats
    supplied: Floats
    resisting: Resistances
    inertia: Floats
    moving: Floats


@dataclass(frozen=True, eq=False)
class Drive:
    """Columns [B]. ratio: least of both standards' margins + 1 over hinges (or the loop as one) and angles, cold and
    hot. energy: greatest stored energy that one latch-up may find, J. ecss, nasa [B, H]: least margin of each hinge."""

    ratio: Column
    energy: Column
    ecss: Floats
    nasa: Floats


def moved_inertia(design: Design, mass: Floats) -> Floats:
    """Inertia [B, H] about each hinge line of all panels that hang on it, deployed: the most that it ever turns.

    mass [B, P]: panels with all they carry, spread over the panel as a slab. Closing hinges of loops: of their panel j.
    I = sum m (i^2 + (d . a)^2 + (z - h)^2 + t^2 / 12) with a the plan normal of the line, i^2 the plan's second moment
    across it over its area (parallel axes, elementary).
    """
    outline, t = design.geometry.cut, design.geometry.thickness
    middle = centroid(outline)
    second = moments(outline, middle) / np.maximum(area(outline), 1e-12)[..., None]
    axis = design.geometry.axis
    along = axis[:, :, 1, :2] - axis[:, :, 0, :2]
    across = quarter_turn(along / np.maximum(norm(along), 1e-12)[..., None])
    height = 0.5 * (axis[:, :, 0, 2] + axis[:, :, 1, 2]) + 0.5 * t[:, None]
    closing = design.topology.closing
    carried = _carried(tuple(design.topology.parent.tolist()), tuple(closing[:, 1].tolist()) if len(closing) else ())
    flat = (mass / 12.0) * t[:, None] ** 2
    xx, xy, yy = (mass * (second[..., k] + middle[..., a] * middle[..., b]) for k, (a, b) in
                  enumerate(((0, 0), (0, 1), (1, 1))))  # fmt: skip
    sums = np.stack([mass, mass * middle[..., 0], mass * middle[..., 1], xx, xy, yy, flat])
    m, mx, my, sxx, sxy, syy, slab = sums @ carried.T
    ax, ay = across[..., 0], across[..., 1]
    offset = axis[:, :, 0, 0] * ax + axis[:, :, 0, 1] * ay
    squared = ax**2 * sxx + 2.0 * ax * ay * sxy + ay**2 * syy - 2.0 * offset * (ax * mx + ay * my) + m * offset**2
    return np.asarray(squared + m * height**2 + slab)


@lru_cache(maxsize=256)
def _carried(parent: tuple[int, ...], closed: tuple[int, ...]) -> Floats:
    """1 where panel p hangs on hinge h, [H, P]; closed: the second panels of hinges that close loops."""
    panels = len(parent)
    out = np.zeros((panels - 1 + len(closed), panels))
    for p in range(1, panels):
        q = p
        while q > 0:
            out[q - 1, p] = 1.0
            q = parent[q]
    for h, j in enumerate(closed, start=panels - 1):
        out[h, j] = 1.0
    return out


def turning(design: Design, mass: Floats, angle: Floats | None = None) -> Turning:
    """Torques of all hinges; angle [B, H, S] magnitudes, default from stowed to the end of travel in even steps.

    The end of travel is deployed, or where a tape snaps straight (it holds itself from there: what angles beyond it are
    given count as the end, in loops too). Harness: a loop that is
    at rest half way and pulls back to there, HARNESS_TORQUE at both ends; what helps is not credited, as is hysteresis.
    """
    law, stowed = design.turns, np.abs(design.geometry.stowed_angle)
    shape = stowed.shape
    end = np.where(np.broadcast_to(law.peak_moment, shape) > 0.0, np.broadcast_to(law.peak_angle, shape), 0.0)
    end = np.minimum(end, stowed)  # a tape that is hardly folded, or not at all, does not snap
    if angle is None:
        share = np.linspace(1.0, 0.0, STATIONS)
        angle = end[..., None] + np.maximum(stowed - end, 0.0)[..., None] * share
    angle = np.maximum(angle, end[..., None])
    inertia = moved_inertia(design, mass)
    bent = law.restoring(angle)
    pull = HARNESS_TORQUE * np.clip(1.0 - 2.0 * angle / np.maximum(stowed, 1e-9)[..., None], 0.0, 1.0)
    still = np.zeros_like(angle)
    accelerated = (inertia * PEAK_ACCELERATION * stowed / STAGE_SECONDS**2)[..., None] + still
    resisting = Resistances(
        spring=np.maximum(-bent, 0.0),
        friction=law.resisting(angle),
        hysteresis=HARNESS_HYSTERESIS * HARNESS_TORQUE + still,
        harness=pull,
        inertia=accelerated,
    )
    supplied = np.maximum(law.spring(angle), 0.0) + np.maximum(bent, 0.0)
    return Turning(angle, supplied, resisting, inertia, (stowed > 1e-6).astype(np.float64))


def cold(t: Turning) -> Turning:
    """The same torques cold."""
    r = t.resisting
    return replace(t, resisting=replace(r, friction=COLD_FRICTION * r.friction, harness=COLD_HARNESS * r.harness,
                                        hysteresis=COLD_HARNESS * r.hysteresis))  # fmt: skip


def hot(t: Turning) -> Turning:
    """The same torques hot."""
    return replace(t, supplied=HOT_SPRING * t.supplied)


def together(t: Turning, rates: Floats) -> Turning:
    """Hinges of loops as the one mechanism that they are: torques times rates [B, H, S], summed (virtual power)."""

    def summed(torque: Floats) -> Floats:
        return np.asarray((torque * rates).sum(axis=1, keepdims=True))

    r = t.resisting
    added = Resistances(*(summed(v) for v in (r.spring, r.friction, r.hysteresis, r.harness, r.inertia)))
    return replace(t, supplied=summed(t.supplied), resisting=added, moving=t.moving.max(axis=1, keepdims=True))


def coupled(design: Design) -> bool:
    """Whether hinges hold each other (loops): then they drive each other too."""
    return len(design.topology.closing) > 0 or bool((design.geometry.slack > 0.0).any())


def judged(t: Turning, rates: Floats | None = None) -> tuple[Floats, Floats]:
    """Least (ECSS, NASA) margins [B, H] over angles, the worse of cold and hot; one column where rates couple them."""
    whole = t if rates is None else together(t, rates)
    cases = [margins(k.supplied, k.resisting) for k in (cold(whole), hot(whole))]
    moves = np.repeat(whole.moving[..., None] > 0.0, whole.angle.shape[-1], axis=-1)
    if rates is not None:
        moves = moves & (rates.sum(axis=1, keepdims=True) > 1e-6)  # between stages nothing is asked of the loop
    ecss, nasa = (np.where(moves, np.minimum(a, b), STILL_MARGIN).min(axis=-1) for a, b in zip(*cases, strict=True))
    return np.asarray(ecss), np.asarray(nasa)


STILL_MARGIN = 99.0
"""Margin of a hinge that does not turn."""


def drive(design: Design, way: Floats | None = None) -> Drive:
    """Torque margins and latch-up energy of B candidates.

    Each hinge of a tree by itself, deployed inertia beyond it. Hinges of loops as one mechanism: virtual power along
    way [B, H, S], angles of the path at growing s, or in proportion to their stowed angles where it is not given; its
    inertia is the sum over the tree (too much, never too little). Stored energy is what springs and bent parts give
    back from stowed to deployed without friction or damper: each hinge of a tree by itself, loops summed.
    """
    stowed, bound = np.abs(design.geometry.stowed_angle), coupled(design)
    t = turning(design, carried_mass(design), np.abs(way) if bound and way is not None else None)
    rates = None
    if bound:
        rates = np.repeat(stowed[..., None], t.angle.shape[-1], axis=-1)
        if way is not None:
            rates = np.abs(np.gradient(way, axis=-1))
    ecss, nasa = judged(t, rates)
    worst = np.minimum(ecss, nasa).min(axis=1, initial=STILL_MARGIN)
    given = stored(design.turns, stowed)
    energy = given.sum(axis=1) if bound else given.max(axis=1, initial=0.0)
    return Drive(worst + 1.0, energy, ecss, nasa)


def stored(law: TurnLaw, stowed: Floats) -> Floats:
    """Energy [B, H] that springs and bent parts give back from stowed, J; none where the fold must be driven open."""
    return np.maximum(law.energy(stowed), 0.0)


def end_rate(energy: Floats, inertia: Floats) -> Floats:
    """Rate at the stop, rad/s, of a turn without friction or damper: sqrt(2 E / I) (energy balance, case
    deploy.end_rate)."""
    return np.asarray(np.sqrt(2.0 * np.maximum(energy, 0.0) / np.maximum(inertia, 1e-12)))


def damped_rate(stowed: Floats) -> Floats:
    """Greatest rate of a damped stage, rad/s."""
    return PEAK_RATE * stowed / STAGE_SECONDS
