"""What holds before any search: the problem as understood, and what bounds rule out."""

import math
from dataclasses import asdict, dataclass
from pathlib import Path
from typing import Any

import numpy as np

from synth.app.floors import impossible, notes
from synth.cell import first_cells, vocabulary
from synth.core.arrays import Bools
from synth.core.errors import InputError, is_full, unwritable
from synth.core.units import show
from synth.export.own import own_text
from synth.families import families
from synth.problem.bounds import Bounds, bounds
from synth.problem.envelope import Envelope
from synth.problem.problem import Problem
from synth.problem.reading import load
from synth.problem.requirement import requirements
from synth.problem.template import template


def read_problem(file: Path) -> Problem:
    """The problem of a file; InputError tells every fault at once."""
    return load(file, vocabulary())


def write_template(file: Path) -> None:
    """Writes a commented problem file; never over an existing one."""
    try:
        with open(file, "x", encoding="utf-8") as out:
            out.write(template())
    except FileExistsError:
        raise InputError(f"{file}: exists already; nothing was written") from None
    except OSError as fault:
        if is_full(fault):  # the file was made and could not be filled
            file.unlink(missing_ok=True)
        raise unwritable(file, fault) from None


def family_reason(problem: Problem, family: str, envelope: Envelope) -> str:
    """Why no member of a family can do in an envelope, or an empty text. Proofs only, no search.

    A panel is a straight rigid thing: its longest side is no longer than the diagonal of the room,
    nor than the longest blank.
    """
    kind = families()[family]
    span = kind.least_span(problem.aperture.clear_diameter, problem.aperture.min_collecting_area or 0.0)
    longest = problem.aperture.max_panel_length
    # a rectangle round two points that far apart has a long side of at least 1/sqrt(2) of it
    if longest is not None and span > math.sqrt(2.0) * longest:
        return f"its longest panel spans at least {show(span, 'm')}, max_panel_length is {show(longest, 'm')}"
    x, y, z = (float(v) for v in envelope.allowed)
    room = math.hypot(x, z) if envelope.kind == "round" else math.sqrt(x * x + y * y + z * z)
    if span > room:
        return f"its longest panel spans at least {show(span, 'm')}, the room's diagonal is {show(room, 'm')}"
    if not first_cells(problem, family):
        return f"it has no member of at most {problem.choices.max_panels} panels that obeys choices.variables"
    return ""


def closed_families(problem: Problem) -> tuple[dict[str, Bools], list[dict[str, str]]]:
    """Families ruled out: name -> [E], and for each envelope name -> reason."""
    shut: dict[str, Bools] = {}
    reasons: list[dict[str, str]] = []
    for envelope in problem.envelope:
        flat = impossible(problem)
        whole = bounds(problem, envelope).reasons or ((flat,) if flat else ())
        found = {f: whole[0] if whole else family_reason(problem, f, envelope) for f in problem.families}
        reasons.append({f: why for f, why in found.items() if why})
    for family in problem.families:
        shut[family] = np.array([family in r for r in reasons])
    return shut, reasons


@dataclass(frozen=True)
class CheckReport:
    """The problem as understood in SI, the bounds in each envelope, and families ruled out with the reason."""

    problem: Problem
    bounds: tuple[Bounds, ...]
    reasons: tuple[dict[str, str], ...]

    @property
    def impossible(self) -> bool:
        """Whether bounds rule everything out in every envelope."""
        return all(len(r) == len(self.problem.families) for r in self.reasons)

    def document(self) -> dict[str, Any]:
        """Everything as plain JSON."""
        p = self.problem
        return {
            "title": p.title,
            "problem_digest": p.digest,
            "impossible": self.impossible,
            "understood": p.model_dump(mode="json"),
            "notes": notes(p),
            "requirements": [asdict(r) for r in requirements(p)],
            "materials": [m.id for m in p.materials],
            "hinge_kinds": [k.name for k in p.hinge_kinds],
            "latch_kind": p.latch_kinds[0].name,
            "latch_kinds": [k.name for k in p.latch_kinds],
            "mount_kind": p.mount_kind.name,
            "own_catalogue": p.catalogue.own_entries(),
            "envelopes": [
                {**asdict(b), "allowed_m": [float(v) for v in e.allowed], "ruled_out": r}
                for b, e, r in zip(self.bounds, p.envelope, self.reasons, strict=True)
            ],
        }

    def text(self) -> str:
        """The same for reading."""
        p = self.problem
        lines = [p.title, ""]
        a = p.aperture
        lines.append(f"Aperture    clear diameter {show(a.clear_diameter, 'm')}, {a.optic}")
        lines.append(f"Objectives  {', '.join(p.search.objectives)}")
        lines.append(f"Budget      {p.search.evaluations} candidates for each envelope, seed {p.search.seed}")
        lines.append(f"Materials   {', '.join(m.id for m in p.materials)}")
        lines.append(f"Hinges      {', '.join(k.name for k in p.hinge_kinds)}")
        lines.append(f"Latch       {', '.join(k.name for k in p.latch_kinds)}; mount {p.mount_kind.name}")
        if p.catalogue.own:
            lines += ["", own_text(p.catalogue.own_entries())]
        lines += ["", "Requirements"]
        for r in requirements(p):
            sign = "at most " if r.direction == "max" else "at least"
            lines.append(f"  {r.name:34s} {sign} {show(r.limit, r.unit)}")
        lines += ["", "Taken as given (bare numbers: SI)", *(f"  {name:42s} {value}" for name, value in given(p))]
        for b, e, why in zip(self.bounds, p.envelope, self.reasons, strict=True):
            lines += ["", *_envelope_text(b, e, why, p)]
        lines += [line for note in notes(p) for line in ("", f"Note: {note}.")]
        if self.impossible:
            lines += [
                "",
                "Impossible: bounds rule out every family in every envelope. No search would find a candidate.",
            ]
        return "\n".join(lines)


def given(problem: Problem) -> list[tuple[str, str]]:
    """What is no requirement, as understood (bare numbers: SI): name and value; keep-out boxes, narrowed variables."""
    told = problem.model_dump(mode="json")
    limits = {r.name for r in requirements(problem)}
    found = [
        (f"{section}.{name}", _plain(value))
        for section in ("aperture", "mass", "accuracy", "environment", "structure")
        for name, value in told[section].items()
        if value is not None and f"{section}.{name}" not in limits
    ]
    found += [(f"keep_out {k.name}", f"{_plain(k.min)} to {_plain(k.max)}") for k in problem.keep_out]
    found += [(name, _plain(value)) for name, value in told["choices"]["variables"].items()]
    return found


def _plain(value: Any) -> str:
    if isinstance(value, list | tuple):
        return f"({', '.join(_plain(v) for v in value)})"
    return f"{value:.6g}" if isinstance(value, float) else str(value).lower() if isinstance(value, bool) else str(value)


def _envelope_text(b: Bounds, e: Envelope, why: dict[str, str], p: Problem) -> list[str]:
    sides = " x ".join(show(float(v), "m") for v in e.allowed)
    if e.kind == "round":
        sides = f"diameter {show(float(e.allowed[0]), 'm')}, height {show(float(e.allowed[2]), 'm')}"
    lines = [f"Envelope {b.envelope} ({e.kind}): {sides} inside the clearance, {show(b.allowed_volume, 'm^3')}"]
    lines.append(f"  panels take at least {show(b.least_volume, 'm^3')} and weigh at least {show(b.least_mass, 'kg')}")
    lines.append(f"  no panel can exceed {show(b.largest_panel, 'm^2')}: at least {b.least_panels} panels")
    lines += [f"  impossible: {reason}" for reason in b.reasons]
    if not b.reasons:
        shared = set(why.values()) if len(why) == len(p.families) else set()
        if len(shared) == 1:
            return [*lines, f"  impossible: {shared.pop()}"]
        lines += [f"  {family} cannot fit: {reason}" for family, reason in why.items()]
        left = [f for f in p.families if f not in why]
        lines.append(f"  left to search: {', '.join(left) or 'none'}")
    return lines


def check_problem(file: Path) -> CheckReport:
    """Reads a problem and works out its bounds."""
    return report_on(read_problem(file))


def report_on(problem: Problem) -> CheckReport:
    """The bounds of a problem."""
    _, reasons = closed_families(problem)
    return CheckReport(problem, tuple(bounds(problem, e) for e in problem.envelope), tuple(reasons))
