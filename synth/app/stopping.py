"""A recorded candidate laid out again, to ask what still moves when one of its stages stops half-way."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from synth.app import folder
from synth.cell import cell_from, space
from synth.core.arrays import Floats
from synth.core.design import Design
from synth.core.errors import InputError, RunFolderError
from synth.core.motion import Motion
from synth.evaluate import family_of, lay_out
from synth.fold.interference import Clearance
from synth.fold.partial import Onward, Stopped, nothing_left, onward, stopped
from synth.fold.route import motion_of
from synth.problem.problem import Problem

HALF_WAY = 0.5
SAME = 1e-9
"""m: a candidate laid out again from its genes must stand where its record says."""


@dataclass(frozen=True, eq=False)
class Laid:
    """One candidate as it moves, and the keep-out boxes [K, 2, 3] and their names."""

    design: Design
    motion: Motion
    boxes: Floats
    names: tuple[str, ...]

    def when(self, stage: int, share: float) -> Stopped:
        """What later stages can do once it has stopped there."""
        return stopped(self.design, self.motion, stage, share, self.boxes, self.names)

    def onward(self, stage: int) -> Iterator[Onward]:
        """Its later stages in order, once it has stopped half-way: each proven when it is asked for."""
        return onward(self.design, self.motion, stage, HALF_WAY, self.boxes, self.names)

    def nothing_left(self, stage: int) -> str:
        """Why nothing is left to move once it has stopped, or an empty text."""
        return nothing_left(self.design, self.motion, stage)


def stopped_stage(path: Path, candidate: str, where: str) -> tuple[dict[str, Any], str]:
    """What later stages can do when a stage stops: where is "STAGE" (half-way), "STAGE:SHARE", such as "1:0.3", or
    "all": every stage in turn, half-way, which takes a proof for each later one.

    Each answer is a proof over the whole way of the later stage. As a JSON document and as text. InputError where
    there is no such stage; RunFolderError where the record is not what its genes give.
    """
    record = folder.candidate_record(path, candidate)
    count = len(record["path"]["stages"])
    stage, share = (None, HALF_WAY) if where == "all" else _read(where, count)
    asked = laid_out(folder.problem_of(path), record)
    if stage is not None:
        found = asked.when(stage, share)
        return _document(found), _text(found, record)
    every = [asked.when(k, share) for k in range(count)]
    lines = [f"{record['id']}: every stage stopped half-way, and what later stages can then do", *map(_line, every)]
    return {"stages": [_document(k) for k in every]}, "\n".join(lines)


def _read(where: str, count: int) -> tuple[int, float]:
    number, _, part = where.partition(":")
    try:
        stage, share = int(number), float(part or 0.5)
    except ValueError:
        raise InputError(f"stopped: must be all, STAGE or STAGE:SHARE, such as 1:0.3; got '{where}'") from None
    if not 0 <= stage < count:
        raise InputError(f"stopped: there are stages 0 to {count - 1}; got {stage}")
    if not 0.0 <= share <= 1.0:
        raise InputError(f"stopped: the share must be 0 to 1; got {part}")
    return stage, share


def laid_out(problem: Problem, record: Mapping[str, Any]) -> Laid:
    """The candidate of a record. RunFolderError where it is not what its genes give."""
    cell, row = cell_from(problem, record["family"], record["genes"])
    columns = space(problem, cell).columns(row)
    laid, _, build = lay_out(problem, cell, columns)
    design = laid.one(0)
    motion = motion_of(family_of(cell, columns), build, design)
    told = np.asarray(record["path"]["poses"], dtype=np.float64)
    if told.shape != motion.poses.shape or np.abs(told - motion.poses).max() > SAME:
        raise RunFolderError(f"{record['id']}: its genes no longer give its record; it was made by another version")
    names = tuple(k.name for k in problem.keep_out)
    boxes = np.array([[k.min, k.max] for k in problem.keep_out], dtype=np.float64).reshape(-1, 2, 3)
    return Laid(design, motion, boxes, names)


def _clearance(found: Clearance) -> dict[str, Any]:
    least = found.least_m if np.isfinite(found.least_m) else None
    return {"clear": found.clear, "least_clearance_m": least, "reason": found.reason}


def _document(found: Stopped) -> dict[str, Any]:
    return {
        "stopped_stage": found.stage,
        "share": found.share,
        "note": found.note,
        "later_stages": [
            {"stage": o.stage, "next": _clearance(o.alone), "in_order": _clearance(o.in_order)} for o in found.onward
        ],
    }


def _text(found: Stopped, record: Mapping[str, Any]) -> str:
    head = f"{record['id']}: stage {found.stage} stopped after {100.0 * found.share:.0f} % of its way"
    if not found.onward:
        return f"{head}\n{found.note}"
    lines = [head, "Later stages, each proven over its whole way (s: 0 stowed, 1 deployed, of that stage):"]
    for o in found.onward:
        lines.append(f"  stage {o.stage} next: {_said(o.alone)}")
        if o.in_order is not o.alone:
            lines.append(f"  stage {o.stage} after those before it that could move: {_said(o.in_order)}")
    able = [str(o.stage) for o in found.onward if o.in_order.clear]
    lines.append(f"In order, {'stages ' + ', '.join(able) if able else 'no later stage'} can still deploy.")
    return "\n".join(lines)


def _line(found: Stopped) -> str:
    """One stage in a line: which later stages are free next, which in order, and what blocks the first that is not."""
    if not found.onward:
        return f"  stage {found.stage}: {found.note}"
    able, in_order = ([o.stage for o in found.onward if (o.alone, o.in_order)[k].clear] for k in (0, 1))
    told = f"  stage {found.stage}: free as the next one: {_listed(able)}; in order: {_listed(in_order)}"
    blocked = next((o for o in found.onward if not o.alone.clear), None)
    return told if blocked is None else f"{told}; stage {blocked.stage} next is BLOCKED, {blocked.alone.reason}"


def _listed(stages: list[int]) -> str:
    return ", ".join(map(str, stages)) or "none"


def _said(found: Clearance) -> str:
    if not found.clear:
        return f"BLOCKED, {found.reason}"
    return f"free, least clearance {1e3 * found.least_m:.3f} mm" if np.isfinite(found.least_m) else "free"
