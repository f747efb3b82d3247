"""The deployed network written out plainly, one candidate, dense: a slow obvious twin.

Plain monomials about each panel's middle, quadrature over small triangles, discs sampled by points, every matrix
whole. Nothing of synth.structure is used.
"""

from dataclasses import dataclass

import numpy as np

from synth.core.arrays import Floats
from synth.core.design import Design

GRAVITY = 9.80665


def triangles(outline: Floats, parts: int) -> tuple[Floats, Floats]:
    """Points and weights of a convex outline: a fan cut into parts^2 triangles, three mid-side points each."""
    points, weights = [], []
    for k in range(1, len(outline) - 1):
        a, b, c = outline[0], outline[k], outline[k + 1]
        twice = (b - a)[0] * (c - a)[1] - (b - a)[1] * (c - a)[0]
        for i in range(parts):
            for j in range(parts - i):
                small = [np.array([[i, j], [i + 1, j], [i, j + 1]])]
                if i + j < parts - 1:
                    small.append(np.array([[i + 1, j + 1], [i, j + 1], [i + 1, j]]))
                for corner in small:
                    for m in 0.5 * (corner + np.roll(corner, 1, axis=0)) / parts:
                        points.append(a + m[0] * (b - a) + m[1] * (c - a))
                        weights.append(0.5 * twice / parts**2 / 3.0)
    keep = np.array(weights) > 0.0
    return np.array(points)[keep], np.array(weights)[keep]


class Basis:
    """Monomials ((x - x0) / r)^a ((y - y0) / r)^b of total degree n of one panel."""

    def __init__(self, outline: Floats, degree: int, parts: int = 24) -> None:
        self.points, self.weights = triangles(outline, parts)
        self.centre = self.weights @ self.points / self.weights.sum()
        self.radius = np.abs(outline - self.centre).max()
        self.powers = [(a, b) for a in range(degree + 1) for b in range(degree + 1 - a)]

    def derivative(self, p: Floats, i: int, j: int) -> Floats:
        """d^(i + j) / dx^i dy^j of every shape at points [Q, 2]."""
        x, y = ((p - self.centre) / self.radius).T
        out = []
        for a, b in self.powers:
            factor = np.prod([a - k for k in range(i)], initial=1.0) * np.prod([b - k for k in range(j)], initial=1.0)
            out.append(factor * x ** max(a - i, 0) * y ** max(b - j, 0) / self.radius ** (i + j))
        return np.stack(out, axis=1)

    def disc(self, foot: Floats, radius: float) -> tuple[Floats, Floats, Floats]:
        """Mean value and mean slopes over a disc: 16 angles x 8 radii of equal area (Gauss in r^2)."""
        nodes, share = np.polynomial.legendre.leggauss(8)
        turn = 2 * np.pi * np.arange(16) / 16
        r = radius * np.sqrt(0.5 * (nodes + 1))
        p = foot + np.stack([np.outer(r, np.cos(turn)), np.outer(r, np.sin(turn))], -1).reshape(-1, 2)
        w = np.repeat(0.5 * share / 16, 16)
        return tuple(w @ self.derivative(p, i, j) for i, j in ((0, 0), (1, 0), (0, 1)))  # type: ignore[return-value]


@dataclass
class Twin:
    """stiffness, inertia; misfit_loads [n, 6 draws] of one sigma each (units of one cause together); loads by
    name; and the panels' bases and places."""

    bases: list[Basis]
    place: list[slice]
    stiffness: Floats
    inertia: Floats
    misfit_loads: Floats
    loads: dict[str, Floats]
    thickness: float
    growth: float

    def heights(self, motion: Floats) -> tuple[Floats, Floats, Floats]:
        """Points, weights and deflections [Q, R] of motions [n, R] over all faces."""
        parts = [
            (b.points, b.weights, b.derivative(b.points, 0, 0) @ motion[s][:-3])
            for b, s in zip(self.bases, self.place, strict=True)
        ]
        return tuple(np.concatenate(x) for x in zip(*parts, strict=True))  # type: ignore[return-value]

    def shifts(self, motion: Floats, growth: float = 0.0) -> tuple[Floats, Floats, Floats]:
        """Points, weights and in-plane shifts [Q, 2, R] of the faces."""
        parts = []
        for b, s in zip(self.bases, self.place, strict=True):
            w, (u, v, turn) = motion[s][:-3], motion[s][-3:]
            d = b.points - b.centre
            x = u - turn * d[:, 1:] - self.thickness / 2 * (b.derivative(b.points, 1, 0) @ w) + growth * d[:, :1]
            y = v + turn * d[:, :1] - self.thickness / 2 * (b.derivative(b.points, 0, 1) @ w) + growth * d[:, 1:]
            parts.append((b.points, b.weights, np.stack([x, y], axis=1)))
        return tuple(np.concatenate(x) for x in zip(*parts, strict=True))  # type: ignore[return-value]


def left_over(points: Floats, weights: Floats, heights: Floats, refocus: bool) -> Floats:
    """Heights [Q, R] less their best-fit plane (and x^2 + y^2), by weighted least squares."""
    columns = [np.ones(len(points)), *points.T] + ([(points**2).sum(axis=1)] if refocus else [])
    fields, root = np.column_stack(columns), np.sqrt(weights)[:, None]
    return heights - fields @ np.linalg.lstsq(root * fields, root * heights, rcond=None)[0]


def left_over_in_plane(points: Floats, weights: Floats, shifts: Floats) -> Floats:
    """Shifts [Q, 2, R] less the best-fit shift and spin."""
    x, y = points.T
    one, none = np.ones(len(x)), np.zeros(len(x))
    fields = np.concatenate([np.column_stack([one, none, -y]), np.column_stack([none, one, x])])
    root = np.sqrt(np.concatenate([weights, weights]))[:, None]
    flat = np.concatenate([shifts[:, 0], shifts[:, 1]])
    flat = flat - fields @ np.linalg.lstsq(root * fields, root * flat, rcond=None)[0]
    return np.stack(np.split(flat, 2), axis=1)


def twin(design: Design, degree: int, gravity_release: float, parts: int = 24) -> Twin:
    """The first candidate of a design, every matrix whole."""
    outlines = [np.array(list(dict.fromkeys(map(tuple, o)))) for o in design.geometry.outline[0]]
    bases = [Basis(o, degree, parts) for o in outlines]
    size = len(bases[0].powers) + 3
    place = [slice(p * size, (p + 1) * size) for p in range(len(bases))]
    n, units = size * len(bases), design.units
    stiffness, inertia = np.zeros((n, n)), np.zeros((n, n))
    bow, weight, pulled = np.zeros(n), np.zeros(n), np.zeros(n)
    nu, t, growth = design.panels.poisson[0], design.panels.thickness[0], design.panels.bulk_strain[0]
    for p, (b, s) in enumerate(zip(bases, place, strict=True)):
        q = slice(s.start, s.stop - 3)
        xx, yy, xy, w = (b.derivative(b.points, i, j) for i, j in ((2, 0), (0, 2), (1, 1), (0, 0)))
        area, d = b.weights[:, None], design.panels.stiffness[0, p]
        stiffness[q, q] += d * (
            xx.T @ (area * (xx + nu * yy)) + yy.T @ (area * (yy + nu * xx)) + 2 * (1 - nu) * xy.T @ (area * xy)
        )
        bow[q] += d * (1 + nu) * design.panels.bow[0] * (b.weights @ (xx + yy))
        density = design.panels.mass[0, p] / b.weights.sum()
        inertia[q, q] += density * w.T @ (area * w)
        weight[q] += density * (b.weights @ w)
        away2 = ((b.points - b.centre) ** 2).sum(axis=1)
        inertia[s.stop - 3 : s.stop, s.stop - 3 : s.stop] += density * np.diag(
            [b.weights.sum(), b.weights.sum(), b.weights @ away2]
        )

    def point(p: int, where: Floats, mass: float, radius: float) -> None:
        value = bases[p].disc(where, radius)[0] if radius else bases[p].derivative(where[None], 0, 0)[0]
        row, d = np.zeros((3, size)), where - bases[p].centre
        row[2, :-3] = value
        row[0, -3] = row[1, -2] = 1.0
        row[0, -1], row[1, -1] = -d[1], d[0]
        inertia[place[p], place[p]] += mass * row.T @ row
        weight[place[p]] += mass * row[2]

    loads: dict[str, Floats] = {}
    for u, (i, j) in enumerate(units.panels.tolist()):
        row = np.zeros((6, n))
        free = np.zeros(6)
        for side, (p, sign) in enumerate(((i, -1.0), (j, 1.0))):
            if p < 0:
                continue
            b, foot = bases[p], units.feet[0, u, side]
            value, gx, gy = b.disc(foot, units.pad_radius[0, u])
            rx, ry, rz = units.at[0, u] - np.array([*foot, -t / 2])
            d = foot - b.centre
            mid = np.zeros((3, size))
            mid[0, -3], mid[0, -1], mid[1, -2], mid[1, -1], mid[2, :-3] = 1.0, -d[1], 1.0, d[0], value
            turn = np.zeros((3, size))
            turn[0, :-3], turn[1, :-3], turn[2, -1] = gy, -gx, 1.0
            carried = mid + np.array([[0, rz, -ry], [-rz, 0, rx], [ry, -rx, 0]]) @ turn
            r = units.axes[0, u]
            row[:, place[p]] += sign * np.concatenate([r @ carried, r @ turn])
            free[:3] += sign * growth * r[:, :2] @ d
            kind, owner = units.kind[u], units.owner[u]
            mass = (
                0.0 if kind == 2 else (design.joint_masses.hinge if kind == 0 else design.joint_masses.latch)[0, owner]
            )
            share = 2.0 * ((units.kind == kind) & (units.owner == owner)).sum()
            point(p, foot, mass / share, units.pad_radius[0, u])
        k = units.stiffness[0, u]
        stiffness += row.T @ (k[:, None] * row)
        label = "" if units.cause is None else str(units.cause[u])
        loads.setdefault(label or f"own {u}", np.zeros((n, 6)))[:] += row.T * (k * units.sigma[0, u])
        steady = units.free_offset[0, u] if units.free_offset is not None else np.zeros(6)
        pulled += row.T @ (k * (steady - free))
    for f, p in enumerate(design.fittings.panel.tolist()):
        point(p, design.fittings.outline[0, f].mean(axis=0), design.fittings.mass[0, f], 0.0)
    for f, p in enumerate(design.lumps_panel.tolist()):
        point(p, bases[p].centre, design.lumps_mass[0, f], 0.0)
    found = {"bow": bow, "gravity": GRAVITY * gravity_release * weight, "growth": pulled}
    return Twin(bases, place, stiffness, inertia, np.concatenate(list(loads.values()), axis=1), found, t, growth)
