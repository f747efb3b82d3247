"""What holds before any search, whatever the way of folding: bounds, and why something cannot be."""

import math
from dataclasses import dataclass

from synth.core.material import ADHESIVE, FACED, LEAST_CORE, LEAST_FACE
from synth.core.units import show
from synth.problem.envelope import Envelope
from synth.problem.growth import least_growth
from synth.problem.objective import OBJECTIVES
from synth.problem.problem import Problem

THINNEST = 1e-3
FACE_SHARE = 1e-3
"""Least panel thickness (m) and least share of one face in a sandwich where the vocabulary does not tell them."""


@dataclass(frozen=True)
class Bounds:
    """Of one problem in one envelope, SI.

    least_area: receiving area that the panels must have at least (m^2; zero where no area
    is asked). least_thickness (m). least_volume: least_area times least_thickness (m^3).
    allowed_volume (m^3). largest_panel: area that no single panel can exceed (m^2).
    least_panels. least_mass (kg, with growth). reasons: why no candidate at all can meet
    the requirements; empty where none is known.
    """

    envelope: str
    clear_area: float
    least_area: float
    least_thickness: float
    least_volume: float
    allowed_volume: float
    largest_panel: float
    least_panels: int
    least_mass: float
    reasons: tuple[str, ...]


def bounds(problem: Problem, envelope: Envelope) -> Bounds:
    """Bounds by area, volume and mass.

    A flat panel inside the room projects onto the three faces of the room's box with areas
    whose squares add up to its own, so no panel's area exceeds the root of the sum of the
    squared face areas (a cylinder: faces d h, d h and pi d^2 / 4, since the projections onto
    any two upright planes and the circle do the same); nor max_panel_length squared. Panels
    are solids that do not meet, so that area times least thickness fits the room's volume.
    Valid for every way of folding (derived).
    """
    clear = math.pi / 4.0 * problem.aperture.clear_diameter**2
    area = problem.aperture.min_collecting_area or 0.0
    thickness = _least(problem, "build.thickness", THINNEST)
    volume = area * thickness
    largest = _largest_panel(problem, envelope)
    panels = max(1, math.ceil(area / largest - 1e-9))
    mass = area * _least_areal_mass(problem, thickness) * (1.0 + least_growth(problem))
    room = envelope.allowed_volume
    reasons = []
    if area > clear:
        reasons.append(
            f"aperture.min_collecting_area {show(area, 'm^2')} exceeds the clear circle's {show(clear, 'm^2')}"
        )
    if volume > room:
        reasons.append(
            f"panels of {show(thickness, 'm')} and {show(area, 'm^2')} fill {show(volume, 'm^3')},"
            f" the envelope leaves {show(room, 'm^3')}"
        )
    if panels > problem.choices.max_panels:
        reasons.append(
            f"no panel in this envelope can exceed {show(largest, 'm^2')}, so that {show(area, 'm^2')} takes"
            f" {panels} panels, and choices.max_panels is {problem.choices.max_panels}"
        )
    if mass > problem.mass.limit:
        reasons.append(
            f"the lightest panels of {show(area, 'm^2')} weigh {show(mass, 'kg')} with growth,"
            f" mass.limit is {show(problem.mass.limit, 'kg')}"
        )
    return Bounds(
        envelope.name, clear, area, thickness, volume, room, largest, panels, mass, tuple(reasons)
    )  # fmt: skip


def _least(problem: Problem, variable: str, otherwise: float) -> float:
    """The lower end of what is left of a variable."""
    known = problem.range_of(variable)
    return otherwise if known is None else known[0]


def _largest_panel(problem: Problem, envelope: Envelope) -> float:
    x, y, z = (float(v) for v in envelope.allowed)
    floor = x * y if envelope.kind == "box" else math.pi / 4.0 * x * x
    largest = math.sqrt(floor**2 + (y * z) ** 2 + (z * x) ** 2)
    length = problem.aperture.max_panel_length
    return largest if length is None else min(largest, length**2)


def _least_areal_mass(problem: Problem, thickness: float) -> float:
    """kg/m^2 of the lightest panel that can be built: a solid sheet, or a sandwich of the thinnest faces and core."""
    options = []
    if "solid" in problem.sections:
        options.append(min(m.density for m in problem.materials) * thickness)
    faced = [m.density for m in problem.materials if m.kind in FACED]
    if "sandwich" in problem.sections and faced:
        height = max(thickness, 2.0 * LEAST_FACE + LEAST_CORE)
        face = max(LEAST_FACE, _least(problem, "build.face_share", FACE_SHARE) * height)
        options.append(2.0 * face * min(faced) + (height - 2.0 * face) * problem.core.density + 2.0 * ADHESIVE)
    return min(options, default=0.0)


def objective_box(problem: Problem, envelope: Envelope) -> tuple[tuple[float, ...], tuple[float, ...]] | None:
    """Ideal and reference point of the search's objectives, maximised ones negated; None where bounds rule all out.

    Fixed before the search. Reference: the limit where there is one, else a stated coarse
    value; a goal of the file takes its place where it asks for more, so that only what is
    beyond the goal counts. Ideal: a bound that nothing can beat, or zero; for first_mode ten
    times the limit. A goal past the ideal leaves the reference as it is.
    """
    known = bounds(problem, envelope)
    if known.reasons:
        return None
    pairs = [_pair(name, problem, envelope, known) for name in problem.search.objectives]
    return tuple(low for low, _ in pairs), tuple(
        _focused(n, p, problem) for n, p in zip(problem.search.objectives, pairs, strict=True)
    )


def _focused(name: str, pair: tuple[float, float], problem: Problem) -> float:
    """The reference of an objective, tightened to its goal where the file has one."""
    low, high = pair
    if name not in problem.search.goals:
        return high
    goal = OBJECTIVES[name].sign * problem.search.goals[name]
    return goal if low < goal < high else high


def _pair(name: str, problem: Problem, envelope: Envelope, known: Bounds) -> tuple[float, float]:
    accuracy, aperture = problem.accuracy, problem.aperture
    most = problem.choices.max_panels
    side = max(float(v) for v in envelope.allowed)
    share = known.least_area / most
    mode = problem.structure.deployed_first_mode_min
    table: dict[str, tuple[float, float]] = {
        "stowed_volume": (known.least_volume, known.allowed_volume),
        "longest_stowed_side": (max(math.cbrt(known.least_volume), math.sqrt(share / math.sqrt(3.0))), side),
        "mass": (known.least_mass, problem.mass.limit),
        "surface_rms": (0.0, accuracy.surface_rms_limit or 1e-4 * aperture.clear_diameter),
        "in_plane_rms": (0.0, accuracy.in_plane_rms_limit or 1e-4 * aperture.clear_diameter),
        "blur": (0.0, accuracy.blur_limit or aperture.field_of_view or 1e-3),
        "collecting_area": (-known.clear_area, -known.least_area),
        "first_mode": (-10.0 * mode, -mode) if mode else (-100.0, 0.0),
        "part_count": (2.0 * known.least_panels - 1.0, 4.0 * most),
        "distinct_parts": (1.0, 2.0 * most + 2.0),
    }
    return table[name]
