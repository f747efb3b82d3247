"""The error budget of a record: by source, by joint, by term, by datum, and what latches lock in."""

from typing import Any

import numpy as np

from synth.core.arrays import Floats
from synth.core.design import Design
from synth.record.file import tidy
from synth.structure.budget import DATUMS, TERMS, Budget
from synth.structure.network import Deployed

_MEASURES = ("surface_m2", "in_plane_m2", "slope_rad2")
_KINDS = ("hinge", "latch", "mount")


def budget_record(design: Design, deployed: Deployed, parts: Budget, refocus: bool) -> dict[str, Any]:
    """Plain values of the budget of a batch of one. Mean squares over the receiving faces about the datum told.

    sources: each alone; steady ones add as fields and not as squares. joints: shares of the joint misfits, which add up
    to the source "joint misfits". terms: the same by component of the misfit.
    """
    d = {name: float(np.asarray(getattr(deployed, name))[0]) for name in _OF_DEPLOYED}
    joints = parts.draws.sum(axis=2)
    rows = [
        ("joint misfits", (d["joints_m2"], d["in_plane_joints_m2"], d["slope_joints_rad2"])),
        ("panel figure", (d["figure_m2"], 0.0, d["slope_figure_rad2"])),
        *parts.steady.items(),
    ]
    return {
        "datum": DATUMS[2] if refocus else DATUMS[1],
        "datums_m2": {name: tidy(value) for name, value in parts.datums.items()},
        "sources": [_row("source", name, np.array(three)) for name, three in rows],
        "joints": [_row("joint", n, joints[:, at].sum(axis=1)) for n, at in _places(design, parts).items()],
        "terms": [_row("term", name, parts.draws[:, :, c].sum(axis=1)) for c, name in enumerate(TERMS)],
        "locked_in": _locked(design, parts),
    }


_OF_DEPLOYED = (
    "joints_m2",
    "in_plane_joints_m2",
    "slope_joints_rad2",
    "figure_m2",
    "slope_figure_rad2",
)


def _row(what: str, name: str, three: Floats) -> dict[str, Any]:
    return {what: name, **{m: tidy(float(v)) for m, v in zip(_MEASURES, three, strict=True)}}


def _names(design: Design) -> list[str]:
    """The joint of each unit, as the record calls it."""
    units = design.units
    pairs = zip(units.kind.tolist(), units.owner.tolist(), strict=True)
    return [_KINDS[kind] if kind == 2 else f"{_KINDS[kind]} {owner}" for kind, owner in pairs]


def _places(design: Design, parts: Budget) -> dict[str, list[int]]:
    """Draw groups of each joint, or of each common cause, by name."""
    found: dict[str, list[int]] = {}
    for name, group in zip(_names(design), parts.owner.tolist(), strict=True):
        cause = parts.causes[group]
        there = found.setdefault(f"common cause {cause}" if cause else name, [])
        if group not in there:
            there.append(group)
    return found


def _locked(design: Design, parts: Budget) -> dict[str, Any]:
    locked, names = parts.locked, _names(design)
    kinds = design.units.kind
    worst, steady = int(locked.force_n.argmax()), int(locked.steady_force_n.argmax())
    return {
        "energy_j": tidy(locked.energy_j),
        "hinges_j": tidy(float(locked.units_j[kinds == 0].sum())),
        "latches_j": tidy(float(locked.units_j[kinds == 1].sum())),
        "peak_force_n": tidy(float(locked.force_n[worst])),
        "peak_joint": names[worst],
        "steady_peak_force_n": tidy(float(locked.steady_force_n[steady])),
        "steady_peak_joint": names[steady],
    }
