"""Entries of made-up fronts: two objectives or three, any limits, any box."""

from collections.abc import Sequence
from typing import Any

import numpy as np

from synth.cell import vocabulary
from synth.core.arrays import Floats
from synth.fronts.entry import Detail, Entry
from synth.fronts.front import Front, Row
from synth.problem import Problem, from_mapping

METRICS = {"stowed_volume": "stowed_volume_m3", "mass": "mass_kg", "surface_rms": "surface_rms_m"}


def problem(size: Sequence[float] = (0.6, 0.45, 0.3), mass: float = 10.0, **other: Any) -> Problem:
    data = {
        "schema": "problem/1",
        "title": "Made up",
        "aperture": {"clear_diameter": 0.6},
        "envelope": [{"name": "room", "size": list(size)}],
        "mass": {"limit": mass},
        "search": {"objectives": list(METRICS)},
        **other,
    }
    return from_mapping(data, "made up", vocabulary())


def entry(
    points: Floats,
    label: str = "a",
    families: Sequence[str] | None = None,
    margins: Sequence[dict[str, float]] | None = None,
    asked: Problem | None = None,
) -> Entry:
    """points [n, 3] of volume, mass and surface rms."""
    asked = asked or problem()
    rows = []
    for k, p in enumerate(np.asarray(points, dtype=np.float64)):
        metrics = {**dict(zip(METRICS.values(), p.tolist(), strict=True)), "panel_count": 4.0 + k}
        rows.append(Row(f"{label}-{k}", "room", families[k] if families else "wing", True, True, metrics))
    details = {r.id: Detail(margins[k] if margins else {"mass.limit": 0.5}, 0.004) for k, r in enumerate(rows)}
    front = Front((*METRICS.values(), "panel_count"), tuple(rows))
    run = {"id": label, "state": "done", "evaluations": 100, "seed": 1}
    box = np.zeros(3), np.array([0.05, asked.mass.limit, 2e-5])
    return Entry(label, label, asked.envelope[0], asked, run, front, details, *box)


def cloud(seed: int, count: int = 12) -> Floats:
    """Mutually non-dominated points of the size of real ones: on a sphere's inner octant."""
    rng = np.random.default_rng(seed)
    v = np.abs(rng.standard_normal((count, 3)))
    return np.asarray((1.1 - v / np.linalg.norm(v, axis=1, keepdims=True)) * [0.02, 5.0, 1e-5])
