"""Whether what a record tells of its deployed modes holds together."""

from collections.abc import Mapping
from typing import Any

import numpy as np

from synth.recheck.finding import Notes


def check_modes(record: Mapping[str, Any], notes: Notes) -> None:
    """The first is the metric, frequencies rise, shares of energy add up, corners match outlines, the greatest 1."""
    modes = record.get("modes") or []
    if not modes:
        return
    told = [float(m["frequency_hz"]) for m in modes]
    first = float(record["metrics"]["first_mode_hz"])
    notes.near("modes", "first frequency against first_mode_hz", first, told[0], 1e-9 * max(1.0, first))
    notes.true(told == sorted(told), "modes", "frequencies", "rising", told)
    corners = [len(p["outline"]) for p in record["panels"]]
    for k, mode in enumerate(modes, start=1):
        notes.near("modes", f"kinetic energy by panel of mode {k}", 1.0, float(sum(mode["moving"])), 1e-3)
        strain = float(mode["panels_bending"]) + sum(float(j["share"]) for j in mode["joints"])
        # joints that hold less than half a per cent are not told
        least = 1.0 - 0.005 * (len(record["hinges"]) + len(record["latches"]) + 1) - 1e-3
        notes.true(least <= strain <= 1.0 + 1e-3, "modes", f"strain energy of mode {k}", "shares of one whole", strain)
        if notes.true([len(c) for c in mode["corners"]] == corners, "modes", f"corners of mode {k}", corners, "others"):
            most = max(float(np.linalg.norm(np.asarray(c), axis=1).max()) for c in mode["corners"])
            notes.near("modes", f"greatest displacement of mode {k}", 1.0, most, 1e-3)
