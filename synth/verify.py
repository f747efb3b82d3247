"""One candidate in full: path proven free of interference, exact stowed size, settled network figures."""

from dataclasses import dataclass, replace

import numpy as np

from synth.cell import Cell, latch_of, space
from synth.core.arrays import Floats
from synth.core.design import Design
from synth.core.motion import Motion
from synth.evaluate import (
    Evaluation,
    evaluate,
    family_of,
    held,
    in_environment,
    lay_bare,
    loads_of,
    stowed_points,
)
from synth.fold.course import Course
from synth.fold.interference import KEPT, Clearance, prove
from synth.fold.mobility import StageMobility, stage_mobility
from synth.fold.route import course_of, motion_of, parting
from synth.fold.solids import Solids, solids_of
from synth.fold.swept import Swept, swept
from synth.fold.walls import Walls, walls_passed
from synth.optics.blur import blur
from synth.optics.light import shadow
from synth.problem.alone import STEADY, only
from synth.problem.envelope import Envelope
from synth.problem.problem import Problem
from synth.stow.box import Stowing
from synth.stow.circle import least_circle
from synth.stow.sizes import stowed_size
from synth.structure.drive import drive
from synth.structure.latching import Latching, latching, refusal
from synth.structure.section import Section
from synth.structure.settled import Settled, settled

NOTHING_NEAR = 1e3
"""m: told as a distance where nothing can meet."""
STATIONS = 390
"""Intervals of the whole way over which the swept room is bounded."""
PLIES = 4
"""Layers of film for which there must be room between two solids: two membranes, each folded double."""
CLOSURE = 1e-9
"""m: hinge lines may part by this along the path."""


@dataclass(frozen=True, eq=False)
class Verified:
    """A candidate worked out in full (a batch of one) and the verdict.

    evaluation: the search's figures, from the settled network and the exact stowed size instead.
    stowed: orientation in each envelope. closure: greatest parting of a hinge line at the frames, beyond its
    slack, m. clearance: with what the motion strays between frames taken off. freedoms: stage by stage, none where
    hinges have slack. room: what the whole motion sweeps, None where something meets. leaves: for each envelope its
    walls that the motion passes, and when. findings: the family's own. made: its panel section. latching: what each
    latch must find and pull, None where there is none to tell of.
    """

    evaluation: Evaluation
    design: Design
    motion: Motion
    clearance: Clearance
    stowed: tuple[Stowing, ...]
    settled: Settled
    closure: float
    freedoms: tuple[StageMobility, ...]
    room: Swept | None
    leaves: tuple[dict[str, float], ...]
    findings: dict[str, float]
    verified: bool
    reason: str
    made: Section
    latching: Latching | None = None


def verify(problem: Problem, cell: Cell, row: Floats) -> Verified | str:
    """Works one row [1, D] out in full; a sentence instead where it is no design at all."""
    columns = space(problem, cell).columns(row)
    with np.errstate(all="ignore"):
        bare = lay_bare(problem, cell, columns)
        laid, made, build = in_environment(problem, columns, bare)
    if not laid.status.ok[0]:
        return str(laid.status.reason[0])
    rough = evaluate(problem, cell, columns, (laid, made, build))
    design = laid.one(0)
    names = tuple(k.name for k in problem.keep_out)
    boxes = np.array([[k.min, k.max] for k in problem.keep_out], dtype=np.float64).reshape(-1, 2, 3)
    motion = motion_of(family_of(cell, columns), build, design)
    course = course_of(design, motion)
    clearance = less(prove(design, boxes, names, course), motion.between)
    if motion.slack:
        clearance = room_for_films(clearance, problem.film.film_thickness)
    stowed = tuple(stowed_size(stowed_points(design)[0], envelope) for envelope in problem.envelope)
    sources = {name: only(problem, name) for name in STEADY[:-1]}
    with np.errstate(all="ignore"):
        alone = {name: in_environment(asked, columns, bare)[0].one(0) for name, asked in sources.items()}
    network = settled(design, loads_of(problem), alone)
    shade = shadow(design, problem.aperture.clear_diameter, problem.transmissive)
    evaluation = replace(
        rough,
        design=design,
        stowed_size=np.stack([s.size for s in stowed])[None],
        fit=np.array([[s.fit for s in stowed]]),
        collecting_area=rough.collecting_area - shade,
        deployed=network.deployed,
        panel_gap=np.array([round(min(clearance.panel_gap, NOTHING_NEAR), 10)]),
        launch=held(problem, columns, np.array([0]), design, made, design.topology.panels),
        blur=blur(problem, network.deployed),
        drive=drive(design, motion.angles.T[None]),
        screened_out=np.zeros(1, dtype=bool),
    )
    closure = parting(design, motion)
    reason = clearance.reason if not clearance.clear else ""
    if not reason and closure > CLOSURE:
        reason = f"hinge lines part by {closure:.1e} m more than their slack along the path"
    if not reason and not network.settled:
        worst = max(network.order_sensitivity.values())
        reason = f"the plate polynomials do not settle: two more degrees change a figure by {100.0 * worst:.0f} %"
    closing = None
    latch = latch_of(problem, cell)
    if latch is not None and design.joint_masses.latch.any():
        closing = latching(design, loads_of(problem))
        kind = latch.numbers
        reason = reason or refusal(closing, float(kind.capture), float(kind.hold_force))
    free = freedoms(design, motion)
    solids = solids_of(design.topology, design.geometry, design.fittings, np.zeros((0, 2, 3)))
    room = room_of(solids, course, motion.between) if clearance.clear else None
    leaves = tuple(leaves_of(design, motion, solids, *both) for both in zip(problem.envelope, stowed, strict=True))
    told = {name: float(value[0]) for name, value in family_of(cell, columns).findings(build).items()}
    fine = not reason
    figures = (evaluation, design, motion, clearance, stowed, network, closure, free, room, leaves, told)
    return Verified(*figures, fine, reason, made, closing)


def freedoms(design: Design, motion: Motion) -> tuple[StageMobility, ...]:
    """Freedoms and redundant constraints of every stage, by rank at the frame nearest to its middle, others locked.

    None where hinges have slack: their loops hold nothing exactly.
    """
    if motion.slack:
        return ()
    middle = [int(np.abs(motion.s - (k.start + k.end) / 2.0).argmin()) for k in motion.stages]
    return tuple(stage_mobility(design.topology, design.geometry.axis, motion.angles[None, middle]))


def room_of(solids: Solids, course: Course, between: float) -> Swept:
    """Room that the motion sweeps, half of `between` (m) added for what a corner strays from the law."""
    return swept(course, solids, max(1, STATIONS // course.stages)).wider(between / 2.0)


def leaves_of(design: Design, motion: Motion, solids: Solids, envelope: Envelope, stowed: Stowing) -> dict[str, float]:
    """Walls of an envelope, its room inside the clearance, that the motion passes: wall to first frame beyond it.

    The stowed solids stand in the middle of the room: of a round one, the axis is that of their least circle.
    """
    points = stowed_points(design)[0] @ stowed.rotation.T
    centre = (points.min(axis=0) + points.max(axis=0)) / 2.0
    if envelope.kind == "round":
        centre[:2] = least_circle(points[None, :, :2])[0][0]
    walls = Walls(stowed.rotation, centre, envelope.allowed / 2.0, envelope.kind == "round")
    return walls_passed(motion.s, motion.poses, solids, walls)


def room_for_films(found: Clearance, thickness: float) -> Clearance:
    """The clearance of a candidate with membranes: where solids come so near that a film between them has no room.

    thickness: of the film, m. An allowance, not a proof: films are no solids here, and their path while they are
    loose is not followed. No two solids come nearer than PLIES layers of film, so that two films folded once between
    them are not pinched.
    """
    room = PLIES * thickness
    if not found.clear or KEPT * found.least_m >= room:
        return replace(found, method=f"{found.method}; {1e3 * room:.2g} mm kept for membranes folded between solids")
    reason = (
        f"{found.pair[0]} and {found.pair[1]} come within {1e3 * found.least_m:.3g} mm at s = {found.s:.4f}, and "
        f"membranes folded between them need {1e3 * room / KEPT:.3g} mm"
    )
    return replace(found, clear=False, reason=reason)


def less(found: Clearance, between: float) -> Clearance:
    """The clearance of a motion from whose law solids stray, so that two come nearer by at most `between` (m).

    The proof holds for the law (angles linear between frames). What it tells is a least distance d up to KEPT; the
    motion itself is clear where KEPT d exceeds `between`.
    """
    if not found.clear or between <= 0.0:
        return found
    least = found.least_m - between
    method = f"{found.method}; {1e6 * between:.3g} um taken off: the motion strays by no more between frames"
    if KEPT * found.least_m > between:
        return replace(found, least_m=least, method=method)
    reason = (
        f"{found.pair[0]} and {found.pair[1]} come within {1e6 * found.least_m:.3g} um at s = {found.s:.4f}, and the "
        f"loops stray by {1e6 * between:.3g} um between frames"
    )
    return replace(found, clear=False, least_m=min(least, 0.0), reason=reason, method=method)
