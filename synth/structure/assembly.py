"""From a design and a plate basis to the matrices of the deployed network, a whole batch at once.

Freedoms of a panel, N + 3: coefficients of its N deflection shapes, then shift u, v (m) of the mid-plane at the
centroid and turn theta (rad) about z. A unit is a six-way spring between the motions of its two leaves; a leaf
moves with the mean displacement and mean gradient of its panel's mid-plane over the pad, carried to the
unit's place by a rigid arm; rotations follow the gradient: rot_x = dw/dy, rot_y = -dw/dx.
"""

from dataclasses import dataclass

import numpy as np

from synth.core.arrays import Floats, Ints, cross2
from synth.core.design import Design
from synth.core.polygon import centroid
from synth.structure.elimination import Blocks
from synth.structure.forms import Forms, Plates
from synth.structure.loads import STANDARD_GRAVITY, Loads
from synth.structure.wiring import Wiring, grouped

BOW, GRAVITY, GROWTH = 0, 1, 2
"""Columns of the steady loads."""


@dataclass(frozen=True, eq=False)
class Network:
    """Matrices of B candidates. N' = N + 3 freedoms a panel.

    plate, inertia [B, P, N', N']: stiffness and mass of the free panels with what they carry (kg, m).
    rows [B, U, 2, 6, N']: relative motion of a unit, in its axes, for each freedom of its first and second panel
    (the first side counts negative; the spacecraft's side is zero). spring, sigma [B, U, 6]: stiffness and misfit.
    steady [B, P, N', 3]: loads of bow, of gravity release, and of growth with the free offsets of units.
    draw [U, 6]: number of the normal draw behind each misfit, out of `draws`; common causes share them.
    """

    wiring: Wiring
    forms: Forms
    plate: Floats
    inertia: Floats
    rows: Floats
    spring: Floats
    sigma: Floats
    steady: Floats
    draw: Ints
    draws: int

    @property
    def shared(self) -> bool:
        """Whether some misfits have a common cause."""
        return self.draws < self.draw.size

    def by_draw(self, values: Floats) -> Floats:
        """Sums [B, draws, R] over the misfits [B, 6 U, R] that share a draw."""
        if not self.shared:
            return values
        out = np.zeros((len(values), self.draws, values.shape[-1]))
        for k, number in enumerate(self.draw.reshape(-1).tolist()):
            out[:, number] += values[:, k]
        return out

    def blocks(self, weight: Floats, diagonal: Floats | None = None) -> Blocks:
        """Blocks by panel pair of sum over units of rows^T diag(weight [B, U, 6]) rows, plus a block diagonal."""
        wiring, shape = self.wiring, self.rows.shape
        rows, size = shape[0], shape[-1]
        nothing = np.zeros((rows, 1, 6, size))
        flat = np.concatenate([self.rows.reshape(rows, -1, 6, size), nothing], axis=1)
        heavy = flat * np.concatenate([np.repeat(weight, 2, axis=1), nothing[..., 0]], axis=1)[..., None]
        panels = wiring.sides.shape[0]
        own = flat[:, wiring.sides].reshape(rows, panels, -1, size)
        own_heavy = heavy[:, wiring.sides].reshape(rows, panels, -1, size)
        square = np.swapaxes(own, -1, -2) @ own_heavy
        if diagonal is not None:
            square = square + diagonal
        out: Blocks = {(p, p): square[:, p] for p in range(panels)}
        if wiring.pairs:
            low = np.minimum(2 * wiring.links + wiring.first, flat.shape[1] - 1)
            high = np.minimum(2 * wiring.links + 1 - wiring.first, flat.shape[1] - 1)
            left = flat[:, high].reshape(rows, len(wiring.pairs), -1, size)
            right = heavy[:, low].reshape(rows, len(wiring.pairs), -1, size)
            beside = np.swapaxes(left, -1, -2) @ right
            out.update({(j, i): beside[:, k] for k, (i, j) in enumerate(wiring.pairs)})
        return out

    def pull(self, force: Floats) -> Floats:
        """Generalised forces [B, P, N'] of unit forces [B, U, 6] in unit axes: rows^T force, summed by panel."""
        batch, size = self.rows.shape[0], self.rows.shape[-1]
        each = (force[:, :, None, None, :] @ self.rows).reshape(batch, -1, size)
        padded = np.concatenate([each, np.zeros((batch, 1, size))], axis=1)
        return np.asarray(padded[:, self.wiring.sides].sum(axis=2))

    def strain(self, motion: Floats) -> Floats:
        """Relative motion [B, U, 6, R] of every unit for panel motions [B, P, N', R]."""
        ends = self.wiring.panel.reshape(-1, 2)
        first, second = self.rows[:, :, 0] @ motion[:, ends[:, 0]], self.rows[:, :, 1] @ motion[:, ends[:, 1]]
        return np.asarray(first + second)


def assemble(design: Design, plates: Plates, loads: Loads) -> Network:
    """The network of a batch."""
    units, forms = design.units, plates.forms
    wiring = Wiring.of(units, design.topology.panels)
    burdened, _ = _lumps(design)
    carrying = np.concatenate([design.fittings.panel, burdened])
    where = np.concatenate([wiring.panel, carrying])
    feet, fitted = units.feet.reshape(design.rows, -1, 2), centroid(design.fittings.outline)
    held = nearest_inside(design.geometry.outline[:, design.fittings.panel], fitted)
    points = np.concatenate([held, forms.centre[:, burdened]], axis=1)
    pads, slopes = plates.at_feet(wiring.panel, feet, np.repeat(units.pad_radius, 2, axis=1))
    rest, lean = plates.at_feet(carrying, points, np.zeros(points.shape[:2]))
    # a fitting beyond the edge of its panel is carried rigidly from the nearest point of the outline
    last = fitted.shape[1]
    rest[:, :last] += ((fitted - held)[..., None, :] @ lean[:, :last])[..., 0, :]
    points[:, :last] = fitted
    place = np.concatenate([feet, points], axis=1)
    inertia, weight = _inertia(design, forms, where, place, np.concatenate([pads, rest], axis=1))
    draw, causes = units.draws()
    network = Network(
        wiring=wiring,
        forms=forms,
        plate=_framed(forms.bending(design.panels.stiffness, design.panels.poisson)),
        inertia=inertia,
        rows=_unit_rows(design, wiring, pads, slopes, forms),
        spring=units.stiffness,
        sigma=units.sigma,
        steady=np.zeros((*inertia.shape[:3], 3)),
        draw=draw,
        draws=6 * len(causes),
    )
    network.steady[..., GROWTH] = network.pull(units.stiffness * free_positions(design, forms))
    network.steady[..., :-3, GRAVITY] = STANDARD_GRAVITY * loads.gravity_release * weight
    network.steady[..., :-3, BOW] = bow_load(design, forms)
    return network


def bow_load(design: Design, forms: Forms) -> Floats:
    """Loads [B, P, N] of the free curvature of the panels: D (1 + nu) bow int (w_xx + w_yy) dA."""
    swing = design.panels.stiffness * forms.area * (design.panels.bow * (1.0 + design.panels.poisson))[:, None]
    return np.asarray(swing[..., None] * forms.laplace)


def free_positions(design: Design, forms: Forms) -> Floats:
    """Relative motion [B, U, 6] at which every unit is free of force: its own offset less what free growth brings."""
    wiring = Wiring.of(design.units, design.topology.panels)
    feet = design.units.feet.reshape(design.rows, -1, 2)
    return design.units.offset - _growth(design, wiring, feet, forms)


def nearest_inside(outline: Floats, point: Floats) -> Floats:
    """Nearest point [B, F, 2] of convex outlines [B, F, V, 2], counter-clockwise, to points; those inside stay."""
    step = np.roll(outline, -1, axis=-2) - outline
    away = point[..., None, :] - outline
    inside = np.asarray((cross2(step, away) >= 0.0).all(axis=-1))
    length2 = (step * step).sum(axis=-1)
    share = np.clip((step * away).sum(axis=-1) / np.where(length2 > 0.0, length2, 1.0), 0.0, 1.0)
    on_edge = outline + share[..., None] * step
    best = ((point[..., None, :] - on_edge) ** 2).sum(axis=-1).argmin(axis=-1)
    found = np.take_along_axis(on_edge, best[..., None, None], axis=-2)[..., 0, :]
    return np.where(inside[..., None], point, found)


def _framed(square: Floats) -> Floats:
    """Plate matrices [B, P, N, N] with three empty in-plane freedoms."""
    out = np.zeros((*square.shape[:2], square.shape[-1] + 3, square.shape[-1] + 3))
    out[..., :-3, :-3] = square
    return out


def _unit_rows(design: Design, wiring: Wiring, value: Floats, gradient: Floats, forms: Forms) -> Floats:
    """Motion of each side at the unit's place in the unit's axes, signed: [B, U, 2, 6, N']."""
    units, (batch, sides, shapes) = design.units, value.shape
    at = np.repeat(units.at, 2, axis=1)
    arm = at[..., :2] - units.feet.reshape(batch, sides, 2)
    rise = (at[..., 2] + 0.5 * design.panels.thickness[:, None])[..., None]
    from_centre = at[..., :2] - forms.centre[:, wiring.panel]
    out = np.zeros((batch, sides, 6, shapes + 3))
    out[..., 0:2, :-3] = -rise[..., None] * gradient
    out[..., 0, -3] = out[..., 1, -2] = out[..., 5, -1] = 1.0
    out[..., 0, -1], out[..., 1, -1] = -from_centre[..., 1], from_centre[..., 0]
    out[..., 2, :-3] = value + (arm[..., None, :] @ gradient)[..., 0, :]
    out[..., 3, :-3], out[..., 4, :-3] = gradient[..., 1, :], -gradient[..., 0, :]
    sign = np.where(np.arange(sides) % 2 == 0, -1.0, 1.0) * (1 - wiring.fixed)
    axes = np.repeat(units.axes, 2, axis=1)[:, :, None]
    turned = axes @ (out * sign[:, None, None]).reshape(batch, sides, 2, 3, -1)
    return turned.reshape(batch, sides // 2, 2, 6, -1)


def _growth(design: Design, wiring: Wiring, feet: Floats, forms: Forms) -> Floats:
    """Relative motion [B, U, 6] of the leaves when every panel grows freely about its centroid."""
    apart = design.panels.bulk_strain[:, None, None] * (feet - forms.centre[:, wiring.panel])
    apart *= (1 - wiring.fixed)[:, None]
    relative = apart[:, 1::2] - apart[:, 0::2]
    out = np.zeros((*relative.shape[:2], 6))
    out[..., :3] = np.einsum("buij,buj->bui", design.units.axes[..., :2], relative)
    return out


def _point_masses(design: Design) -> Floats:
    """Masses [B, 2 U + F + Q]: joints at their feet in equal shares (the mount's do not move), fittings, lumps."""
    units = design.units
    shares = np.zeros((design.rows, len(units.kind)))
    for kind, masses in ((0, design.joint_masses.hinge), (1, design.joint_masses.latch)):
        mine = np.flatnonzero(units.kind == kind)
        if len(mine):
            count = np.bincount(units.owner[mine], minlength=masses.shape[1])
            shares[:, mine] = masses[:, units.owner[mine]] / (2.0 * count[units.owner[mine]])
    return np.concatenate([np.repeat(shares, 2, axis=1), design.fittings.mass, _lumps(design)[1]], axis=1)


def _lumps(design: Design) -> tuple[Ints, Floats]:
    """Panels that carry point masses at their centroid, and the sum of those of each [B, panels]."""
    panels = np.unique(design.lumps_panel[design.lumps_panel >= 0])
    here = (design.lumps_panel[:, None] == panels).astype(np.float64)
    return panels, np.asarray(design.lumps_mass @ here)


def _inertia(design: Design, forms: Forms, where: Ints, place: Floats, value: Floats) -> tuple[Floats, Floats]:
    """Mass matrices [B, P, N', N'] and generalised masses along z [B, P, N]; no rotary inertia (thin plates)."""
    panels, own = design.topology.panels, design.panels.mass
    table = grouped(where, panels)
    mass = np.concatenate([_point_masses(design), np.zeros((design.rows, 1))], axis=1)[:, table]
    last = np.minimum(table, len(where) - 1)
    shape, away = value[:, last], place[:, last] - forms.centre[:, :, None]
    heavy = shape * mass[..., None]
    out = _framed(own[..., None, None] * forms.square + np.swapaxes(shape, -1, -2) @ heavy)
    first = np.einsum("bps,bpsk->bpk", mass, away)
    out[..., -3, -3] = out[..., -2, -2] = own + mass.sum(axis=-1)
    out[..., -3, -1] = out[..., -1, -3] = -first[..., 1]
    out[..., -2, -1] = out[..., -1, -2] = first[..., 0]
    out[..., -1, -1] = own * forms.polar + (mass * (away * away).sum(axis=-1)).sum(axis=-1)
    return out, own[..., None] * forms.first + heavy.sum(axis=2)
