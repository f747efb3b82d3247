"""Partial deployment: what still moves when one stage has stopped half-way."""

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from synth.core.arrays import Floats
from synth.core.design import Design
from synth.core.motion import Motion, StageSpan
from synth.fold.course import Course
from synth.fold.interference import Clearance, prove

ONE_MECHANISM = "its hinges form loops: all of them move together or not at all, and nothing is left to move"
LAST = "it is the last stage"


@dataclass(frozen=True, eq=False)
class Onward:
    """A later stage after another has stopped. alone: it moves next, all others rest. in_order: it moves after those
    stages between that could (the others rest stowed). Each is a proof over its whole way."""

    stage: int
    alone: Clearance
    in_order: Clearance


@dataclass(frozen=True, eq=False)
class Stopped:
    """stage and share of its turn at which it stopped; onward: later stages in order; note: why there are none."""

    stage: int
    share: float
    onward: tuple[Onward, ...]
    note: str


def stopped(
    design: Design,
    motion: Motion,
    stage: int,
    share: float,
    keep_out: Floats | None = None,
    names: tuple[str, ...] = (),
) -> Stopped:
    """What later stages can do once `stage` has stopped after `share` of its way (0..1): a batch of one.

    Earlier stages are deployed, later ones stowed. Only trees of true hinges can go on: with loops or slack one
    stopped hinge stops what it is joined to, and `note` says so. Raises ValueError where there is no such stage.
    """
    if not 0 <= stage < len(motion.stages):
        raise ValueError(f"stage: must be 0 to {len(motion.stages) - 1}, got {stage}")
    if not 0.0 <= share <= 1.0:
        raise ValueError(f"share: must be 0 to 1, got {share}")
    found = tuple(onward(design, motion, stage, share, keep_out, names))
    return Stopped(stage, share, found, nothing_left(design, motion, stage))


def nothing_left(design: Design, motion: Motion, stage: int) -> str:
    """Why nothing is left to move once `stage` has stopped, or an empty text where there is."""
    if len(design.topology.closing) or motion.slack:
        return ONE_MECHANISM
    return LAST if stage == len(motion.stages) - 1 else ""


def onward(
    design: Design,
    motion: Motion,
    stage: int,
    share: float,
    keep_out: Floats | None = None,
    names: tuple[str, ...] = (),
) -> Iterator[Onward]:
    """The later stages of `stopped` in order, each proven when it is asked for: a proof or two, 0.1 to 0.3 s."""
    if nothing_left(design, motion, stage):
        return
    span = motion.stages[stage]
    held = angles_at(motion, span.start + share * (span.end - span.start))
    gone = held
    for k in range(stage + 1, len(motion.stages)):
        alone = _move(design, motion, held, motion.stages[k], keep_out, names)
        # where every stage between could move or none did, both questions are one
        same = bool(np.array_equal(gone, held))
        in_order = alone if same else _move(design, motion, gone, motion.stages[k], keep_out, names)
        yield Onward(k, alone, in_order)
        if in_order.clear:
            gone = gone.copy()
            gone[list(motion.stages[k].hinges)] = 0.0


def angles_at(motion: Motion, s: float) -> Floats:
    """Hinge angles [H] at s, linear between knots."""
    at, angles = motion.s[motion.knots], motion.angles[motion.knots]
    return np.array([np.interp(s, at, angles[:, h]) for h in range(angles.shape[1])])


def _move(
    design: Design, motion: Motion, held: Floats, span: StageSpan, keep_out: Floats | None, names: tuple[str, ...]
) -> Clearance:
    """One stage on its way from its stowed angles to deployed, all other hinges held."""
    mine = list(span.hinges)
    at = motion.s[motion.knots]
    inside = (at >= span.start - 1e-12) & (at <= span.end + 1e-12)
    knots = (at[inside] - span.start) / (span.end - span.start)
    angles = np.repeat(held[None], len(knots), axis=0)
    angles[:, mine] = motion.angles[motion.knots][inside][:, mine]
    course = Course.along(design.topology, design.geometry.axis[0], knots, angles)
    return prove(design, keep_out, names, course)
