"""One row of a batch, told in full: the candidate record (schema `candidate/1`)."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from synth.core.arrays import Floats, Ints
from synth.core.design import Design
from synth.core.fittings import NO_JOINT
from synth.record.file import tidy
from synth.record.model import SCHEMA

DECIMALS = 12
"""Decimals of lengths (m) and of rotation entries: half a picometre, far inside the 1e-9 m of a hinge's attachment."""
SAME_CORNER = 1e-9
"""Corners nearer than this (m) are one corner: outlines of a batch are padded by repeating corners."""


@dataclass(frozen=True, eq=False)
class Identity:
    """Who it is. An id stands for one design in one envelope; genes: name to number or word."""

    id: str
    family: str
    envelope: str
    problem_digest: str
    genes: Mapping[str, Any]


@dataclass(frozen=True, eq=False)
class Labels:
    """Words that the arrays do not carry.

    lumps: ("drive" or "restraint", name) of each of the Q point masses of the design, in their order.
    """

    material: str
    section: str
    hinge_kind: str
    latch_kind: str
    lumps: Sequence[tuple[str, str]] = ()


@dataclass(frozen=True, eq=False)
class Frames:
    """The path: s [S] rising from 0 to 1, poses [S, P, 3, 4] m, angles [S, H] rad; slack [H] m (none: all zero).

    stages: (hinge ids, (from, to)) in order; None: the stages of the topology, each with an equal share of s.
    """

    s: Floats
    poses: Floats
    angles: Floats
    stages: Sequence[tuple[Sequence[int], tuple[float, float]]] | None = None
    slack: Floats | None = None


@dataclass(frozen=True, eq=False)
class StowedPose:
    """rotation [3, 3] into the envelope's axes; size [3] m there."""

    rotation: Floats
    size: Floats


@dataclass(frozen=True, eq=False)
class Judgement:
    """What was found. metrics, accuracy: name to number. verification: as in the record (order_sensitivity nested).

    requirements: name, direction, value, limit, unit of each; its margin and ok are worked out from these.
    """

    metrics: Mapping[str, float]
    requirements: Sequence[Mapping[str, Any]]
    accuracy: Mapping[str, float]
    verification: Mapping[str, Any]


def candidate_record(
    *,
    identity: Identity,
    labels: Labels,
    design: Design,
    row: int,
    frames: Frames,
    stowed: StowedPose,
    judgement: Judgement,
) -> dict[str, Any]:
    """The record of row `row` of a batch: plain ints, floats, bools, texts, lists and dicts, ready for JSON.

    Lengths and rotations are rounded to 12 decimals, all else to 12 significant digits.
    Raises ValueError where a number is not finite or the shapes do not go together.
    """
    count, hinges = design.topology.panels, len(design.topology.hinges)
    if frames.poses.shape != (len(frames.s), count, 3, 4) or frames.angles.shape != (len(frames.s), hinges):
        raise ValueError(
            f"path of {len(frames.s)} frames, {count} panels, {hinges} hinges: "
            f"got poses {frames.poses.shape}, angles {frames.angles.shape}"
        )
    joints = _joints(design, row, labels, frames)
    return {
        "schema": SCHEMA,
        "id": identity.id,
        "family": identity.family,
        "envelope": identity.envelope,
        "problem_digest": identity.problem_digest,
        "genes": _named(identity.genes, "genes"),
        "panels": [_panel(design, row, p, labels) for p in range(count)],
        **joints,
        "fittings": _fittings(design, row),
        "drives": _lumps(design, row, labels, "drive"),
        "restraints": _lumps(design, row, labels, "restraint"),
        "path": {
            "s": _lengths(frames.s),
            "poses": _lengths(frames.poses),
            "angles": _lengths(frames.angles),
            "stages": _stages(design.topology.stage, frames),
        },
        "stowed": {"rotation": _lengths(stowed.rotation), "size_m": _lengths(stowed.size)},
        "metrics": _named(judgement.metrics, "metrics"),
        "requirements": [_requirement(r) for r in judgement.requirements],
        "accuracy": _named(judgement.accuracy, "accuracy"),
        "verification": _named(judgement.verification, "verification"),
    }


def _named(values: Mapping[str, Any], part: str) -> dict[str, Any]:
    """Plain values by name; a number that is not finite is told with its name."""
    out = {}
    for name, value in values.items():
        try:
            out[name] = _plain(value)
        except ValueError as fault:
            raise ValueError(f"{part}.{name}: {fault}") from None
    return out


def _plain(value: Any) -> Any:
    """A gene, metric or verdict as a plain JSON value."""
    if isinstance(value, Mapping):
        return {k: _plain(v) for k, v in value.items()}
    if isinstance(value, list):
        return [_plain(v) for v in value]
    if isinstance(value, bool | np.bool_):
        return bool(value)
    if isinstance(value, int | np.integer):
        return int(value)
    return tidy(float(value)) if isinstance(value, float | np.floating) else str(value)


def _lengths(values: Floats) -> Any:
    """Nested lists of lengths or rotation entries, rounded to 12 decimals, without minus zeros."""
    if not np.isfinite(values).all():
        raise ValueError("a record holds finite numbers only")
    return (np.round(np.asarray(values, dtype=np.float64), DECIMALS) + 0.0).tolist()


def _numbers(values: Floats) -> list[float]:
    return [tidy(float(v)) for v in values]


def _outline(corners: Floats) -> list[list[float]]:
    """[V, 2] with the repeated corners that pad a batch left out."""
    apart = np.abs(corners - np.roll(corners, 1, axis=0)).max(axis=-1) > SAME_CORNER
    found: list[list[float]] = _lengths(corners[apart])
    return found


def _panel(design: Design, row: int, p: int, labels: Labels) -> dict[str, Any]:
    panels, geometry = design.panels, design.geometry
    return {
        "id": p,
        "receiving": bool(design.topology.receiving[p]),
        "outline": _outline(geometry.cut[row, p]),
        "holes": [],
        "z_back": _lengths(-geometry.thickness[row]),
        "z_front": 0.0,
        **(_framed(design, row, p) if labels.section == "framed" else {}),
        "mass_kg": tidy(float(panels.mass[row, p])),
        "bulk_strain": tidy(float(panels.bulk_strain[row])),
        "bending_stiffness_n_m": tidy(float(panels.stiffness[row, p])),
        "poisson_ratio": tidy(float(panels.poisson[row])),
        "bow_1_per_m": tidy(float(panels.bow[row])),
        "figure_rms_m": tidy(float(panels.figure[row])),
        "material": labels.material,
        "section": labels.section,
    }


def _framed(design: Design, row: int, p: int) -> dict[str, Any]:
    """The opening of the frame, and how thick the sheet in front of it is."""
    sheet = {} if design.panels.sheet is None else {"sheet_thickness_m": _lengths(design.panels.sheet[row])}
    return {"windows": [_outline(design.windows[row, p])], **sheet}


def _unit(design: Design, row: int, u: int, feet: int) -> dict[str, Any]:
    units = design.units
    offset, cause = units.offset[row, u], "" if units.cause is None else str(units.cause[u])
    steady = {"free_offset": _numbers(offset)} if offset.any() else {}
    return {
        "at": _lengths(units.at[row, u]),
        "axes": _lengths(units.axes[row, u]),
        "stiffness": _numbers(units.stiffness[row, u]),
        "misfit_sigma": _numbers(units.sigma[row, u]),
        **steady,
        **({"cause": cause} if cause else {}),
        "feet": _lengths(units.feet[row, u, :feet]),
        "pad_radius_m": _lengths(units.pad_radius[row, u]),
    }


def _units_of(design: Design, row: int, kind: int, owner: int) -> list[dict[str, Any]]:
    found = np.flatnonzero((design.units.kind == kind) & (design.units.owner == owner))
    # the mount stands on panel 0 alone, so it has one foot
    return [_unit(design, row, int(u), 1 if kind == 2 else 2) for u in found]


def _joints(design: Design, row: int, labels: Labels, frames: Frames) -> dict[str, Any]:
    """hinges, latches and mount of the record."""
    masses = design.joint_masses
    slack = frames.slack if frames.slack is not None else np.zeros(len(design.topology.hinges))
    hinges = [
        {
            "id": h,
            "panels": [int(i), int(j)],
            "axis": _lengths(design.geometry.axis[row, h]),
            "stowed_angle_rad": _lengths(design.geometry.stowed_angle[row, h]),
            "kind": labels.hinge_kind if slack[h] == 0.0 else "membrane",
            "slack_m": _lengths(slack[h]),
            **_flexing(design, row, h),
            # of a membrane: what it spans deployed, and its slack
            **({"free_length_m": _lengths(slack[h] + design.edge_gap[row])} if slack[h] > 0.0 else {}),
            "mass_kg": tidy(float(masses.hinge[row, h])),
            "units": _units_of(design, row, 0, h),
        }
        for h, (i, j) in enumerate(design.topology.hinges)
    ]
    # a cell without latches carries no latch masses, whatever edges could be joined
    latches = [
        {
            "id": k,
            "panels": [int(i), int(j)],
            "kind": labels.latch_kind,
            "mass_kg": tidy(float(masses.latch[row, k])),
            "units": _units_of(design, row, 1, k),
        }
        for k, (i, j) in enumerate(design.topology.latchable[: masses.latch.shape[1]])
    ]
    mount = {"panel": 0, "mass_kg": tidy(float(masses.mount[row])), "units": _units_of(design, row, 2, 0)}
    return {"hinges": hinges, "latches": latches, "mount": mount}


def _flexing(design: Design, row: int, h: int) -> dict[str, float]:
    """Stress of what flexes in a hinge, stowed, times its factor of safety over its strength, where something does."""
    flexing = design.flexing
    return {} if flexing is None or flexing[row, h] == 0.0 else {"stress_ratio": tidy(float(flexing[row, h]))}


def _fittings(design: Design, row: int) -> list[dict[str, Any]]:
    """Fittings with room of their own; one without room and without mass says nothing and is left out."""
    f = design.fittings
    found = []
    corners = f.outline[row]
    apart = (np.abs(corners - np.roll(corners, 1, axis=1)).max(axis=-1) > SAME_CORNER).tolist()
    room = (f.z_front[row] - f.z_back[row] > SAME_CORNER).tolist()
    # all of them at once: rounding one after the other took longer than all else here
    rounded, low, high = _lengths(corners), _lengths(f.z_back[row]), _lengths(f.z_front[row])
    for k, mass in enumerate(f.mass[row].tolist()):
        outline = [corner for corner, kept in zip(rounded[k], apart[k], strict=True) if kept]
        if len(outline) < 3 or not room[k]:
            if mass > 0.0:
                raise ValueError(f"fitting {k} weighs {mass} kg but takes no room")
            continue
        joint = f"hinge {f.hinge[k]}" if f.hinge[k] != NO_JOINT else None
        if f.latch[k] != NO_JOINT:
            joint = f"latch {f.latch[k]}"
        found.append(
            {
                "panel": int(f.panel[k]),
                "joint": joint,
                "outline": outline,
                "z_back": low[k],
                "z_front": high[k],
                "mass_kg": tidy(mass),
            }
        )
    return found


def _lumps(design: Design, row: int, labels: Labels, role: str) -> list[dict[str, Any]]:
    if len(labels.lumps) != len(design.lumps_panel):
        raise ValueError(f"{len(design.lumps_panel)} point masses need as many labels, got {len(labels.lumps)}")
    return [
        {
            "name": name,
            "panel": int(design.lumps_panel[q]) if design.lumps_panel[q] >= 0 else None,
            "mass_kg": tidy(float(design.lumps_mass[row, q])),
        }
        for q, (what, name) in enumerate(labels.lumps)
        if what == role
    ]


def _stages(stage: Ints, frames: Frames) -> list[dict[str, Any]]:
    """Stages as given, or those of the topology [H], each with an equal share of s."""
    if frames.stages is not None:
        return [{"hinges": [int(h) for h in ids], "s": [tidy(a), tidy(b)]} for ids, (a, b) in frames.stages]
    numbers = sorted({int(k) for k in stage})
    share = 1.0 / max(len(numbers), 1)
    return [
        {"hinges": np.flatnonzero(stage == k).tolist(), "s": [tidy(n * share), tidy((n + 1) * share)]}
        for n, k in enumerate(numbers)
    ]


def _requirement(asked: Mapping[str, Any]) -> dict[str, Any]:
    """margin = (limit - value) / |limit| for max, (value - limit) / |limit| for min; a limit of 0 divides by 1."""
    value, limit = tidy(float(asked["value"])), tidy(float(asked["limit"]))
    room = limit - value if asked["direction"] == "max" else value - limit
    margin = tidy(room / (abs(limit) or 1.0))
    return {
        "name": str(asked["name"]),
        "direction": str(asked["direction"]),
        "value": value,
        "limit": limit,
        "unit": str(asked["unit"]),
        "margin": margin,
        "ok": margin >= 0.0,
    }
