"""The deployed panel-and-joint network of a batch: accuracy and first mode, in milliseconds a candidate.

Panels are thin plates in polynomials of low degree and rigid in their plane; units are six-way springs (see
assembly). Everything is one factorisation by panels: K = plates + sum rows^T spring rows.
"""

from collections.abc import Mapping
from dataclasses import dataclass, fields

import numpy as np

from synth.core.arrays import Bools, Column, Floats, Ints
from synth.core.design import Design
from synth.core.polygon import area
from synth.core.status import Status
from synth.structure.accuracy import Errors, Gauges, gauges, steady_errors
from synth.structure.assembly import Network, assemble
from synth.structure.elimination import Elimination
from synth.structure.loads import Loads
from synth.structure.modes import Solve, first, scattered
from synth.structure.monomials import MonomialPlates

CHUNK_BYTES = 48e6
"""Bound on the working memory of a batch: rows are taken so many at a time that the largest arrays fit in it."""
ROUNDS, EXTRA_STARTS = 2, 5
WORST_RMS = 1.0
"""Surface and in-plane rms (m) that a row gets which cannot be worked out; its first mode is 0."""


@dataclass(frozen=True, eq=False)
class Deployed:
    """Figures of the deployed network, columns [B], SI.

    Mean squares over the receiving faces after the best-fit plane (and x^2 + y^2 where refocus): joints_m2 (random
    misfits, expected), figure_m2, bow_m2, gravity_m2, steady_m2 (bow, gravity release and growth as one field).
    in_plane_*: shift of the face after the best-fit shift and spin. slope_*_rad2: mean square slope about its mean
    (about a dome too where refocus); slope_figure_rad2 takes the figure error for a wave as long as its panel's
    side, slope = 2 pi figure / sqrt(A) (stated rule). surface_rms, in_plane_rms in m; first_mode_hz.
    """

    joints_m2: Column
    figure_m2: Column
    bow_m2: Column
    gravity_m2: Column
    steady_m2: Column
    in_plane_joints_m2: Column
    in_plane_steady_m2: Column
    slope_joints_rad2: Column
    slope_steady_rad2: Column
    slope_figure_rad2: Column
    surface_rms: Column
    in_plane_rms: Column
    first_mode_hz: Column
    status: Status


def deployed(design: Design, loads: Loads, order: int = 4) -> Deployed:
    """Accuracy and first natural frequency of B candidates with plate polynomials of total degree `order` (2 to 6).

    Rows whose panels have no area, mass or stiffness get a status and stand-in figures, never NaN. Frequencies are
    upper bounds of the degree's network. Against the settled figures of 80 random candidates of five families, first
    modes of degree 4 stood 4 % high (median; 28 % at worst one in twenty, thin panels), of degree 3 6 % and 50 %.
    """
    usable, status = _usable(design)
    rows = np.flatnonzero(usable)
    out = {f.name: np.zeros(design.rows) for f in fields(Deployed) if f.name != "status"}
    out["surface_rms"][~usable] = out["in_plane_rms"][~usable] = WORST_RMS
    waiting = _chunks(rows, design, order)[::-1]
    loose = np.zeros(design.rows)
    while waiting:
        part = waiting.pop()
        try:
            found = _figures(design.take(part), loads, order)
        except np.linalg.LinAlgError:
            # some row of the part hangs together nowhere: find it by halves
            half = (len(part) + 1) // 2
            if len(part) > 1:
                waiting += [part[half:], part[:half]]
                continue
            loose[part], found = -1.0, {"surface_rms": np.full(1, WORST_RMS), "in_plane_rms": np.full(1, WORST_RMS)}
        for name, column in found.items():
            out[name][part] = column
    return Deployed(**out, status=status.require(loose, "the deployed network is loose: joints without stiffness"))


def _usable(design: Design) -> tuple[Bools, Status]:
    """Rows that can be worked out, and why not."""
    numbers = [
        design.geometry.outline,
        design.panels.mass,
        design.panels.stiffness,
        design.panels.bow,
        design.panels.bulk_strain,
        design.units.at,
        design.units.axes,
        design.units.stiffness,
        design.units.sigma,
        design.units.offset,
        design.units.feet,
        design.fittings.mass,
        design.fittings.outline,
        design.lumps_mass,
    ]
    finite = np.ones(design.rows, dtype=bool)
    for array in numbers:
        finite &= np.isfinite(array).all(axis=tuple(range(1, array.ndim)))
    least = np.minimum(area(design.geometry.cut) / 1e-6, design.panels.mass / 1e-6).min(axis=1)
    least = np.minimum(least, (design.panels.stiffness / 1e-9).min(axis=1))
    springs = design.units.stiffness.min(axis=(1, 2), initial=1.0)
    status = Status.fine(design.rows).require(np.where(finite, 0.0, -1.0), "a figure of the network is not a number")
    status = status.require(np.minimum(least - 1.0, 0.0), "a panel has no area, mass or stiffness")
    status = status.require(np.minimum(springs, 0.0), "a joint has a negative stiffness")
    return status.ok, status


def _chunks(rows: Ints, design: Design, order: int) -> list[Ints]:
    """Rows in parts that keep the working memory below CHUNK_BYTES."""
    shapes = (order + 1) * (order + 2) // 2 + 3
    sides = 2 * design.units.panels.shape[0] + len(design.fittings.panel)
    each = 8.0 * shapes * (30 * design.topology.panels * shapes + 12 * sides)
    size = max(1, int(CHUNK_BYTES / each))
    return [rows[k : k + size] for k in range(0, len(rows), size)]


def _figures(design: Design, loads: Loads, order: int) -> dict[str, Column]:
    """Columns of Deployed for rows that are fit to be worked out."""
    network = assemble(design, MonomialPlates(design.geometry.cut, order), loads)
    made = gauges(network.forms, design.topology.receiving, design.panels.thickness, loads.fitted)
    factors = Elimination(network.wiring.steps, network.blocks(network.spring, network.plate))
    spread = covariance(network, factors)
    errors, answers = work_out(network, made, factors.solve, spread, design.panels.bulk_strain)
    return columns(design, errors, first(factors.solve, network.inertia, answers, ROUNDS))


def columns(design: Design, errors: Errors, first_mode: Column) -> dict[str, Column]:
    """Columns of Deployed from the errors by source and the first mode."""
    figure = design.panels.figure**2
    return {
        **vars(errors),
        "figure_m2": figure,
        "slope_figure_rad2": figure_slope(design),
        "surface_rms": np.sqrt(errors.joints_m2 + figure + errors.steady_m2),
        "in_plane_rms": np.sqrt(errors.in_plane_joints_m2 + errors.in_plane_steady_m2),
        "first_mode_hz": first_mode,
    }


def figure_slope(design: Design) -> Column:
    """Mean square slope [B] of the figure error: a wave as long as the side of its panel, (2 pi figure)^2 / A."""
    face = area(design.geometry.cut[:, design.topology.receiving])
    total = np.maximum(face.sum(axis=1), 1e-12)
    # area-weighted mean of 1/A is the number of faces over their area
    return np.asarray((2.0 * np.pi * design.panels.figure) ** 2 * face.shape[1] / total)


def work_out(network: Network, made: Gauges, solve: Solve, spread: Floats, strain: Column) -> tuple[Errors, Floats]:
    """Errors of a network that `solve` inverts, and motions [B, P, N', R] to start the search for its lowest modes.

    spread [B, P, N', N']: covariance of panel motions from the misfits; strain [B]: free growth.
    """
    measures = (made.surface, made.in_plane, made.slope)
    counts = [g.fit.shape[-1] for g in measures]
    shape = network.steady.shape
    fresh = np.broadcast_to(scattered(shape[1], shape[2], EXTRA_STARTS), (*shape[:3], EXTRA_STARTS))
    load = np.concatenate([network.steady, *[g.fit for g in measures], network.inertia @ fresh], axis=-1)
    answer = solve(load)
    random, place = [], 0
    # fit^T K^-1 S K^-1 fit, by the strains that the fitted fields cause in the units
    strained = network.strain(answer[..., 3 : 3 + sum(counts)]) * (network.spring * network.sigma)[..., None]
    every = network.by_draw(strained.reshape(len(answer), -1, sum(counts)))
    for gauge, count in zip(measures, counts, strict=True):
        drawn = every[..., place : place + count]
        random.append(gauge.random(spread, np.swapaxes(drawn, -1, -2) @ drawn))
        place += count
    errors = Errors(
        joints_m2=random[0],
        in_plane_joints_m2=random[1],
        slope_joints_rad2=random[2],
        **steady_errors(made, answer[..., :3], strain),
    )
    return errors, answer[..., 3:]


def covariance(network: Network, factors: Elimination) -> Floats:
    """Covariance [B, P, N', N'] of each panel's motion from the misfits of all unit components."""
    found, size = factors.covariance(*_drawn(network, factors), network.draws), network.rows.shape[-1]
    return whole(found, size, size)


def whole(found: Mapping[int, Floats], *sizes: int) -> Floats:
    """[B, P, *sizes, ...] of arrays by panel, zeros beyond their own sizes."""
    parts = [found[p] for p in range(len(found))]
    if all(part.shape[1 : 1 + len(sizes)] == sizes for part in parts):
        return np.stack(parts, axis=1)
    out = np.zeros((len(parts[0]), len(parts), *sizes, *parts[0].shape[1 + len(sizes) :]))
    for p, part in enumerate(parts):
        inner = out[:, p]
        inner[tuple(slice(n) for n in part.shape)] = part
    return out


def responses(network: Network, factors: Elimination) -> Floats:
    """Motion [B, P, N', draws] of the panels that one standard deviation of each draw causes.

    A misfit m of a unit pulls on its panels with rows^T spring m, so X = K^-1 rows^T spring sigma, and X X^T is
    the covariance. Misfits of a common cause share a column.
    """
    return whole(factors.respond(*_drawn(network, factors), network.draws), network.rows.shape[-1])


def _drawn(network: Network, factors: Elimination) -> tuple[dict[int, Floats], dict[int, Ints]]:
    """Loads [B, N', c] on each panel of one standard deviation of the draws that touch it, and their numbers."""
    wiring, (batch, units, _, _, size) = network.wiring, network.rows.shape
    scale = network.spring * network.sigma
    pulls = (network.rows * scale[:, :, None, :, None]).reshape(batch, 2 * units, 6, size)
    load = {p: np.zeros((batch, n, 0)) for p, n in factors.size.items()}
    columns = {p: np.zeros(0, dtype=np.int64) for p in range(wiring.panels)}
    for panels, table in wiring.sides:
        each = np.swapaxes(pulls[:, table].reshape(batch, len(panels), -1, size), -1, -2)
        for k, p in enumerate(panels.tolist()):
            load[p], columns[p] = _shared(each[:, k, : factors.size[p]], network.draw[table[k] // 2].reshape(-1))
    return load, columns


def _shared(each: Floats, numbers: Ints) -> tuple[Floats, Ints]:
    """Columns [B, N', c] that belong to the same draw summed; the draws, rising."""
    if (np.diff(numbers) > 0).all():
        return each, numbers
    found, place = np.unique(numbers, return_inverse=True)
    return each @ np.eye(len(found))[place], found
