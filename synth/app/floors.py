"""Accuracy that nothing can reach whatever the way of folding: proofs; warnings about passive joints and panel gaps."""

import math

from synth.core.units import show
from synth.export.needs import PUBLISHED, WITHIN_99
from synth.fold.hardware import LEAST_GAP
from synth.problem.problem import Problem
from synth.structure.section import FIGURE, FIGURE_ELSE, FIGURE_SANDWICH, FIGURE_SIZE


def figure_floor(problem: Problem) -> float:
    """Least panel figure (m rms) of any design: sum of area^2 over area is least for equal panels, so
    f sqrt(A / N) / 0.3 m with the flattest stock, the least area and the most panels (derived from the rule of
    synth.structure.section)."""
    plain = min(FIGURE.get(m.kind, FIGURE_ELSE) for m in problem.materials)
    flattest = plain if "solid" in problem.sections else max(plain, FIGURE_SANDWICH)
    area = problem.aperture.min_collecting_area or 0.0
    return flattest * math.sqrt(area / problem.choices.max_panels) / FIGURE_SIZE


def impossible(problem: Problem) -> str:
    """Why no design can be as flat as asked, or an empty text. A proof under the program's own rule of figure."""
    limit, floor = problem.accuracy.surface_rms_limit, figure_floor(problem)
    if limit is None or floor <= limit:
        return ""
    return (
        f"accuracy.surface_rms_limit {show(limit, 'm')} is less than the figure of the panels as made: at least "
        f"{show(floor, 'm')} with {problem.choices.max_panels} panels of the flattest material allowed. Needed: "
        "flatter stock, more and smaller panels, or active shape control"
    )


def passive_note(problem: Problem) -> str:
    """A warning, not a proof, where a limit over this span is beyond published passive deployments."""
    span = problem.aperture.clear_diameter
    told = []
    for name, limit in (
        ("surface_rms_limit", problem.accuracy.surface_rms_limit),
        ("in_plane_rms_limit", problem.accuracy.in_plane_rms_limit),
    ):
        if limit is not None and WITHIN_99 * limit / span < PUBLISHED[0]:
            told.append(f"accuracy.{name} {show(limit, 'm')}")
    if not told:
        return ""
    return (
        f"{' and '.join(told)} over {show(span, 'm')}: published passive deployments repeat to 1.4-26.4 um a metre "
        "(99 %, Heald and Peterson 2004). Expect joints to block; needed would be active alignment after deployment, "
        "or kinematic seats on every edge and fewer, bigger panels"
    )


def gap_note(problem: Problem) -> str:
    """A warning where less is asked between stowed panels than is laid out at least, or an empty text."""
    gap = problem.structure.panel_gap
    if gap >= LEAST_GAP:
        return ""
    return (
        f"structure.panel_gap {show(gap, 'm')}: candidates are laid out with {show(LEAST_GAP, 'm')} at least between "
        "layers; with none they touch, and every stack would be refused. It is nominal size: ask for what your "
        "tolerances need"
    )


def notes(problem: Problem) -> list[str]:
    """All warnings about a problem; none of them rules anything out."""
    return [note for note in (passive_note(problem), gap_note(problem)) if note]
