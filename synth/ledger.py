"""Metrics against requirements: margins, objectives and violations. A margin >= 0 always means met."""

from dataclasses import dataclass

import numpy as np

from synth.core.arrays import Floats
from synth.evaluate import Evaluation
from synth.metrics import METRICS, table
from synth.problem.objective import OBJECTIVES
from synth.problem.problem import Problem
from synth.problem.requirement import Requirement, requirements

UNSCREENED = 1e4
"""Violation added where the screen stopped a candidate before its structure was worked out."""
NO_DESIGN = 1e5
"""Violation added where there is no design at all: anything that can be built comes before it."""


@dataclass(frozen=True, eq=False)
class Ledger:
    """E envelopes, R requirements, M objectives.

    metrics: name -> [B] or [B, E]. margins [B, E, R]. objectives [B, E, M] minimised (maximised ones
    negated). violation [B, E]: sum of the negative margins and of the status residual; 0 where feasible.
    reason [B]: why a candidate is no design at all, empty where it is one.
    """

    requirements: tuple[Requirement, ...]
    metrics: dict[str, Floats]
    margins: Floats
    objectives: Floats
    violation: Floats
    reason: np.ndarray


def margin(direction: str, value: Floats, limit: float) -> Floats:
    """(limit - value) / |limit| for a maximum, (value - limit) / |limit| for a minimum; a zero limit counts as 1."""
    scale = abs(limit) if limit else 1.0
    return (limit - value) / scale if direction == "max" else (value - limit) / scale


def judge(problem: Problem, evaluation: Evaluation) -> Ledger:
    """Every requirement as a margin, every objective as a number to minimise."""
    asked = requirements(problem)
    values = table(evaluation)
    many = len(problem.envelope)
    rows = evaluation.rows

    def spread(name: str) -> Floats:
        value = values[name]
        return value if METRICS[name].by_envelope else np.repeat(value[:, None], many, axis=1)

    margins = np.stack([margin(r.direction, spread(r.metric), r.limit) for r in asked], axis=-1)
    sought = [OBJECTIVES[name] for name in problem.search.objectives]
    goals = np.stack([o.sign * spread(o.metric) for o in sought], axis=-1)
    structural = np.array([r.metric in STRUCTURAL for r in asked])
    skipped = evaluation.screened_out
    # what the screen left out has no structural figures: those margins do not count, a constant does
    counted = np.where(skipped[:, None, None] & structural, 0.0, np.minimum(margins, 0.0))
    violation = -counted.sum(axis=-1) - np.minimum(evaluation.status.residual, 0.0)[:, None]
    added = np.where(evaluation.status.ok, np.where(skipped, UNSCREENED, 0.0), NO_DESIGN)
    violation = violation + added[:, None]
    assert margins.shape == (rows, many, len(asked))
    return Ledger(asked, values, margins, goals, violation, evaluation.status.reason)


STRUCTURAL = frozenset(
    {
        "surface_rms_m",
        "in_plane_rms_m",
        "blur_rad",
        "first_mode_hz",
        "stowed_first_mode_hz",
        "launch_stress_ratio",
        "launch_contact_ratio",
        "torque_ratio",
    }
)
"""Metrics that need the structure, which the screen may skip."""
