"""A problem before it is submitted: what is wrong with it, what holds before any search, and its rooms to scale."""

import re
from typing import Any, Protocol

from synth.cell import vocabulary
from synth.core.errors import InputError
from synth.core.units import show
from synth.problem.envelope import Envelope
from synth.problem.limits import JUDGED, limit_units
from synth.problem.problem import Problem
from synth.problem.reading import loads
from synth.problem.variant import read_axis, variants
from synth.service.errors import Wrong
from synth.service.page.form import edited, form_of
from synth.service.page.words import requirement_title, told

_LINE = re.compile(r"problem: ([A-Za-z_]+(?:\[\d+\])?(?:\.[^:\s]+)?): (.*)")
MOST_JOBS = 20


class Validator(Protocol):
    """The part of the service's jobs that is asked about problems."""

    def read(self, problem: bytes) -> Any:
        """The problem of a TOML text; raises Wrong."""
        ...

    def validate(self, problem: bytes) -> dict[str, Any]:
        """What `stowfront check --json` tells; raises Wrong."""
        ...


def asked(text: str, changes: dict[str, Any], jobs: Validator) -> dict[str, Any]:
    """The text after changes, its form, and what is wrong, field by field. Some milliseconds."""
    if changes:
        text = edited(text, changes)
    faults: list[dict[str, str]] = []
    try:
        jobs.read(text.encode())
    except Wrong as fault:
        faults = [{"field": f, "message": m} for f, m in fault.faults] or _lines(str(fault))
    return {"text": text, "form": form_of(text), "faults": faults}


def bounded(text: str, jobs: Validator) -> dict[str, Any]:
    """What holds before any search, in words, and the rooms to scale. Raises Wrong where the problem is."""
    return _report(jobs.validate(text.encode()), loads(text.encode(), "problem", vocabulary()))


def _lines(text: str) -> list[dict[str, str]]:
    """Faults as fields and sentences, from the lines of a message."""
    found = []
    for line in text.splitlines():
        match = _LINE.fullmatch(line)
        found.append({"field": match[1], "message": match[2]} if match else {"field": "", "message": line})
    return found


def _report(report: dict[str, Any], problem: Problem) -> dict[str, Any]:
    rooms = []
    for bound, envelope in zip(report["envelopes"], problem.envelope, strict=True):
        left = [f for f in problem.families if f not in bound["ruled_out"]]
        rooms.append({
            **_room(envelope),
            "impossible": bound["reasons"],
            "ruled_out": bound["ruled_out"],
            "left": [] if bound["reasons"] else left,
            "bounds": [
                {"what": "Room inside the clearance", "value": told(bound["allowed_volume"], "m^3")},
                {"what": "Panels take at least", "value": told(bound["least_volume"], "m^3")},
                {"what": "Panels weigh at least, with growth", "value": told(bound["least_mass"], "kg")},
                {"what": "No panel can exceed", "value": told(bound["largest_panel"], "m^2")},
                {"what": "Panels at least", "value": str(bound["least_panels"])},
            ],
        })  # fmt: skip
    return {
        "title": report["title"],
        "impossible": report["impossible"],
        "clear_diameter_m": problem.aperture.clear_diameter,
        "clear_area": told(report["envelopes"][0]["clear_area"], "m^2"),
        "rooms": rooms,
        "requirements": [
            {"title": requirement_title(r["name"]), "sign": "≤" if r["direction"] == "max" else "≥",
             "limit": told(r["limit"], r["unit"])}
            for r in report["requirements"]
        ],
        "objectives": list(problem.search.objectives),
        "evaluations": problem.search.evaluations,
        "sweeps": _sweepable(problem),
    }  # fmt: skip


def _room(envelope: Envelope) -> dict[str, Any]:
    return {
        "name": envelope.name,
        "kind": envelope.kind,
        "outside_m": [float(v) for v in envelope.outside],
        "clearance_m": envelope.clearance,
        "size": " × ".join(told(float(v), "m") for v in (envelope.outside if envelope.kind == "box"
                                                         else envelope.outside[1:])),
    }  # fmt: skip


def _sweepable(problem: Problem) -> list[dict[str, str]]:
    """Numbers that a sweep may vary, with their present value: limits that only judge, and dimensions of rooms."""
    found = []
    for field in JUDGED:
        section, name = field.split(".")
        value = getattr(getattr(problem, section), name)
        if value is not None:
            found.append({"field": field, "title": requirement_title(field), "now": show(value, limit_units()[field])})
    for k, e in enumerate(problem.envelope):
        parts = [(f"size[{n}]", e.outside[n]) for n in range(3)] if e.kind == "box" else [
            ("diameter", e.outside[0]), ("height", e.outside[2])]  # fmt: skip
        found += [{"field": f"envelope[{k}].{p}", "title": f"{e.name}: {p}", "now": show(v, "m")} for p, v in parts]
    return found


def sweep(text: str, axis: str) -> list[dict[str, str]]:
    """The problems of a sweep over one number, each to be submitted as a job: label, text.

    Dimensions of a room become envelopes of one problem. Raises InputError that tells what is wrong.
    """
    problem = loads(text.encode(), "problem", vocabulary())
    evaluations = problem.search.evaluations
    found = variants(problem, (read_axis(problem, axis),), evaluations, evaluations, vocabulary())
    if len(found) > MOST_JOBS:
        raise InputError(f"sweep: makes {len(found)} jobs; at most {MOST_JOBS} are submitted together")
    made = []
    for v in found:
        source = v.problem.source.decode()
        label = v.label or f"sweep of {axis.partition('=')[0]}"
        made.append({"label": label, "text": edited(source, {"title": f"{problem.title}, {label}"[:200]})})
    return made
