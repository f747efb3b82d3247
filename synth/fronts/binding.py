"""Which requirement binds where along a front."""

from collections.abc import Sequence
from dataclasses import dataclass

from synth.fronts.entry import Entry
from synth.problem.objective import Objective

BINDS = 0.02
"""A requirement binds where its margin is at most this share of its limit."""


@dataclass(frozen=True)
class Binding:
    """One requirement on one front. binds, nearest: shares of the rows where it binds, and where its margin is the
    least of all. least: least margin. where: for each objective the range (as tabled) over the rows where it binds."""

    entry: str
    requirement: str
    binds: float
    nearest: float
    least: float
    where: dict[str, tuple[float, float]]


def nearest_requirement(margins: dict[str, float]) -> tuple[str, float]:
    """Name and margin of the requirement that is nearest to failing; the first of equals."""
    name = min(margins, key=lambda k: margins[k])
    return name, margins[name]


def binding(entry: Entry, objectives: Sequence[Objective]) -> list[Binding]:
    """A line for each requirement that the entry's rows tell a margin of, in the order of the problem."""
    told = [(r, dict(entry.details[r.id].margins)) for r in entry.front.rows if r.id in entry.details]
    names = list(dict.fromkeys(n for _, margins in told for n in margins))
    found = []
    for name in names:
        here = [r for r, m in told if m.get(name, 1.0) <= BINDS]
        first = sum(nearest_requirement(m)[0] == name for _, m in told)
        where = {
            o.metric: (min(r.metrics[o.metric] for r in here), max(r.metrics[o.metric] for r in here))
            for o in objectives if here
        }  # fmt: skip
        least = min(m[name] for _, m in told if name in m)
        found.append(Binding(entry.label, name, len(here) / len(told), first / len(told), least, where))
    return found
