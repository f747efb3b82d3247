"""What runs that are compared do not ask alike."""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from synth.fronts.entry import Entry
from synth.problem.limits import limit_units
from synth.problem.problem import Problem


@dataclass(frozen=True)
class Difference:
    """A field of the problem (or "state" of the run) and its value in each run by folder; None where not given."""

    field: str
    unit: str
    values: dict[str, Any]


def differences(entries: Sequence[Entry]) -> list[Difference]:
    """Fields that are not the same in all runs, in the order of the file. Envelopes are compared as entries, and
    their names and sizes are not told here. Empty for a single run."""
    runs: dict[str, tuple[Problem, Mapping[str, Any]]] = {}
    for e in entries:
        runs.setdefault(e.folder, (e.problem, e.run))
    told = {folder: dict(_fields(problem, run)) for folder, (problem, run) in runs.items()}
    names = list(dict.fromkeys(name for fields in told.values() for name in fields))
    units = limit_units()
    found = []
    for name in names:
        values = {folder: fields.get(name) for folder, fields in told.items()}
        if len({repr(v) for v in values.values()}) > 1:
            found.append(Difference(name, units.get(name, ""), values))
    return found


def _fields(problem: Problem, run: Mapping[str, Any]) -> Iterator[tuple[str, Any]]:
    """Dotted fields of a problem, then what the run itself says."""
    for section, value in problem.model_dump(mode="json").items():
        if section == "envelope":
            continue
        if isinstance(value, Mapping):
            for name, inner in value.items():
                if (section, name) not in (("search", "evaluations"), ("search", "seed")):
                    yield f"{section}.{name}", inner
        else:
            yield section, value
    for name in ("evaluations", "seed", "state"):
        yield f"run.{name}", run.get(name)
    for name, version in run.get("versions", {}).items():
        yield f"run.versions.{name}", version
