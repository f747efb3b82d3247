"""Steady errors and common causes of joint units: how joints grow, how they creep, and whose misfits are one."""

from dataclasses import replace

import numpy as np

from synth.core.arrays import Column, Floats
from synth.core.joints import Units

COMMON = ("none", "edge", "kind")
"""Whose misfits share their draws: no two units, all units of one joint, all hinges (and all latches) of a design."""


def with_steady(units: Units, stowed_angle: Floats, growth: tuple[Column, float], creep: float, common: str) -> Units:
    """The units with their steady free offsets and causes.

    stowed_angle [B, H], rad. growth: free strain of the metal of hinges [B] and of latches: the parts between two feet
    grow by strain x the feet's distance across the edge. creep (rad): angle that each hinge edge keeps towards its
    fold. The mount has neither: its legs flex. Valid for small strains and angles.
    """
    hinge, latch = units.kind == 0, units.kind == 1
    span = np.linalg.norm(units.feet[:, :, 1] - units.feet[:, :, 0], axis=-1)
    offset = np.zeros_like(units.stiffness)
    offset[:, hinge, 1] = growth[0][:, None] * span[:, hinge]
    offset[:, latch, 1] = growth[1] * span[:, latch]
    offset[:, hinge, 3] = creep * np.sign(stowed_angle[:, units.owner[hinge]])
    return replace(units, free_offset=offset, cause=_causes(units, common))


def _causes(units: Units, common: str) -> np.ndarray | None:
    if common == "none":
        return None
    names = {0: "hinge", 1: "latch"}
    pairs = zip(units.kind.tolist(), units.owner.tolist(), strict=True)
    if common == "kind":
        return np.array([{0: "hinges", 1: "latches"}.get(kind, "") for kind, _ in pairs])
    return np.array([f"{names[kind]} {owner}" if kind in names else "" for kind, owner in pairs])
