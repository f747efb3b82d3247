"""The deployed modes as a record tells them."""

from typing import Any

import numpy as np

from synth.core.design import Design
from synth.record.candidate import SAME_CORNER
from synth.record.file import tidy
from synth.structure.settled import Settled

COMPONENTS = ("along the edge", "across the edge", "along z", "about the edge", "across the edge, turning", "about z")
KINDS = ("hinge", "latch", "mount")


def modes_record(design: Design, found: Settled) -> list[dict[str, Any]]:
    """Frequency, displacement of every outline corner (greatest 1), shares of energy by panel, joint and component."""
    if found.modes is None:
        return []
    told, outline = found.modes, design.geometry.cut[0]
    kept = np.abs(outline - np.roll(outline, 1, axis=1)).max(axis=-1) > SAME_CORNER
    return [
        {
            "frequency_hz": tidy(float(found.modes_hz[m])),
            "in_plane": _share(told.in_plane[m]),
            "panels_bending": _share(told.bending[m]),
            "moving": [_share(v) for v in told.moving[m]],
            "joints": _joints(design, told.joints[m]),
            "corners": [np.round(told.corners[m, p][kept[p]], 6).tolist() for p in range(len(kept))],
        }
        for m in range(len(found.modes_hz))
    ]


def _joints(design: Design, share: np.ndarray) -> list[dict[str, Any]]:
    """Joints by their share of the strain energy, the greatest first, with the component that holds most of it."""
    units = design.units
    by: dict[tuple[int, int], np.ndarray] = {}
    for u, key in enumerate(zip(units.kind.tolist(), units.owner.tolist(), strict=True)):
        by[key] = by.get(key, np.zeros(6)) + share[u]
    ordered = sorted(by.items(), key=lambda item: (-round(float(item[1].sum()), 9), item[0]))
    return [
        {"joint": "mount" if kind == 2 else f"{KINDS[kind]} {owner}", "share": _share(six.sum()),
         "component": COMPONENTS[int(six.argmax())]}
        for (kind, owner), six in ordered if six.sum() > 0.005
    ]  # fmt: skip


def _share(value: float) -> float:
    return round(float(value), 6) + 0.0
