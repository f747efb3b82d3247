"""From a verified candidate to its records: one draft a design, one record an envelope."""

import pickle
import zlib
from typing import Any

import numpy as np

from synth.cell import Cell, latch_of, space
from synth.core.arrays import Floats
from synth.core.material import Material
from synth.hinges.kind import JointKind
from synth.ledger import Ledger
from synth.metrics import METRICS
from synth.problem.growth import growth_of
from synth.problem.problem import Problem
from synth.record.budget import budget_record
from synth.record.candidate import Frames, Identity, Judgement, Labels, StowedPose, candidate_record
from synth.record.drive import drive_record
from synth.record.file import tidy
from synth.record.growth import mass_growth
from synth.record.launch import launch_record
from synth.record.modes import modes_record
from synth.record.optics import optics_record
from synth.verify import NOTHING_NEAR, Verified


def drafts(problem: Problem, cell: Cell, row: Floats, found: Verified, ledger: Ledger) -> list[dict[str, Any]]:
    """The record of one verified candidate (row [1, D] of its cell) in every envelope; the id is left empty.

    ledger: of found.evaluation. The caller gives the id when the candidate enters a front.
    """
    genes = space(problem, cell).genes(row[0])
    moves = found.motion
    stages = [(k.hinges, (k.start, k.end)) for k in moves.stages]
    frames = Frames(moves.s, moves.poses, moves.angles, stages, found.design.geometry.slack[0])
    latch = latch_of(problem, cell)
    labels = _labels(problem, found, genes, latch)
    out = []
    for e, envelope in enumerate(problem.envelope):
        metrics = {n: float(v[0, e] if METRICS[n].by_envelope else v[0]) for n, v in ledger.metrics.items()}
        asked = [
            {
                "name": r.name,
                "direction": r.direction,
                "value": metrics[r.metric],
                "limit": r.limit,
                "unit": r.unit,
            }
            for r in ledger.requirements
        ]
        judgement = Judgement(metrics, asked, _accuracy(found), _verification(found, e))
        stowed = StowedPose(found.stowed[e].rotation, found.stowed[e].size)
        identity = Identity("", cell.family, envelope.name, problem.digest, genes)
        record = candidate_record(
            identity=identity,
            labels=labels,
            design=found.design,
            row=0,
            frames=frames,
            stowed=stowed,
            judgement=judgement,
        )
        mass = mass_growth(record, growth_of(problem), float(found.evaluation.panel_growth[0]))
        told = {"mass_growth": mass, "drive": drive_record(found.design, found.evaluation.drive)}
        told["launch"] = launch_record(found.design, found.made, problem.structure.launch_load_g)
        told["modes"] = modes_record(found.design, found.settled)
        record["latches"] = _closing(latch, found, record["latches"])
        out.append({**record, **_own(problem, labels), **told, **_budget(problem, found), **_motion(record, found, e)})
    return out


def _own(problem: Problem, labels: Labels) -> dict[str, Any]:
    """The catalogue entries of the problem's own that a candidate is built of, marked; nothing where there are none."""
    used = {("material", labels.material), ("joint", problem.mount_kind.name)}
    used |= {("joint", labels.hinge_kind), ("joint", labels.latch_kind)}
    found = [e for e in problem.catalogue.own_entries() if (e["what"], e["id"]) in used]
    return {"own_catalogue": found} if found else {}


def _closing(latch: JointKind | None, found: Verified, latches: list[dict[str, Any]]) -> list[dict[str, Any]]:
    """Latches with what each must find and pull before it holds, against what its kind captures and holds."""
    told = found.latching
    if told is None or latch is None:
        return latches
    kind = latch.numbers
    limits = {"captures_m": tidy(float(kind.capture)), "holds_n": tidy(float(kind.hold_force))}
    limits["opens_with_j"] = tidy(float(kind.hold_energy))
    figures = zip(told.sideways, told.across, told.force, strict=True)
    return [
        {**one, "closing": {
            "sideways_m": tidy(float(s)), "across_m": tidy(float(a)), "force_n": tidy(float(f)), **limits,
        }}
        for one, (s, a, f) in zip(latches, figures, strict=True)
    ]  # fmt: skip


def _budget(problem: Problem, found: Verified) -> dict[str, Any]:
    """The error budget and the optics; none where the network could not be worked out in full."""
    parts = found.settled.budget
    if parts is None:
        return {}
    figures = found.settled.deployed
    return {
        "budget": budget_record(found.design, figures, parts, problem.accuracy.refocus),
        "optics": optics_record(problem, found.design, figures, float(found.evaluation.collecting_area[0])),
    }


def _motion(record: dict[str, Any], found: Verified, envelope: int) -> dict[str, Any]:
    """The path with the freedoms of its stages, and the room that it sweeps."""
    free: list[dict[str, int]] = [{} for _ in found.motion.stages]
    for k, told in enumerate(found.freedoms):
        free[k] = {
            "freedoms": int(told.mobility.freedoms[0]),
            "redundant_constraints": int(told.mobility.redundant[0]),
        }
    stages = [{**stage, **more} for stage, more in zip(record["path"]["stages"], free, strict=True)]
    out: dict[str, Any] = {"path": {**record["path"], "stages": stages}}
    if found.findings:
        out["construction"] = {name: tidy(value) for name, value in found.findings.items()}
    room = found.room
    if room is not None:
        out["swept"] = {
            "box_m": [[tidy(float(x)) for x in corner] for corner in room.box],
            "cylinder_radius_m": tidy(room.radius),
            "stowed_box_m": [[tidy(float(x)) for x in corner] for corner in room.stowed],
            "leaves": _leaves(room.leaves),
            "leaves_envelope": _leaves(found.leaves[envelope]),
        }
    return out


def _leaves(found: dict[str, float]) -> list[dict[str, Any]]:
    return [{"face": face, "s": tidy(s)} for face, s in sorted(found.items(), key=lambda f: f[1])]


def packed(found: list[dict[str, Any]]) -> bytes:
    """Drafts as bytes: packed where they are made, so that whoever collects them only writes them down."""
    return zlib.compress(pickle.dumps(found, protocol=5), 1)


def unpacked(content: bytes) -> list[dict[str, Any]]:
    """Drafts from bytes that this program packed (a pickle: of one's own run folder only)."""
    found: list[dict[str, Any]] = pickle.loads(zlib.decompress(content))
    return found


def _labels(problem: Problem, found: Verified, genes: dict[str, float | int | str], latch: JointKind | None) -> Labels:
    names = found.design.lumps_name
    lumps = [(n.split(" ", 1)[0], n.split(" ", 1)[1]) for n in names]
    material: Material = next(m for m in problem.materials if m.id == genes["build.material"])
    return Labels(
        material=material.id,
        section=str(genes["build.section"]),
        hinge_kind=str(genes["build.hinge"]),
        latch_kind=latch.name if latch is not None else "none",
        lumps=lumps,
    )


def _accuracy(found: Verified) -> dict[str, float]:
    d = found.evaluation.deployed
    names = ("joints_m2", "figure_m2", "bow_m2", "gravity_m2", "steady_m2", "in_plane_joints_m2")
    return {n: float(np.asarray(getattr(d, n))[0]) for n in names}


def _verification(found: Verified, envelope: int) -> dict[str, Any]:
    return {
        "verified": found.verified,
        "closure_residual_m": found.closure,
        "between_frames_m": found.motion.between,
        "least_clearance_m": min(found.clearance.least_m, NOTHING_NEAR),
        "clearance_method": found.clearance.method,
        "fits": bool(found.stowed[envelope].fit <= 1.0),
        "plate_degree": found.settled.plate_degree,
        "order_sensitivity": found.settled.order_sensitivity,
        "reason": found.reason,
        **_nearest(found),
    }


def _nearest(found: Verified) -> dict[str, Any]:
    """The two solids that come nearest (or meet) and at which s; nothing where no two can meet."""
    clearance = found.clearance
    if clearance.least_m > NOTHING_NEAR:
        return {}
    return {"least_clearance_between": list(clearance.pair), "least_clearance_s": clearance.s}
