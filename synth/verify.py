"""One candidate in full: path proven free of interference, exact stowed size, settled network figures."""

from dataclasses import dataclass, replace

import numpy as np

from synth.cell import Cell, space
from synth.core.arrays import Floats
from synth.core.design import Design
from synth.evaluate import (
    Evaluation,
    evaluate,
    lay_out,
    loads_of,
    stowed_points,
)
from synth.fold.interference import Clearance, prove
from synth.fold.path import Stages, frames, schedule
from synth.fold.tree import hinge_parting, poses
from synth.optics.blur import blur
from synth.optics.light import shadow
from synth.problem.problem import Problem
from synth.stow.box import Stowing
from synth.stow.sizes import stowed_size
from synth.structure.settled import Settled, settled

CLOSURE = 1e-9
"""m: hinge attachment allowed along the path."""


@dataclass(frozen=True, eq=False)
class Verified:
    """A candidate worked out in full (a batch of one) and the verdict.

    evaluation: the same figures as the search's, from the settled network and the exact stowed size.
    """

    evaluation: Evaluation
    design: Design
    clearance: Clearance
    stowed: tuple[Stowing, ...]
    settled: Settled
    closure: float
    verified: bool
    reason: str


def verify(problem: Problem, cell: Cell, row: Floats) -> Verified | str:
    """Works one row [1, D] out in full; a sentence instead where it is no design at all."""
    columns = space(problem, cell).columns(row)
    rough = evaluate(problem, cell, columns)
    if not rough.status.ok[0]:
        return str(rough.status.reason[0])
    design = rough.design.one(0)
    _, made, _ = lay_out(problem, cell, columns)
    clearance = prove(design, problem.keep_out_boxes)
    fits = tuple(stowed_size(stowed_points(design)[0], envelope) for envelope in problem.envelope)
    network = settled(design, loads_of(problem))
    parting = _closure(design)
    light = rough.collecting_area - shadow(design, problem.aperture)
    evaluation = replace(
        rough,
        design=design,
        stowed_size=np.stack([f.size for f in fits])[None],
        fit=np.array([[f.fit for f in fits]]),
        collecting_area=light,
        deployed=network.deployed,
        blur=blur(problem, network.deployed),
        panel_gap=np.array([clearance.panel_gap]),
        screened_out=np.zeros(1, dtype=bool),
    )
    reason = clearance.reason if not clearance.clear else ""
    if not reason and parting > CLOSURE:
        reason = f"hinges part by {parting:.1e} m along the path"
    return Verified(evaluation, design, clearance, fits, network, parting, not reason, reason)


def _closure(design: Design) -> float:
    """Greatest parting (m) of a hinge line along the frames of the record."""
    placed, _, _ = path(design)
    return float(hinge_parting(design.topology, design.geometry.axis, placed[None]).max(initial=0.0))


def path(design: Design) -> tuple[Floats, Floats, Floats]:
    """Frames of the record of a batch of one: poses [S, P, 3, 4], s [S], angles [S, H]."""
    stages: Stages = schedule(design.topology)
    s = frames(stages)
    angles = stages.angles_at(design.geometry.stowed_angle, s)
    return poses(design.topology, design.geometry.axis, angles)[0], s, angles[0]
