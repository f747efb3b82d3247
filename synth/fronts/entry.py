"""One envelope of one run, as it enters a comparison."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any

import numpy as np

from synth.core.arrays import Floats
from synth.fronts.front import Front, Row
from synth.problem.envelope import Envelope
from synth.problem.objective import OBJECTIVES, Objective
from synth.problem.problem import Problem


@dataclass(frozen=True)
class Detail:
    """What a comparison takes from a candidate record: every requirement's margin, and the panel thickness (m) where
    the record tells it."""

    margins: Mapping[str, float]
    thickness: float | None


@dataclass(frozen=True, eq=False)
class Entry:
    """front: the feasible rows only. run: run.json. ideal, reference: of all objectives of its own run, or None where
    the run had no box."""

    label: str
    folder: str
    envelope: Envelope
    problem: Problem
    run: Mapping[str, Any]
    front: Front
    details: Mapping[str, Detail] = field(default_factory=dict)
    ideal: Floats | None = None
    reference: Floats | None = None

    def points(self, objectives: Sequence[Objective]) -> Floats:
        """[n, M] minimised objectives of the rows."""
        return self.front.points([o.metric for o in objectives], [o.sign for o in objectives])

    def box(self, objectives: Sequence[Objective]) -> tuple[Floats, Floats] | None:
        """Ideal and reference point in some of the run's objectives, or None."""
        if self.ideal is None or self.reference is None:
            return None
        place = [self.problem.search.objectives.index(o.name) for o in objectives]
        return self.ideal[place], self.reference[place]


def entries_of(folder: str, run: Mapping[str, Any], problem: Problem, front: Front, details: Mapping[str, Detail],
               label: str) -> list[Entry]:  # fmt: skip
    """The entries of a run, an envelope each, labelled "label: envelope"; label empty: by the envelope alone."""
    found = []
    told = {e["name"]: e for e in run["envelopes"]}
    for envelope in problem.envelope:
        about = told.get(envelope.name)
        if about is None:
            continue  # one candidate by hand knows one envelope only
        rows = tuple(r for r in front.rows if r.envelope == envelope.name and r.feasible)
        name = f"{label}: {envelope.name}" if label else envelope.name
        corners = [about.get("ideal_point"), about.get("reference_point")]
        ideal, reference = (None if c is None else np.asarray(c, dtype=np.float64) for c in corners)
        found.append(Entry(name, folder, envelope, problem, run, Front(front.columns, rows), details, ideal, reference))
    return found


def common_objectives(entries: Sequence[Entry]) -> tuple[Objective, ...]:
    """Objectives that every entry's run sought, in the order of the first."""
    names = entries[0].problem.search.objectives
    return tuple(OBJECTIVES[n] for n in names if all(n in e.problem.search.objectives for e in entries))


def row_values(row: Row, objectives: Sequence[Objective]) -> dict[str, float]:
    """The objectives of a row by metric, as they stand in the table (not negated)."""
    return {o.metric: float(row.metrics[o.metric]) for o in objectives}
