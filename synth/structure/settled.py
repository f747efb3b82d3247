"""The settled figures of one candidate: plate degree raised until two more change nothing that matters."""

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace

import numpy as np

from synth.core.arrays import Floats
from synth.core.design import Design
from synth.structure.accuracy import gauges
from synth.structure.assembly import Network, assemble
from synth.structure.budget import Budget, budget
from synth.structure.condensed import Condensed, condense
from synth.structure.forms import Forms
from synth.structure.loads import Loads
from synth.structure.mode_shapes import ModeShapes, mode_shapes
from synth.structure.modes import lowest
from synth.structure.network import Deployed, columns, covariance, deployed, work_out
from synth.structure.orthogonal import OrthogonalPlates

DEGREES = (6, 12, 14)
"""Degrees tried, each against two more; the last is the cap."""
SETTLED, AIM = 0.02, 0.01
"""Greatest relative change of surface rms and first mode with two more degrees: to be called settled, and to stop.
Steps fall off slowly where pads are small, so what is left after a change of 1 % may still be some per cent."""
MODES, ROUNDS = 3, 8


@dataclass(frozen=True, eq=False)
class Settled:
    """deployed: figures (a batch of one) at plate_degree. order_sensitivity: relative change of "surface_rms" and
    "first_mode" with two more degrees; settled: whether both lie under 2 % (if not, plate_degree is the cap, 14).
    modes_hz [3]: lowest natural frequencies, the second and third with two more degrees (the first settles sooner);
    modes: their shapes, with two more degrees (none where it could not be worked out).
    """

    deployed: Deployed
    plate_degree: int
    order_sensitivity: dict[str, float]
    settled: bool
    modes_hz: Floats
    modes: ModeShapes | None
    budget: Budget | None = None


@dataclass(frozen=True, eq=False)
class _Step:
    """Figures at one degree."""

    degree: int
    deployed: Deployed
    modes_hz: Floats
    shapes: Floats
    network: Network
    small: Condensed


def settled(design: Design, loads: Loads, alone: Mapping[str, Design] | None = None) -> Settled:
    """Figures of a batch of one at plate degree 6, 12 or 14: the first that two more degrees change by under 1 %.

    The network is the one of `network.deployed` with exact covariance and steady fields; the polynomials are
    orthonormal and each panel is condensed to its feet. At the cap a change up to 2 % still counts as settled. A
    row that cannot be worked out gives the low-degree figures and status of `deployed`, not settled. alone: the
    design under one steady source at a time, for the budget.
    """
    rough = deployed(design, loads)
    nothing = Settled(rough, 4, {"surface_rms": 1.0, "first_mode": 1.0}, False, np.zeros(MODES), None)
    if not rough.status.ok.all():
        return nothing
    step, finest, change, sure = None, None, {}, False
    for degree in DEGREES:
        network, plates = _built(design, loads, degree + 2)
        try:
            # what was the finer of two may be the coarser of the next
            known = finest is not None and finest.degree == degree
            found = finest if known and finest else _at_degree(design, network, degree, loads)
            finer = _at_degree(design, network, degree + 2, loads)
        except np.linalg.LinAlgError:
            # pads far beyond a narrow outline: polynomials grow there until the matrix means nothing
            sure = False
            break
        step, finest, change = found, finer, _change(found.deployed, finer.deployed)
        sure = max(change.values()) < SETTLED
        if max(change.values()) < AIM:
            break
    if step is None or finest is None:
        return nothing
    # lower degrees are the first shapes of higher ones, so the last plates serve
    modes = mode_shapes(design, plates, finest.network, finest.shapes)
    # of near twins the second may come to lie below the first with more degrees: all are bounds from above, so may rise
    hertz = np.maximum.accumulate(np.append(step.modes_hz[:1], finest.modes_hz[1:]))
    parts = budget(design, step.network, step.small, loads.fitted, alone or {})
    return Settled(step.deployed, step.degree, change, sure, hertz, modes, parts)


def _built(design: Design, loads: Loads, degree: int) -> tuple[Network, OrthogonalPlates]:
    plates = OrthogonalPlates(design.geometry.cut, degree)
    return assemble(design, plates, loads), plates


def _change(one: Deployed, two: Deployed) -> dict[str, float]:
    """Relative changes from one degree to the next."""

    def relative(a: Floats, b: Floats) -> float:
        return float(abs(b[0] - a[0]) / max(abs(a[0]), 1e-300)) if a[0] or b[0] else 0.0

    return {
        "surface_rms": relative(one.surface_rms, two.surface_rms),
        "first_mode": relative(one.first_mode_hz, two.first_mode_hz),
    }


def _at_degree(design: Design, whole: Network, degree: int, loads: Loads) -> _Step:
    """Figures of the network cut back to the shapes of a degree."""
    network = _cut(whole, (degree + 1) * (degree + 2) // 2)
    made = gauges(network.forms, design.topology.receiving, design.panels.thickness, loads.fitted)
    small = condense(network, design.units.axes)
    spread = small.widen(covariance(small.small, small.factors))
    errors, answers = work_out(network, made, small.solve, spread, design.panels.bulk_strain)
    frequencies, shapes = lowest(small.solve, network.inertia, answers, ROUNDS, MODES)
    found = Deployed(**columns(design, errors, frequencies[:, 0]), status=design.status)
    return _Step(degree, found, frequencies[0], shapes, network, small)


def _cut(network: Network, shapes: int) -> Network:
    """The same network with the first `shapes` deflection shapes only."""
    most = network.forms.first.shape[-1]
    keep = np.r_[0:shapes, most : most + 3]
    forms = Forms(**{f.name: _first(getattr(network.forms, f.name), f.name, shapes) for f in fields(Forms)})
    square = np.ix_(keep, keep)
    return replace(
        network,
        forms=forms,
        plate=network.plate[..., square[0], square[1]],
        inertia=network.inertia[..., square[0], square[1]],
        rows=network.rows[..., keep],
        steady=network.steady[..., keep, :],
    )


def _first(form: Floats, name: str, shapes: int) -> Floats:
    if name in ("area", "centre", "polar"):
        return form
    if name == "fit":
        return form[..., :shapes, :]
    if name in ("first", "slope", "spin", "swell", "laplace"):
        return form[..., :shapes]
    return form[..., :shapes, :shapes]
