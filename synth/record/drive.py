"""What turns the hinges, as a record tells it: torques at angles, margins, energy and speed at latch-up."""

from typing import Any

import numpy as np

from synth.core.arrays import Floats
from synth.core.design import Design
from synth.record.file import tidy
from synth.structure.drive import (
    COLD_FRICTION,
    COLD_HARNESS,
    HOT_SPRING,
    STAGE_SECONDS,
    Drive,
    Turning,
    coupled,
    damped_rate,
    end_rate,
    stored,
    turning,
)
from synth.structure.stowed import carried_mass
from synth.structure.torque import nasa_needed

FORMS = ("ECSS-E-ST-33-01C (6 March 2009) clause 4.7.5.3", "NASA-STD-5017B (2022-12-06) equation 4-1, analysis")


def drive_record(design: Design, found: Drive) -> dict[str, Any]:
    """The drive of a batch of one: factors, forms, and for each hinge its torques (nominal, room) at angles.

    Margins of a hinge in loops are those of the loop, told once in `loop`; its own are left out.
    """
    t = turning(design, carried_mass(design))
    bound = coupled(design)
    stowed = np.abs(design.geometry.stowed_angle)
    energy = stored(design.turns, stowed)[0]
    shared = {
        "stage_seconds": STAGE_SECONDS,
        "cold": {"friction": COLD_FRICTION, "harness": COLD_HARNESS},
        "hot": {"spring": HOT_SPRING},
        "forms": list(FORMS),
        "loop": {"ecss_margin": _number(found.ecss[0, 0]), "nasa_margin": _number(found.nasa[0, 0])} if bound else None,
    }
    rows = [_hinge(design, t, h, float(energy[h]), found, bound) for h in range(stowed.shape[1])]
    return {**shared, "hinges": rows}


def _hinge(design: Design, t: Turning, h: int, energy: float, found: Drive, bound: bool) -> dict[str, Any]:
    r = t.resisting
    inertia, turned = float(t.inertia[0, h]), float(abs(design.geometry.stowed_angle[0, h]))
    row: dict[str, Any] = {"hinge": h, "moved_inertia_kg_m2": tidy(inertia), "angle_rad": _numbers(t.angle[0, h])}
    for name in ("supplied", "spring", "friction", "hysteresis", "harness", "inertia"):
        values = t.supplied if name == "supplied" else getattr(r, name)
        row[f"{name}_n_m"] = _numbers(values[0, h])
    if not bound:
        row |= {"ecss_margin": _number(found.ecss[0, h]), "nasa_margin": _number(found.nasa[0, h])}
        row["one_spring_out_margin"] = _number(_one_out(design, t, h))
    row |= {"stored_energy_j": tidy(energy), "free_rate_rad_s": _number(end_rate(np.array(energy), np.array(inertia)))}
    return row | {"damped_rate_rad_s": _number(damped_rate(np.array(turned)))}


def _one_out(design: Design, t: Turning, h: int) -> Floats:
    """Least NASA margin with one of the hinge's springs out, every factor 1 (the standard's own row)."""
    units = int(((design.units.kind == 0) & (design.units.owner == h)).sum())
    needed = nasa_needed(t.resisting, "one spring out")[0, h]
    left = t.supplied[0, h] * (units - 1) / max(units, 1)
    return np.asarray((left / np.maximum(needed, 1e-12) - 1.0).min())


def _number(value: Floats | float) -> float:
    return tidy(float(value))


def _numbers(values: Floats) -> list[float]:
    return [float(f"{v:.6g}") for v in values]
