"""Steady sources of error, and the problem with one of them alone or with one of them taken out."""

from synth.problem.problem import Problem
from synth.problem.sections import Environment

STEADY = ("thermal bow", "thermal growth", "moisture", "hinge creep", "gravity release")
"""Steady sources in the order in which they are told. Random ones are joint misfits and panel figure."""


def _fields(environment: Environment, source: str) -> dict[str, float]:
    """The fields of the environment that make a source."""
    e = environment
    return {
        "thermal bow": {"through_thickness_difference": e.through_thickness_difference, "heat_flux": e.heat_flux},
        "thermal growth": {"bulk_temperature_change": e.bulk_change},
        "moisture": {"moisture_strain": e.moisture_strain},
        "hinge creep": {"hinge_creep": e.hinge_creep},
        "gravity release": {"gravity_offload": e.gravity_offload},
    }[source]


def only(problem: Problem, *sources: str) -> Problem:
    """The problem with no steady source but those named (heat flux turned into the temperatures that it makes)."""
    kept: dict[str, float] = {}
    for source in sources:
        kept.update(_fields(problem.environment, source))
    return problem.model_copy(update={"environment": Environment(**kept)})


def without(problem: Problem, source: str) -> Problem:
    """The problem with one steady source taken out."""
    return only(problem, *(s for s in STEADY if s != source))
