"""From a design and a plate basis to the matrices of the deployed network, a whole batch at once.

Freedoms of a panel, N + 3: coefficients of its N deflection shapes, then shift u, v (m) of the mid-plane at the
centroid and turn theta (rad) about z. A unit is a six-way spring between the motions of its two leaves; a leaf
moves with the mean displacement and mean gradient of its panel's mid-plane over the pad, carried to the
unit's place by a rigid arm; rotations follow the gradient: rot_x = dw/dy, rot_y = -dw/dx.
"""

from dataclasses import dataclass

import numpy as np

from synth.core import polygon
from synth.core.arrays import Floats, Ints
from synth.core.design import Design
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
        """Blocks by panel pair of sum over units of rows^T diag(weight [B, U, 6]) rows, weights of zero or more, plus a
        block diagonal."""
        wiring, (batch, units, _, _, size) = self.wiring, self.rows.shape
        # both sides of a unit carry the root of its weight: what cancels does so to rounding
        half = (self.rows * np.sqrt(weight)[:, :, None, :, None]).reshape(batch, 2 * units, 6, size)
        out: Blocks = {}
        for panels, table in wiring.sides:
            own = half[:, table].reshape(batch, len(panels), -1, size)
            square = np.swapaxes(own, -1, -2) @ own
            out.update({(p, p): square[:, k] for k, p in enumerate(panels.tolist())})
        for p in range(wiring.panels):
            held = out.get((p, p))
            if diagonal is not None:
                out[p, p] = diagonal[:, p] if held is None else held + diagonal[:, p]
            elif held is None:
                out[p, p] = np.zeros((batch, size, size))
        for (pairs, low), (_, high) in zip(wiring.low, wiring.high, strict=True):
            left, right = (half[:, t].reshape(batch, len(pairs), -1, size) for t in (high, low))
            beside = np.swapaxes(left, -1, -2) @ right
            out.update({wiring.pairs[m][::-1]: beside[:, k] for k, m in enumerate(pairs.tolist())})
        return out

    def pull(self, force: Floats) -> Floats:
        """Generalised forces [B, P, N'] of unit forces [B, U, 6] in unit axes: rows^T force, summed by panel."""
        batch, size = self.rows.shape[0], self.rows.shape[-1]
        each = (force[:, :, None, None, :] @ self.rows).reshape(batch, -1, size)
        out = np.zeros((batch, self.wiring.panels, size))
        for panels, table in self.wiring.sides:
            out[:, panels] = each[:, table].sum(axis=2)
        return out

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
    feet, fitted = units.feet.reshape(design.rows, -1, 2), polygon.centroid(design.fittings.outline)
    held = nearest_inside(design.geometry.outline, design.fittings.panel, fitted)
    points = np.concatenate([held, forms.centre[:, burdened]], axis=1)
    pads = plates.pads(wiring.panel, feet, np.repeat(units.pad_radius, 2, axis=1))
    rest, lean = plates.at_feet(carrying, points, np.zeros(points.shape[:2]))
    # a fitting beyond the edge of its panel is carried rigidly from the nearest point of the outline
    last = fitted.shape[1]
    rest[:, :last] += ((fitted - held)[..., None, :] @ lean[:, :last])[..., 0, :]
    points[:, :last] = fitted
    place = np.concatenate([feet, points], axis=1)
    inertia, weight = _inertia(design, forms, where, place, np.concatenate([pads[..., 0, :], rest], axis=1))
    draw, causes = units.draws()
    network = Network(
        wiring=wiring,
        forms=forms,
        plate=_framed(plates.bending(design.panels.stiffness, design.panels.poisson)),
        inertia=inertia,
        rows=_unit_rows(design, wiring, pads, forms),
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


def nearest_inside(outline: Floats, panel: Ints, point: Floats) -> Floats:
    """Nearest point [B, F, 2] of convex outlines [B, P, V, 2], counter-clockwise, to points of panel [F]; those inside
    stay."""
    step = polygon.ahead(outline) - outline
    length2 = step[..., 0] ** 2 + step[..., 1] ** 2
    length2 = np.where(length2 > 0.0, length2, 1.0)
    found = np.empty_like(point)
    for panels, table in grouped(panel, outline.shape[1]):
        corner, way, size = outline[:, panels, None], step[:, panels, None], length2[:, panels, None]
        x, y = (point[:, table, k, None] - corner[..., k] for k in (0, 1))
        inside = (way[..., 0] * y - way[..., 1] * x >= 0.0).all(axis=-1)
        share = np.clip((way[..., 0] * x + way[..., 1] * y) / size, 0.0, 1.0)
        off_x, off_y = share * way[..., 0] - x, share * way[..., 1] - y
        best = (off_x * off_x + off_y * off_y).argmin(axis=-1)[..., None]
        for k, off in enumerate((off_x, off_y)):
            moved = point[:, table, k] + np.take_along_axis(off, best, axis=-1)[..., 0]
            found[:, table, k] = np.where(inside, point[:, table, k], moved)
    return found


def _framed(square: Floats) -> Floats:
    """Plate matrices [B, P, N, N] with three empty in-plane freedoms."""
    out = np.zeros((*square.shape[:2], square.shape[-1] + 3, square.shape[-1] + 3))
    out[..., :-3, :-3] = square
    return out


def _unit_rows(design: Design, wiring: Wiring, pads: Floats, forms: Forms) -> Floats:
    """Motion [B, U, 2, 6, N'] of each side at the unit's place in the unit's axes, signed, from pads [B, 2 U, 3, N]."""
    units, (batch, sides, _, shapes) = design.units, pads.shape
    sign = np.where(np.arange(sides) % 2 == 0, -1.0, 1.0) * (1 - wiring.fixed)
    along, across, up = np.moveaxis(np.repeat(units.axes, 2, axis=1) * sign[:, None, None], -1, 0)
    at = np.repeat(units.at, 2, axis=1)
    arm = at[..., :2] - units.feet.reshape(batch, sides, 2)
    rise = (at[..., 2] + 0.5 * design.panels.thickness[:, None])[..., None]
    away = at[..., :2] - forms.centre[:, wiring.panel]
    # what each of the six components takes of deflection and slopes, u = -rise dw/dx, rot_x = dw/dy, rot_y = -dw/dx
    felt = np.zeros((batch, sides, 6, 3))
    felt[..., :3, 0] = up
    felt[..., :3, 1] = up * arm[..., :1] - rise * along
    felt[..., :3, 2] = up * arm[..., 1:] - rise * across
    felt[..., 3:, 1], felt[..., 3:, 2] = -across, along
    out = np.zeros((batch, sides, 6, shapes + 3))
    out[..., :-3] = felt @ pads
    out[..., :3, -3], out[..., :3, -2] = along, across
    out[..., :3, -1] = across * away[..., :1] - along * away[..., 1:]
    out[..., 3:, -1] = up
    return out.reshape(batch, sides // 2, 2, 6, -1)


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
    own = design.panels.mass
    out, weight = _framed(own[..., None, None] * forms.square), own[..., None] * forms.first
    every = _point_masses(design)
    # total, first moments and polar moment [4, B, P] of what sits on each panel
    sums = np.zeros((4, *own.shape))
    for panels, table in grouped(where, design.topology.panels):
        mass, shape = every[:, table], value[:, table]
        x, y = (place[:, table, k] - forms.centre[..., k][:, panels, None] for k in (0, 1))
        sums[:, :, panels] = [mass.sum(-1), (mass * x).sum(-1), (mass * y).sum(-1), (mass * (x * x + y * y)).sum(-1)]
        heavy = shape * mass[..., None]
        out[:, panels, :-3, :-3] += np.swapaxes(shape, -1, -2) @ heavy
        weight[:, panels] += heavy.sum(axis=2)
    total, first_x, first_y, polar = sums
    out[..., -3, -3] = out[..., -2, -2] = own + total
    out[..., -3, -1] = out[..., -1, -3] = -first_y
    out[..., -2, -1] = out[..., -1, -2] = first_x
    out[..., -1, -1] = own * forms.polar + polar
    return out, weight
