"""The deployed network of a record, solved in full: stiffness, masses, misfits and steady loads of all panels.

u = K^-1 f with K = plates + sum B^T k B over units; random misfits m of variance sigma^2 give f = B^T k m, so the
expected mean square of a field is the sum over misfits of sigma^2 times that of their unit response.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray
from scipy.sparse import block_diag, coo_matrix, csc_matrix
from scipy.sparse.linalg import LinearOperator, eigsh, splu

from synth.recheck.plate import plate
from synth.recheck.solid import Array, polygon

STANDARD_GRAVITY = 9.80665


@dataclass(frozen=True, eq=False)
class Found:
    """Mean squares over the receiving faces (m^2, slopes rad^2) and the first frequency (Hz).

    shares: (surface, in plane, slope) of the misfits of each joint or common cause, by name. datums: surface mean
    square about nothing, the best-fit plane, and plane and x^2 + y^2. locked: expected strain energy of misfits, J.
    modes: the three lowest frequencies.
    """

    joints: float
    figure: float
    bow: float
    gravity: float
    steady: float
    in_plane_joints: float
    in_plane_steady: float
    first_mode: float
    slope_joints: float
    slope_figure: float
    slope_steady: float
    shares: Mapping[str, tuple[float, float, float]]
    datums: tuple[float, float, float]
    locked: float
    modes: tuple[float, ...]


class Network:
    """Panels of a record as plates of one degree, joined by six-way units. N freedoms in all."""

    def __init__(self, record: Mapping[str, Any], degree: int, gravity_release: float) -> None:
        self.record = record
        self.plates = [plate(p, degree) for p in record["panels"]]
        self.start = np.concatenate([[0], np.cumsum([p.size for p in self.plates])])
        self.gravity_release = gravity_release
        self._feet()
        self._springs()
        self._masses()

    def _feet(self) -> None:
        """Mean functions and slopes over every disc that something sits on, panel by panel."""
        asked: dict[int, list[tuple[float, float, float]]] = {}
        for _, sides, unit in self._units():
            for _, panel, foot in sides:
                asked.setdefault(panel, []).append((foot[0], foot[1], float(unit["pad_radius_m"])))
        for panel, _, foot, _, radius in self._points():
            asked.setdefault(panel, []).append((foot[0], foot[1], radius))
        self._discs = {}
        for panel, discs in asked.items():
            unique = sorted(set(discs))
            table = np.array(unique)
            mean, slope = self.plates[panel].over_discs(table[:, :2], table[:, 2])
            self._discs.update({(panel, disc): (mean[k], slope[:, k]) for k, disc in enumerate(unique)})

    def _motion(self, panel: int, foot: Array, radius: float, at: Array) -> tuple[Array, Array]:
        """Rows [6, n + 3]: displacement of `at`, rotation of the disc at a foot; and the shift [6] by free growth."""
        p = self.plates[panel]
        mean, slope = self._discs[panel, (foot[0], foot[1], float(radius))]
        n = len(mean)
        away = foot - p.centre
        rotation = np.zeros((3, p.size))
        rotation[0, :n], rotation[1, :n], rotation[2, n + 2] = slope[1], -slope[0], 1.0
        rows = np.zeros((3, p.size))
        rows[0, n], rows[0, n + 2] = 1.0, -away[1]
        rows[1, n + 1], rows[1, n + 2] = 1.0, away[0]
        rows[2, :n] = mean
        arm = at - np.array([foot[0], foot[1], p.middle])
        rows += np.stack(
            [arm[2] * rotation[1] - arm[1] * rotation[2], arm[0] * rotation[2] - arm[2] * rotation[0],
             arm[1] * rotation[0] - arm[0] * rotation[1]]
        )  # fmt: skip
        grown = np.zeros(6)
        grown[:2] = float(self.record["panels"][panel].get("bulk_strain", 0.0)) * away
        return np.concatenate([rows, rotation]), grown

    def _springs(self) -> None:
        """K, the loads of random misfits (one column an independent draw) and the steady loads of units."""
        size = int(self.start[-1])
        entries: list[tuple[NDArray[np.int64], Array, Array]] = []
        draws: dict[tuple[str, str, int], Array] = {}
        self.free = np.zeros(size)
        self.squeezed = 0.0
        for name, sides, unit in self._units():
            joint = name.rsplit(" unit ", 1)[0]
            turn = np.zeros((6, 6))
            turn[:3, :3] = turn[3:, 3:] = np.asarray(unit["axes"])
            k = np.asarray(unit["stiffness"], dtype=np.float64)
            columns, rows, grown = [], [], np.zeros(6)
            for sign, panel, foot in sides:
                motion, growth = self._motion(panel, foot, unit["pad_radius_m"], np.asarray(unit["at"]))
                rows.append(sign * turn @ motion)
                columns.append(np.arange(self.start[panel], self.start[panel + 1]))
                grown += sign * turn @ growth
            b, where = np.concatenate(rows, axis=1), np.concatenate(columns)
            entries.append((where, b, k))
            pull = b.T * k
            steady = np.asarray(unit.get("free_offset") or np.zeros(6)) - grown
            np.add.at(self.free, where, pull @ steady)
            cause = f"common cause {unit['cause']}" if unit.get("cause") else ""
            sigma = np.asarray(unit["misfit_sigma"], dtype=np.float64)
            self.squeezed += float((k * sigma**2).sum())
            for c in range(6):
                draw = draws.setdefault((cause or joint, cause or name, c), np.zeros(size))
                np.add.at(draw, where, pull[:, c] * sigma[c])
        live = {key: d for key, d in draws.items() if d.any()} or {("mount", "mount", 0): np.zeros(size)}
        self.random = np.stack(list(live.values()), axis=1)
        self.behind = [joint for joint, _, _ in live]
        plates = []
        for p in self.plates:
            block = np.zeros((p.size, p.size))
            block[:-3, :-3] = p.bending
            plates.append(block)
        row = np.concatenate([np.repeat(w, len(w)) for w, _, _ in entries])
        column = np.concatenate([np.tile(w, len(w)) for w, _, _ in entries])
        value = np.concatenate([((b.T * k) @ b).ravel() for _, b, k in entries])
        self.stiffness = csc_matrix(block_diag(plates) + coo_matrix((value, (row, column)), shape=(size, size)))

    def _units(self) -> list[tuple[str, list[tuple[float, int, Array]], Mapping[str, Any]]]:
        """(name, sides, unit): the second panel of a joint counts plus, the first minus; the spacecraft is still."""
        found: list[tuple[str, list[tuple[float, int, Array]], Mapping[str, Any]]] = []
        for key, kind in (("hinges", "hinge"), ("latches", "latch")):
            for joint in self.record[key]:
                for n, unit in enumerate(joint["units"]):
                    (i, j), (fi, fj) = joint["panels"], np.asarray(unit["feet"], dtype=np.float64)
                    found.append((f"{kind} {joint['id']} unit {n}", [(-1.0, int(i), fi), (1.0, int(j), fj)], unit))
        for n, unit in enumerate(self.record["mount"]["units"]):
            found.append((f"mount unit {n}", [(-1.0, 0, np.asarray(unit["feet"][0], dtype=np.float64))], unit))
        return found

    def _masses(self) -> None:
        """Mass matrix, and the loads of bow and of gravity release."""
        blocks, self.bow, weights = [], np.zeros(int(self.start[-1])), []
        for panel, p in zip(self.record["panels"], self.plates, strict=True):
            mass = float(panel["mass_kg"])
            n = p.size - 3
            blocks.append(np.diag(np.concatenate([np.full(n, mass), [mass, mass, mass * p.spread]])))
            weights.append(np.concatenate([mass * (p.weights @ p.shape), np.zeros(3)]))
            first = self.start[panel["id"]]
            self.bow[first : first + n] = float(panel["bow_1_per_m"]) * p.curvature
        for number, mass, foot, at, radius in self._points():
            rows, _ = self._motion(number, foot, radius, at)
            blocks[number] += mass * rows[:3].T @ rows[:3]
            weights[number] += mass * rows[2]
        self.mass = csc_matrix(block_diag(blocks))
        self.gravity = STANDARD_GRAVITY * self.gravity_release * np.concatenate(weights)

    def _points(self) -> list[tuple[int, float, Array, Array, float]]:
        """(panel, kg, foot, place, radius) of all that sits on moving panels: joints at their feet, fittings, lumps.

        A fitting's centroid beyond the edge is carried by a rigid arm from the nearest point of the outline: the
        polynomial says nothing out there.
        """
        record, found = self.record, []
        for joint in [*record["hinges"], *record["latches"]]:
            share = float(joint["mass_kg"]) / max(1, 2 * len(joint["units"]))
            for unit in joint["units"]:
                for panel, foot in zip(joint["panels"], unit["feet"], strict=True):
                    place = np.array([*foot, self.plates[panel].middle])
                    found.append((int(panel), share, place[:2], place, float(unit["pad_radius_m"])))
        shapes = [polygon(p["outline"], p.get("holes", [])) for p in record["panels"]]
        for fitting in record["fittings"]:
            centre = polygon(fitting["outline"]).centroid
            foot = shapely.get_coordinates(shapely.shortest_line(shapes[fitting["panel"]], centre))[0]
            place = np.array([centre.x, centre.y, (fitting["z_back"] + fitting["z_front"]) / 2.0])
            found.append((int(fitting["panel"]), float(fitting["mass_kg"]), foot, place, 0.0))
        for lump in [*record["drives"], *record["restraints"]]:
            if lump["panel"] is not None:
                p = self.plates[lump["panel"]]
                place = np.array([*p.centre, p.middle])
                found.append((int(lump["panel"]), float(lump["mass_kg"]), p.centre, place, 0.0))
        return found

    def solve(self, refocus: bool) -> Found:
        """All figures. Raises RuntimeError where the stiffness is singular (something hangs free)."""
        factor = splu(self.stiffness, permc_spec="MMD_AT_PLUS_A", options={"SymmetricMode": True})
        steady = np.stack([self.bow, self.gravity, self.bow + self.gravity + self.free], axis=1)
        answers = factor.solve(np.concatenate([self.random, steady], axis=1))
        out, flat, slope = self._fields(answers, 4 if refocus else 3)
        rough = [self._fields(answers, k)[0] for k in (0, 3, 4)]
        locked = 0.5 * (self.squeezed - float((self.random * answers[:, :-3]).sum()))
        faces = [(p["figure_rms_m"], q.area) for p, q in zip(self.record["panels"], self.plates, strict=True)
                 if p["receiving"]]  # fmt: skip
        figure = sum(f * f * a for f, a in faces) / sum(a for _, a in faces)
        wavy = sum((2.0 * np.pi * f) ** 2 for f, _ in faces) / sum(a for _, a in faces)
        size = self.stiffness.shape[0]
        inverse = LinearOperator((size, size), matvec=factor.solve, dtype=np.float64)
        lowest = eigsh(self.stiffness, k=3, M=self.mass, sigma=0.0, OPinv=inverse, v0=np.ones(size),
                       return_eigenvectors=False, tol=1e-8)  # fmt: skip
        modes = tuple(float(np.sqrt(max(x, 0.0)) / (2.0 * np.pi)) for x in sorted(lowest.tolist()))
        return Found(
            float(out[:-3].sum()), float(figure), float(out[-3]), float(out[-2]), float(out[-1]),
            float(flat[:-3].sum()), float(flat[-1]), modes[0],
            float(slope[:-3].sum()), float(wavy), float(slope[-1]), self._shares(out, flat, slope),
            (_random_and_steady(rough[0], figure), _random_and_steady(rough[1], figure),
             _random_and_steady(rough[2], figure)), locked, modes,
        )  # fmt: skip

    def _shares(self, *fields: Array) -> dict[str, tuple[float, float, float]]:
        """Sums of the three mean squares over the draws of each joint or cause."""
        found = {name: [0.0, 0.0, 0.0] for name in self.behind}
        for k, name in enumerate(self.behind):
            for m, field in enumerate(fields):
                found[name][m] += float(field[k])
        return {name: (a, b, c) for name, (a, b, c) in found.items()}

    def _fields(self, answers: Array, datum: int) -> tuple[Array, Array, Array]:
        """Mean squares of each answer [N, m] over the receiving faces: z less the datum (the first 0, 3 or 4 of 1, x,
        y, x^2 + y^2), in plane less shift and spin, slope less its mean (less a dome too where the datum has four).

        The free growth belongs to the last answer (the whole steady field) alone.
        """
        panels = self.record["panels"]
        chosen = [k for k, p in enumerate(panels) if p["receiving"]]
        whole = sum(self.plates[k].area for k in chosen)
        count = answers.shape[1]
        out, flat, steep = np.zeros(count), np.zeros(count), np.zeros(count)
        spin, tilt = 3, 3 if datum == 4 else 2
        normal = [np.zeros((n, n)) for n in (datum, spin, tilt)]
        seen = [np.zeros((n, count)) for n in (datum, spin, tilt)]
        for k in chosen:
            p = self.plates[k]
            share, w = p.area / whole, p.weights
            px, py = p.points.T
            one, none = np.ones_like(px), np.zeros_like(px)
            fit = np.array([one, px, py, px**2 + py**2])[:datum]
            rigid = np.stack([[one, none], [none, one], [-py, px]])
            away = (p.points - p.centre).T
            # columns: functions, then shift u, v, spin, and the free growth of the panel
            growth = np.zeros((1, count))
            growth[0, -1] = float(panels[k].get("bulk_strain", 0.0))
            x = np.concatenate([answers[self.start[k] : self.start[k + 1]], growth])
            bent = -p.half * p.slopes
            face = np.stack([np.column_stack([bent[0], one, none, -away[1], away[0]]),
                             np.column_stack([bent[1], none, one, away[0], away[1]])])  # fmt: skip
            square = sum((f * w[:, None]).T @ f for f in face)
            out += share * (x[:-4] ** 2).sum(axis=0)  # the functions are orthonormal
            flat += share * (x * (square @ x)).sum(axis=0)
            normal[0] += share * (fit * w) @ fit.T
            seen[0] += share * ((fit * w) @ p.shape) @ x[:-4]
            normal[1] += share * np.einsum("adq,q,bdq->ab", rigid, w, rigid)
            seen[1] += share * np.einsum("adq,q,dqn->an", rigid, w, face, optimize=True) @ x
            turned = np.stack([[one, none], [none, one], [px, py]][:tilt])
            steep += share * (x[:-4] * (sum((s * w[:, None]).T @ s for s in p.slopes) @ x[:-4])).sum(axis=0)
            normal[2] += share * np.einsum("adq,q,bdq->ab", turned, w, turned)
            seen[2] += share * np.einsum("adq,q,dqn->an", turned, w, p.slopes, optimize=True) @ x[:-4]
        found = []
        for total, n, s in zip((out, flat, steep), normal, seen, strict=True):
            left = total - (s * np.linalg.solve(n, s)).sum(axis=0) if len(n) else total
            found.append(np.maximum(left, 0.0))
        return found[0], found[1], found[2]


def _random_and_steady(squares: Array, figure: float) -> float:
    """Joints, figure and the whole steady field: all answers but bow alone and gravity alone."""
    return float(squares[:-3].sum() + squares[-1] + figure)


def solve_network(record: Mapping[str, Any], degree: int, gravity_release: float, refocus: bool) -> Found:
    """The figures of a record's deployed network with plates of that polynomial degree."""
    return Network(record, degree, gravity_release).solve(refocus)
