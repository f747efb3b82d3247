"""A recorded candidate laid out again, to ask what still moves when one of its stages stops half-way."""

from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np

from synth.app import folder
from synth.cell import cell_from, space
from synth.core.errors import InputError, RunFolderError
from synth.evaluate import family_of, lay_out
from synth.fold.interference import Clearance
from synth.fold.partial import Stopped, stopped
from synth.fold.route import motion_of
from synth.problem.problem import Problem

SAME = 1e-9
"""m: a candidate laid out again from its genes must stand where its record says."""


def stopped_stage(path: Path, candidate: str, where: str) -> tuple[dict[str, Any], str]:
    """What later stages can do when a stage stops: where is "STAGE" (half-way) or "STAGE:SHARE", such as "1:0.3".

    Each answer is a proof over the whole way of the later stage. As a JSON document and as text. InputError where
    there is no such stage; RunFolderError where the record is not what its genes give.
    """
    record = folder.candidate_record(path, candidate)
    stage, share = _read(where, len(record["path"]["stages"]))
    found = _ask(folder.problem_of(path), record, stage, share)
    return _document(found), _text(found, record)


def _read(where: str, count: int) -> tuple[int, float]:
    number, _, part = where.partition(":")
    try:
        stage, share = int(number), float(part or 0.5)
    except ValueError:
        raise InputError(f"stopped: must be STAGE or STAGE:SHARE, such as 1:0.3; got '{where}'") from None
    if not 0 <= stage < count:
        raise InputError(f"stopped: there are stages 0 to {count - 1}; got {stage}")
    if not 0.0 <= share <= 1.0:
        raise InputError(f"stopped: the share must be 0 to 1; got {part}")
    return stage, share


def _ask(problem: Problem, record: Mapping[str, Any], stage: int, share: float) -> Stopped:
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
    return stopped(design, motion, stage, share, boxes, names)


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


def _said(found: Clearance) -> str:
    if not found.clear:
        return f"BLOCKED, {found.reason}"
    return f"free, least clearance {1e3 * found.least_m:.3f} mm" if np.isfinite(found.least_m) else "free"
