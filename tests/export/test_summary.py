"""How a run ended, in words: what was spent, and why an envelope is empty."""

from typing import Any

from synth.export.summary import summary_text
from synth.fronts.front import Front
from synth.problem.objective import OBJECTIVES

GOALS = [OBJECTIVES[n] for n in ("stowed_volume", "mass")]


def told(state: str, families: dict[str, Any], evaluations: int = 300) -> list[str]:
    run = {"title": "A drawer", "state": state, "evaluations": evaluations, "seed": 2, "wall_time_s": 4.2,
           "envelopes": [{"name": "bay", "hypervolume": 0.0, "families": families}]}  # fmt: skip
    return summary_text(Front((), ()), GOALS, run).splitlines()


def test_a_stop_tells_what_was_spent_and_claims_nothing() -> None:
    lines = told("stopped", {"wing": {"evaluations": 20}, "fan": {"evaluations": 5}})
    assert lines[1] == "stopped: 25 of 300 candidates put forward for each envelope, seed 2, 4 s"
    assert lines[3] == "Envelope bay: nothing found yet"


def test_only_bounds_say_that_nothing_can_fit() -> None:
    ruled = {"evaluations": 0, "reason": "is 40 mm too long"}
    assert told("done", {"wing": ruled, "fan": ruled})[3] == "Envelope bay: nothing can fit"
    assert told("done", {"wing": ruled, "fan": ruled})[1].startswith("done: nothing to search, ")
    assert told("done", {"wing": ruled, "fan": {"evaluations": 1}}, 1)[3].startswith("Envelope bay: no design among")
    assert told("done", {"fan": {"evaluations": 1}}, 1)[1].startswith("done: 1 candidate put forward")
