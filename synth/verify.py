"""One candidate in full: path proven free of interference, exact stowed size, settled network figures."""

from dataclasses import dataclass, replace

import numpy as np

from synth.cell import Cell, space
from synth.core.arrays import Floats
from synth.core.design import Design
from synth.evaluate import Evaluation, columns_of, evaluate, lay_out, loads_of, stowed_points
from synth.fold.interference import Clearance, prove
from synth.fold.path import frames, schedule
from synth.fold.tree import hinge_parting, poses
from synth.optics.blur import blur
from synth.optics.light import shadow
from synth.problem.problem import Problem
from synth.stow.box import Stowing
from synth.stow.sizes import stowed_size
from synth.structure.settled import Settled, settled
from synth.structure.stowed import launch

NOTHING_NEAR = 1e3
"""m: told as a distance where nothing can meet."""
CLOSURE = 1e-9
"""m: hinge lines may part by this along the path."""


@dataclass(frozen=True, eq=False)
class Path:
    """Frames of the record: s [S], poses [S, P, 3, 4], angles [S, H]."""

    s: Floats
    poses: Floats
    angles: Floats


@dataclass(frozen=True, eq=False)
class Verified:
    """A candidate worked out in full (a batch of one) and the verdict.

    evaluation: the search's figures, from the settled network and the exact stowed size instead.
    stowed: orientation in each envelope. closure: greatest parting of a hinge line along the frames, m.
    """

    evaluation: Evaluation
    design: Design
    path: Path
    clearance: Clearance
    stowed: tuple[Stowing, ...]
    settled: Settled
    closure: float
    verified: bool
    reason: str


def verify(problem: Problem, cell: Cell, row: Floats) -> Verified | str:
    """Works one row [1, D] out in full; a sentence instead where it is no design at all."""
    columns = space(problem, cell).columns(row)
    with np.errstate(all="ignore"):
        laid, made, _ = lay_out(problem, cell, columns)
    if not laid.status.ok[0]:
        return str(laid.status.reason[0])
    rough = evaluate(problem, cell, columns)
    design = laid.one(0)
    names = tuple(k.name for k in problem.keep_out)
    boxes = np.array([[k.min, k.max] for k in problem.keep_out], dtype=np.float64).reshape(-1, 2, 3)
    clearance = prove(design, boxes, names)
    stowed = tuple(stowed_size(stowed_points(design)[0], envelope) for envelope in problem.envelope)
    network = settled(design, loads_of(problem))
    shade = shadow(design, problem.aperture.clear_diameter, problem.transmissive)
    evaluation = replace(
        rough,
        design=design,
        stowed_size=np.stack([s.size for s in stowed])[None],
        fit=np.array([[s.fit for s in stowed]]),
        collecting_area=rough.collecting_area - shade,
        deployed=network.deployed,
        panel_gap=np.array([round(min(clearance.panel_gap, NOTHING_NEAR), 10)]),
        launch=launch(design, columns_of(made, np.array([0])), problem.structure.launch_load_g or 0.0),
        blur=blur(problem, network.deployed),
        screened_out=np.zeros(1, dtype=bool),
    )
    course = path_of(design)
    parting = hinge_parting(design.topology, design.geometry.axis, course.poses[None])
    closure = float(parting.max(initial=0.0))
    reason = clearance.reason if not clearance.clear else ""
    if not reason and closure > CLOSURE:
        reason = f"hinge lines part by {closure:.1e} m along the path"
    if not reason and not network.settled:
        worst = max(network.order_sensitivity.values())
        reason = f"the plate polynomials do not settle: two more degrees change a figure by {100.0 * worst:.0f} %"
    return Verified(evaluation, design, course, clearance, stowed, network, closure, not reason, reason)


def path_of(design: Design) -> Path:
    """Frames of a batch of one."""
    stages = schedule(design.topology)
    s = frames(stages)
    angles = stages.angles_at(design.geometry.stowed_angle, s)
    return Path(s, poses(design.topology, design.geometry.axis, angles)[0], angles[0])
