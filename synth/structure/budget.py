"""The error budget of one settled candidate: by steady source, by joint, by datum, and the strain that latches lock in.

Everything is a load or a draw in the same network that gives the total; nothing here is a formula on the side.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from synth.core.arrays import Column, Floats, Ints
from synth.core.design import Design
from synth.structure.accuracy import Gauges, gauges, steady_errors
from synth.structure.assembly import BOW, GRAVITY, GROWTH, Network, bow_load, free_positions
from synth.structure.condensed import STIFF, Condensed
from synth.structure.network import responses

DATUMS = ("as deployed", "best-fit plane", "best-fit plane and focus")
"""What may be taken off the surface before its error is told: nothing (the mount's own frame), piston and tilt, and
x^2 + y^2 too."""
TERMS = (
    "shift along the edge",
    "shift across it",
    "shift along z",
    "turn about the edge",
    "turn about the line across it",
    "turn about z",
)


@dataclass(frozen=True, eq=False)
class Locked:
    """What misfits lock into a structure with more joints than it needs, expected values. J, N.

    energy_j: all of it; units_j [U]: in the springs of each unit; the rest bends panels. force_n [U]: three standard
    deviations of the greatest force component of each unit. steady_force_n [U]: greatest force component of each
    unit in the steady field (thermal mismatch, bow, gravity release, set).
    """

    energy_j: float
    units_j: Column
    force_n: Column
    steady_force_n: Column


@dataclass(frozen=True, eq=False)
class Budget:
    """Mean squares about the datum of the run: surface (m^2), in plane (m^2), slope (rad^2).

    steady: source -> the three, each source alone (they add as fields, not as squares). draws [3, G, 6]: share of
    each normal draw, a group of six for each unit with errors of its own and one for each common cause; owner [U]: the
    group of each unit; causes [G]: names ("" for a unit's own). datums: surface mean square (m^2) of joints, figure
    and steady field about each of DATUMS.
    """

    steady: Mapping[str, tuple[float, float, float]]
    draws: Floats
    owner: Ints
    causes: tuple[str, ...]
    datums: Mapping[str, float]
    locked: Locked


def budget(design: Design, network: Network, small: Condensed, fields: int, alone: Mapping[str, Design]) -> Budget:
    """The budget of a batch of one about the datum that takes off `fields` of 1, x, y, x^2 + y^2.

    alone: the same design under one steady source at a time, by the source's name.

    "gravity release" needs no entry: it is the network's own gravity load.
    """
    made = _gauges(network, design, fields)
    draw, causes = design.units.draws()
    response = responses(small.small, small.factors)
    measures = (made.surface, made.in_plane, made.slope)
    shares = np.stack([small.narrow(g).steady_each(response)[0] for g in measures]).reshape(3, -1, 6)
    steady = {name: _three(made, *_field(design, one, network, small)) for name, one in alone.items()}
    still = np.zeros(1)
    release = small.solve(network.steady[..., [GRAVITY]])
    steady["gravity release"] = _three(made, np.concatenate([0.0 * release, release, 0.0 * release], -1), still)
    whole = small.solve(network.steady)
    return Budget(
        steady,
        shares,
        draw[:, 0] // 6,
        causes,
        {name: _datum(design, network, small, response, whole, k) for k, name in enumerate(DATUMS)},
        _locked(design, network, small, response, whole),
    )


def _gauges(network: Network, design: Design, fields: int) -> Gauges:
    return gauges(network.forms, design.topology.receiving, design.panels.thickness, fields)


def _field(design: Design, one: Design, network: Network, small: Condensed) -> tuple[Floats, Floats]:
    """Motions [1, P, N', 3] and free growth of the steady field of one source, gravity left out."""
    load = np.zeros((*network.steady.shape[:3], 3))
    load[..., :-3, BOW] = bow_load(one, network.forms)
    load[..., GROWTH] = network.pull(design.units.stiffness * free_positions(one, network.forms))
    return small.solve(load), one.panels.bulk_strain


def _three(made: Gauges, motion: Floats, strain: Floats) -> tuple[float, float, float]:
    found = steady_errors(made, motion, strain)
    return tuple(float(found[n][0]) for n in ("steady_m2", "in_plane_steady_m2", "slope_steady_rad2"))  # type: ignore[return-value]


def _datum(design: Design, network: Network, small: Condensed, response: Floats, whole: Floats, kind: int) -> float:
    """Surface mean square (m^2) about one datum: nothing, three fields or four fitted."""
    surface = _gauges(network, design, (0, 3, 4)[kind]).surface
    random = small.narrow(surface).steady_each(response).sum()
    return float(random + surface.steady(whole.sum(axis=-1))[0] + design.panels.figure[0] ** 2)


def _locked(design: Design, network: Network, small: Condensed, response: Floats, whole: Floats) -> Locked:
    """Forces k (B u - m) and energies of the springs, and of the plates, under one sigma of every draw.

    Expected energy = sum over draws of (m^T k m - u^T K u) / 2, and u^T K u = u^T B^T k m at rest.
    """
    units = design.units
    scale = units.stiffness * units.sigma
    force = units.stiffness[0][..., None] * small.small.strain(response)[0]
    u, c = np.indices(scale.shape[1:])
    force[u, c, network.draw] -= scale[0]
    springs = 0.5 * (force**2).sum(axis=-1) / np.maximum(units.stiffness[0], 1e-300)
    bent = response[:, :, STIFF:]
    plates = 0.5 * float((bent**2).sum())
    spread = np.sqrt((force**2).sum(axis=-1))
    steady = network.strain(whole).sum(axis=-1) - free_positions(design, network.forms)
    return Locked(
        float(springs.sum()) + plates,
        springs.sum(axis=-1),
        3.0 * spread[:, :3].max(axis=-1),
        np.abs(units.stiffness * steady)[0, :, :3].max(axis=-1),
    )
