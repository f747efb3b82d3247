"""Launch: the worst panels of the stowed pack on their hold-downs, and the stack that they make together.

The pack is clamped through pads at the same places of every panel, so each panel is a free plate on stiff springs,
and the layers stand on each other's pads (see stack). Panels touch nowhere else: how far deflection closes the gap is
told. The load is quasi-static and normal to the faces. What sits on a panel (fittings, half of each of its
joints, lumps) is smeared over it.
"""

from dataclasses import dataclass

import numpy as np

from synth.core import polygon
from synth.core.arrays import Bools, Column, Floats, cross2, norm, pick, quarter_turn
from synth.core.design import Design
from synth.core.status import Status
from synth.structure.elimination import inverse_factor
from synth.structure.loads import STANDARD_GRAVITY
from synth.structure.monomials import MonomialPlates
from synth.structure.section import Section
from synth.structure.stack import PAD_NORMAL, stack

DEGREE = 6
WORST = 2
"""Panels worked out for each candidate in the search: the softest by m R^2 / D, R the reach from centroid to farthest
corner. The record has all."""
INSET = 0.8
"""Hold-down points: on the rays from the centroid to the corners of the smallest enclosing rectangle, this share of
the way to the outline; two more on its long sides where the rectangle is longer than LONG times its width."""
LONG = 2.0
RESTRAINT_STIFFNESS = PAD_NORMAL
"""N/m a hold-down point, normal to the face."""
PAD_SHARE = 0.05
"""Pad radius over the square root of the panel's area."""


SHARES = np.array([0.25, 0.5, 0.75, 0.95, 1.0])[:, None, None]
"""Places on the rays from a centroid to corners and sides where stress is read."""


@dataclass(frozen=True, eq=False)
class Launch:
    """Columns [B], the worst panel of each candidate. SI.

    first_mode_hz: lowest frequency of the stack, panels bending. deflection: greatest static deflection of a panel
    between its hold-downs, m. stress_ratio: peak bending stress under the quasi-static load over the allowable
    (strength over its factor of safety). preload: least force at each hold-down that keeps the stack seated, N.
    """

    first_mode_hz: Column
    deflection: Column
    stress_ratio: Column
    preload: Column
    status: Status


def launch(design: Design, made: Section, load_g: float, worst: int = WORST) -> Launch:
    """Stowed stack of B candidates under load_g standard gravities normal to the panels.

    Frequency: 1 / omega^2 of the softest panel on its own pads plus what the stack below adds, a bound from below of
    the two together (Dunkerley); or the sideways stack, if that is lower.
    Face stress = stress_per_moment x greatest principal bending moment at sample points (supports, centre, rays
    to corners and sides). Ritz of degree 6 on springs: frequencies are upper bounds of this model, moments near
    hold-downs are smoothed (3.7 % high in the middle of a strip held at 0.8). A row that cannot be worked out has a
    status, frequency 0 and stress ratio 10. worst: so many of the softest panels are worked out (the record: all).
    """
    mass = carried_mass(design)
    ok = _usable(design, mass)
    status = Status.fine(design.rows).require(np.where(ok, 0.0, -1.0), "a panel has no area, mass or stiffness")
    first, deflection, ratio = np.zeros(design.rows), np.zeros(design.rows), np.full(design.rows, 10.0)
    preload = np.zeros(design.rows)
    rows = np.flatnonzero(ok)
    if len(rows):
        whole = stack(design, mass[rows], load_g)
        outline, mass, stiff = _worst(design.geometry.outline[rows], mass[rows], design.panels.stiffness[rows], worst)
        plates = MonomialPlates(outline, DEGREE)
        points, held = hold_downs(outline, plates.centre)
        stiffness = _supported(plates, points, held, stiff, design.panels.poisson[rows])
        root = inverse_factor(stiffness)
        panel = _slowness(root, mass, plates).max(axis=1)
        slow = np.maximum(panel + whole.normal, whole.lateral)
        first[rows], preload[rows] = 1.0 / (2.0 * np.pi * np.sqrt(slow)), whole.preload
        weight = (mass * load_g * STANDARD_GRAVITY)[..., None] * plates.forms.first
        shape = (np.swapaxes(root, -1, -2) @ (root @ weight[..., None]))[..., 0]
        bent, curvature = plates.bent(_samples(outline, plates.centre, points), shape)
        moment = _moments(curvature, stiff, design.panels.poisson[rows])
        deflection[rows] = np.abs(bent).max(axis=(1, 2))
        ratio[rows] = made.stress_per_moment[rows] * moment.max(axis=1) / made.allowable[rows]
    return Launch(first, deflection, ratio, preload, status)


def carried_mass(design: Design) -> Floats:
    """Mass [B, P] of each panel with its fittings, lumps and half of each of its joints."""
    where, what = [], []
    for joints, masses in (
        (design.topology.hinges, design.joint_masses.hinge),
        (design.topology.latchable, design.joint_masses.latch),
    ):
        for side in (0, 1):
            where.append(joints[: masses.shape[1], side])
            what.append(0.5 * masses)
    where += [design.fittings.panel, design.lumps_panel]
    what += [design.fittings.mass, design.lumps_mass]
    sits = np.concatenate(where)[:, None] == np.arange(design.topology.panels)
    return np.asarray(design.panels.mass + np.concatenate(what, axis=1) @ sits.astype(np.float64))


def _usable(design: Design, mass: Floats) -> Bools:
    good = np.isfinite(design.geometry.outline).all(axis=(1, 2, 3))
    for floor, values in ((1e-6, polygon.area(design.geometry.outline)), (1e-6, mass), (1e-9, design.panels.stiffness)):
        good &= (values > floor).all(axis=1) & np.isfinite(values).all(axis=1)
    return np.asarray(good)


def _worst(outline: Floats, mass: Floats, stiff: Floats, count: int) -> tuple[Floats, Floats, Floats]:
    """Outlines, masses and stiffnesses of the `count` softest panels of each candidate."""
    reach = outline - polygon.centroid(outline)[..., None, :]
    index = mass * (reach[..., 0] ** 2 + reach[..., 1] ** 2).max(axis=-1) / stiff
    pick = np.argsort(-index, axis=1, kind="stable")[:, :count]
    rows = np.arange(len(outline))[:, None]
    return outline[rows, pick], mass[rows, pick], stiff[rows, pick]


def hold_downs(outline: Floats, centre: Floats) -> tuple[Floats, Floats]:
    """Hold-down points [B, P, 6, 2] and 1 or 0 [B, P, 6] where one is used, of convex outlines [B, P, V, 2]."""
    step = polygon.ahead(outline) - outline
    length = norm(step)
    u = step / np.where(length > 1e-9, length, 1.0)[..., None]
    v = quarter_turn(u)
    along, across = u @ np.swapaxes(outline, -1, -2), v @ np.swapaxes(outline, -1, -2)
    ends = along.min(axis=-1), along.max(axis=-1), across.min(axis=-1), across.max(axis=-1)
    size = (ends[1] - ends[0]) * (ends[3] - ends[2])
    best = np.where(length > 1e-9, size, np.inf).argmin(axis=-1)
    low_a, high_a, low_c, high_c = (pick(values, best)[..., None] for values in ends)
    u, v = (np.take_along_axis(w, best[..., None, None], axis=-2) for w in (u, v))
    sides = high_a - low_a, high_c - low_c
    middle_a, middle_c = 0.5 * (low_a + high_a), 0.5 * (low_c + high_c)
    wide = sides[0] >= sides[1]
    a = np.concatenate([low_a, high_a, high_a, low_a, *(np.where(wide, middle_a, end) for end in (low_a, high_a))], -1)
    c = np.concatenate([low_c, low_c, high_c, high_c, *(np.where(wide, end, middle_c) for end in (low_c, high_c))], -1)
    long = np.maximum(*sides) > LONG * np.minimum(*sides)
    used = np.concatenate([np.ones_like(a[..., :4]), np.repeat(long, 2, axis=-1)], axis=-1)
    ray = a[..., None] * u + c[..., None] * v - centre[..., None, :]
    return centre[..., None, :] + INSET * _to_outline(outline, centre, ray) * ray, used


def _to_outline(outline: Floats, centre: Floats, ray: Floats) -> Floats:
    """Factor [B, P, R, 1] that brings rays [B, P, R, 2] from the centre to the outline."""
    step = polygon.ahead(outline) - outline
    reach = cross2(outline - centre[..., None, :], step)
    speed = cross2(ray[..., None, :], step[..., None, :, :])
    ahead = speed > 1e-12 * np.maximum(np.abs(speed).max(axis=-1, keepdims=True), 1e-300)
    factor = np.where(ahead, reach[..., None, :] / np.where(ahead, speed, 1.0), np.inf).min(axis=-1)
    return np.where(np.isfinite(factor), factor, 0.0)[..., None]


def _supported(plates: MonomialPlates, points: Floats, held: Floats, stiff: Floats, poisson: Column) -> Floats:
    """Stiffness [B, P, N, N] of the plates on their hold-down springs."""
    rows, panels, count = held.shape
    where = np.repeat(np.arange(panels), count)
    radius = PAD_SHARE * np.sqrt(plates.forms.area)
    spread = np.repeat(radius, count, axis=1)
    value, _ = plates.at_feet(where, points.reshape(rows, -1, 2), spread)
    value = value.reshape(rows, panels, count, -1)
    springs = np.swapaxes(value, -1, -2) @ (value * (RESTRAINT_STIFFNESS * held)[..., None])
    return np.asarray(plates.bending(stiff, poisson) + springs)


def _slowness(root: Floats, mass: Floats, plates: MonomialPlates) -> Floats:
    """Greatest 1 / omega^2 [B, P] of K - omega^2 m (mean w w), s^2; root: inverse of the Cholesky factor of K."""
    flexibility = root @ plates.forms.square @ np.swapaxes(root, -1, -2)
    return np.asarray(mass * np.linalg.eigvalsh(flexibility)[..., -1])


def _moments(curvature: Floats, stiff: Floats, poisson: Column) -> Floats:
    """Greatest principal bending moment [B, P] a unit width (N), in size, from curvatures [3, B, P, S] (xx, yy, xy)."""
    xx, yy, xy = curvature
    nu = poisson[:, None, None]
    mean, differ = 0.5 * (1.0 + nu) * (xx + yy), 0.5 * (1.0 - nu) * (xx - yy)
    principal = np.abs(mean) + np.hypot(differ, (1.0 - nu) * xy)
    return np.asarray(stiff * principal.max(axis=-1))


def _samples(outline: Floats, centre: Floats, points: Floats) -> Floats:
    """Points [B, P, S, 2] where moments and deflections are read."""
    ends = np.concatenate([outline, 0.5 * (outline + polygon.ahead(outline))], axis=-2)
    middle = centre[..., None, :]
    rays = middle[..., None, :] + SHARES * (ends - middle)[..., None, :, :]
    return np.concatenate([middle, points, rays.reshape(*middle.shape[:-2], -1, 2)], axis=-2)
