"""Leaves and stand-off posts give way too: their bending is in series with the hinge unit that they carry."""

from dataclasses import replace

import numpy as np

from synth.core.arrays import Bools, Column, Floats, Ints
from synth.core.fittings import Fittings
from synth.core.joints import Units

MODULUS, POISSON = 6.89e10, 0.33
"""Pa and -: leaves are machined from aluminium 6061 (catalogue: modulus seen, Poisson's ratio from memory)."""
SHEAR_SHARE = 5.0 / 6.0
"""Shear area over area of a rectangle (elementary beam theory)."""


def on_posts(units: Units, fittings: Fittings, thickness: Column) -> Units:
    """Units whose hinge stiffness has the two posts in series that hold the axis off the faces of its panels.

    A post is the fitting of that hinge and panel that reaches farthest towards the axis: a cantilever from the face
    (z = 0 or z = -t, thickness t [B]) to the axis, L long, of the fitting's sides w along the edge and d across it.
    Each side adds to 1 / k

        along   4 L^3 / (E d w^3) + L / (5/6 G w d)         about the edge    12 L / (E w d^3)
        across  4 L^3 / (E w d^3) + L / (5/6 G w d)         about across      12 L / (E d w^3)
        z       L / (E w d)                                 about z           L / (G J)

    J = a b^3 (16/3 - 3.36 b/a (1 - b^4 / (12 a^4))), half sides a >= b (Roark table 10.7 case 4, within 0.19 % of
    Saint-Venant). Exact for moments. A force also turns the end of a cantilever, which six springs cannot tell: a
    force across the edge in the plane of the panels then finds the posts up to 4 times too soft, never too stiff.
    An axis within the thickness has no post; hinges without fittings (membranes) and other joints stay as they are.
    """
    rows = np.flatnonzero(units.kind == 0)
    if not len(rows) or not len(fittings.panel):
        return units
    table = _fittings_of(units, fittings, rows)
    known = (table >= 0).any(axis=(1, 2))
    rows, table = rows[known], table[known]
    if not len(rows):
        return units
    axis = units.at[:, rows, 2]
    t = thickness[:, None]
    length = np.maximum(np.maximum(axis, -t - axis), 0.0)
    give = np.zeros((*length.shape, 6))
    for side in (0, 1):
        wide, deep = _sides(units, fittings, rows, table[:, side], axis > -0.5 * t)
        give += _give(length, wide, deep)
    stiffness = units.stiffness.copy()
    stiffness[:, rows] = stiffness[:, rows] / (1.0 + stiffness[:, rows] * give)
    return replace(units, stiffness=stiffness)


def _fittings_of(units: Units, fittings: Fittings, rows: Ints) -> Ints:
    """Fittings [U', 2, N] of the hinge of each unit on its two panels, padded with -1."""
    found: dict[tuple[int, int], list[int]] = {}
    for f, (panel, hinge) in enumerate(zip(fittings.panel.tolist(), fittings.hinge.tolist(), strict=True)):
        found.setdefault((hinge, panel), []).append(f)
    pairs = [[found.get((h, p), []) for p in ends] for h, ends in zip(units.owner[rows], units.panels[rows].tolist(),
                                                                   strict=True)]  # fmt: skip
    most = max((len(one) for both in pairs for one in both), default=0)
    table = np.full((len(rows), 2, max(most, 1)), -1)
    for u, both in enumerate(pairs):
        for side, one in enumerate(both):
            table[u, side, : len(one)] = one
    return table


def _sides(units: Units, fittings: Fittings, rows: Ints, table: Ints, above: Bools) -> tuple[Floats, Floats]:
    """Sides [B, U'] along and across the edge of the fitting that reaches farthest towards the axis."""
    reach = np.where(above[..., None], fittings.z_front[:, table], -fittings.z_back[:, table])
    best = np.where(table >= 0, reach, -np.inf).argmax(axis=-1)
    pick = table[np.arange(len(table)), best]
    outline = fittings.outline[np.arange(len(pick))[:, None], pick]
    along = units.axes[:, rows, :2, :2] @ np.swapaxes(outline, -1, -2)
    extent = along.max(axis=-1) - along.min(axis=-1)
    return extent[..., 0], extent[..., 1]


def _give(length: Floats, wide: Floats, deep: Floats) -> Floats:
    """Flexibility [..., 6] of a cantilever post at its end, m/N and rad/(N m)."""
    w, d = np.maximum(wide, 1e-6), np.maximum(deep, 1e-6)
    shear = MODULUS / (2.0 * (1.0 + POISSON))
    a, b = 0.5 * np.maximum(w, d), 0.5 * np.minimum(w, d)
    torsion = a * b**3 * (16.0 / 3.0 - 3.36 * b / a * (1.0 - (b / a) ** 4 / 12.0))
    sheared = length / (SHEAR_SHARE * shear * w * d)
    return np.stack(
        [
            4.0 * length**3 / (MODULUS * d * w**3) + sheared,
            4.0 * length**3 / (MODULUS * w * d**3) + sheared,
            length / (MODULUS * w * d),
            12.0 * length / (MODULUS * w * d**3),
            12.0 * length / (MODULUS * d * w**3),
            length / (shear * torsion),
        ],
        axis=-1,
    )
