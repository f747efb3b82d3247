"""What a candidate must hold, and which metric tells whether it does."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from synth.problem.problem import Problem

Direction = Literal["max", "min"]


@dataclass(frozen=True)
class Requirement:
    """name: the problem's field. direction: "max" where the metric may not exceed the limit, "min" where it must
    reach it. limit in SI unit, never zero. metric: name of the metric held against it."""

    name: str
    direction: Direction
    limit: float
    unit: str
    metric: str

    def margin(self, value: float) -> float:
        """(limit - value) / |limit| for max, (value - limit) / |limit| for min: zero or more where met."""
        slack = self.limit - value if self.direction == "max" else value - self.limit
        return slack / abs(self.limit)


def requirements(problem: Problem) -> tuple[Requirement, ...]:
    """Every requirement that the file asks, in fixed order; envelope.fit is always there and first.

    Left out: fields that were not given, and gaps of zero, which nothing can fail.
    """
    asked = [Requirement("envelope.fit", "max", 1.0, "1", "fit_ratio")]
    asked += [Requirement(*row, metric=metric) for *row, metric in _table(problem) if row[2] is not None]
    return tuple(asked)


_Row = tuple[str, Direction, float | None, str, str]


def _table(problem: Problem) -> Iterator[_Row]:
    mass, accuracy, aperture, structure = problem.mass, problem.accuracy, problem.aperture, problem.structure
    yield "mass.limit", "max", mass.limit, "kg", "mass_kg"
    yield "accuracy.surface_rms_limit", "max", accuracy.surface_rms_limit, "m", "surface_rms_m"
    yield "accuracy.in_plane_rms_limit", "max", accuracy.in_plane_rms_limit, "m", "in_plane_rms_m"
    yield "accuracy.blur_limit", "max", accuracy.blur_limit, "rad", "blur_rad"
    yield "aperture.min_collecting_area", "min", aperture.min_collecting_area, "m^2", "collecting_area_m2"
    yield "aperture.min_panel_width", "min", aperture.min_panel_width, "m", "least_panel_width_m"
    yield "aperture.max_panel_length", "max", aperture.max_panel_length, "m", "longest_panel_m"
    yield "structure.deployed_first_mode_min", "min", structure.deployed_first_mode_min, "Hz", "first_mode_hz"
    yield "structure.stowed_first_mode_min", "min", structure.stowed_first_mode_min, "Hz", "stowed_first_mode_hz"
    load = None if structure.launch_load_g is None else 1.0
    yield "structure.launch_stress", "max", load, "1", "launch_stress_ratio"
    for field, metric in (("panel_gap", "panel_gap_m"), ("edge_gap", "edge_gap_m")):
        gap = getattr(structure, field)
        yield f"structure.{field}", "min", gap if field in structure.model_fields_set and gap > 0.0 else None, "m", metric
