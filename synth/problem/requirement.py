"""What a candidate must hold, and which metric tells whether it does."""

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal

from synth.problem.objective import OBJECTIVES, Objective
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
    asked += [Requirement(f, d, limit, unit, metric) for f, d, limit, unit, metric in _table(problem) if limit]
    return tuple(asked)


def objectives(problem: Problem) -> tuple[Objective, ...]:
    """The objectives that the file asks, in its order."""
    return tuple(OBJECTIVES[name] for name in problem.search.objectives)


_Row = tuple[str, Direction, float | None, str, str]


def _table(problem: Problem) -> Iterator[_Row]:
    mass, accuracy, aperture, structure = problem.mass, problem.accuracy, problem.aperture, problem.structure
    stress = None if structure.launch_load_g is None else 1.0
    given = structure.model_fields_set
    yield "mass.limit", "max", mass.limit, "kg", "mass_kg"
    yield "accuracy.surface_rms_limit", "max", accuracy.surface_rms_limit, "m", "surface_rms_m"
    yield "accuracy.in_plane_rms_limit", "max", accuracy.in_plane_rms_limit, "m", "in_plane_rms_m"
    yield "accuracy.blur_limit", "max", accuracy.blur_limit, "rad", "blur_rad"
    judged = aperture.field_of_view if aperture.optic == "reflective" or aperture.focal_ratio else None
    yield "aperture.field_of_view", "max", judged, "rad", "blur_rad"
    yield "aperture.min_collecting_area", "min", aperture.min_collecting_area, "m^2", "collecting_area_m2"
    yield "aperture.min_panel_width", "min", aperture.min_panel_width, "m", "least_panel_width_m"
    yield "aperture.max_panel_length", "max", aperture.max_panel_length, "m", "longest_panel_m"
    yield "structure.deployed_first_mode_min", "min", structure.deployed_first_mode_min, "Hz", "first_mode_hz"
    yield "structure.stowed_first_mode_min", "min", structure.stowed_first_mode_min, "Hz", "stowed_first_mode_hz"
    yield "structure.launch_stress", "max", stress, "1", "launch_stress_ratio"
    yield "structure.launch_contact_limit", "max", structure.launch_contact_limit, "1", "launch_contact_ratio"
    flexes = 1.0 if any(kind.flexes for kind in problem.hinge_kinds) else None
    yield "structure.hinge_stress", "max", flexes, "1", "hinge_stress_ratio"
    yield "structure.torque_ratio_min", "min", structure.torque_ratio_min, "1", "torque_ratio"
    yield "structure.panel_gap", "min", structure.panel_gap if "panel_gap" in given else None, "m", "panel_gap_m"
    yield "structure.edge_gap", "min", structure.edge_gap if "edge_gap" in given else None, "m", "edge_gap_m"
