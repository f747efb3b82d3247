"""Stowed size of a batch in all envelopes of a problem, boxes and cylinders alike."""

from collections.abc import Sequence
from typing import Literal, Protocol

import numpy as np

from synth.core.arrays import Floats
from synth.stow.box import Stowing, box_sizes, stowed_box
from synth.stow.cylinder import cylinder_sizes, stowed_cylinder

ROWS_AT_ONCE = 64
"""Candidates worked at once: bounds the memory and keeps the work in cache."""


class Room(Protocol):
    """What this module reads of an envelope."""

    @property
    def kind(self) -> Literal["box", "round"]: ...

    @property
    def allowed(self) -> Floats: ...


def stowed_sizes(points: Floats, envelopes: Sequence[Room]) -> tuple[Floats, Floats]:
    """Size [B, E, 3] m and fit [B, E] (greatest side over allowed side) of point sets [B, N, 3] in the root frame.

    See box_sizes and cylinder_sizes: attainable sizes, never better than the exact ones of stowed_size.
    """
    rows, count = len(points), len(envelopes)
    size, fit = np.zeros((rows, count, 3)), np.zeros((rows, count))
    boxes = [e for e, room in enumerate(envelopes) if room.kind == "box"]
    round_ones = [e for e in range(count) if e not in boxes]
    for start in range(0, rows, ROWS_AT_ONCE):
        part = slice(start, start + ROWS_AT_ONCE)
        if boxes:
            found = box_sizes(points[part], np.stack([envelopes[e].allowed for e in boxes]))
            size[part, boxes], fit[part, boxes] = found.size, found.ratio
        if round_ones:
            allowed = np.stack([envelopes[e].allowed for e in round_ones])
            size[part, round_ones], fit[part, round_ones] = cylinder_sizes(points[part], allowed)
    return size, fit


def stowed_size(points: Floats, envelope: Room) -> Stowing:
    """Best orientation of one candidate's points [N, 3] in one envelope, over the whole orientation family."""
    if envelope.kind == "box":
        return stowed_box(points, envelope.allowed)
    return stowed_cylinder(points, envelope.allowed)
