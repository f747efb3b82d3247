"""The stowed stack as a record tells it: hold-downs of every panel, layers, what they carry."""

from typing import Any

import numpy as np

from synth.core.arrays import Floats
from synth.core.design import Design
from synth.core.polygon import area, centroid
from synth.record.file import tidy
from synth.structure.section import Section
from synth.structure.stack import PAD_LATERAL, PAD_NORMAL, POINTS, layers
from synth.structure.stowed import PAD_SHARE, carried_mass, hold_downs


def launch_record(design: Design, made: Section, load_g: float | None) -> dict[str, Any]:
    """What the launch figures stand on, of a batch of one: enough to work them out anew."""
    outline = design.geometry.outline
    points, used = hold_downs(outline, centroid(outline))
    radius = PAD_SHARE * np.sqrt(area(outline[0]))
    layer = layers(design)
    return {
        "load_g": load_g or 0.0,
        "stacked": bool(np.ptp(layer) > 0.0),
        "stack_points": POINTS,
        "pad_normal_n_per_m": PAD_NORMAL,
        "pad_lateral_n_per_m": PAD_LATERAL,
        "stress_per_moment_1_per_m2": tidy(float(made.stress_per_moment[0])),
        "allowable_pa": tidy(float(made.allowable[0])),
        "safety_factor": tidy(float(made.safety[0])),
        "panels": [
            _panel(p, layer, carried_mass(design)[0, p], points[0, p][used[0, p] > 0.0], radius[p])
            for p in range(outline.shape[1])
        ],
    }


def _panel(p: int, layer: Floats, mass: float, points: Floats, radius: float) -> dict[str, Any]:
    return {
        "panel": p,
        "layer": int(layer[p]),
        "carried_kg": tidy(float(mass)),
        "hold_downs": np.round(points, 9).tolist(),
        "pad_radius_m": tidy(float(radius)),
    }
