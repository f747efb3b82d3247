"""Looking at what is there: catalogues, fronts, candidates, and rechecking them."""

from pathlib import Path
from typing import Any

from synth.app import folder
from synth.app.checking import read_problem
from synth.cell import BUILD_CHOICES, BUILD_FIXED, BUILD_REALS, FLEXURES
from synth.core.errors import InputError, nearest, writing
from synth.core.family import Count, Real, Variable
from synth.core.units import show
from synth.export.show import candidate_document, candidate_text, front_document, front_text
from synth.families import families
from synth.problem.catalogue import Catalogue
from synth.problem.listing import LISTS, catalogue_json, catalogue_text
from synth.recheck.finding import Report
from synth.recheck.folder import recheck_folder

KINDS = ("families", *LISTS)


def catalogue_of(kind: str, problem: Path | None = None) -> tuple[dict[str, Any], str]:
    """What may be chosen, as a JSON document and as text; with the entries that a problem file brings, marked."""
    if kind not in (*KINDS, "all"):
        raise InputError(f"catalogue: must be one of {', '.join(KINDS)} or all; got '{kind}'.{nearest(kind, KINDS)}")
    wanted = KINDS if kind == "all" else (kind,)
    own: Catalogue | None = None if problem is None else read_problem(problem).catalogue
    document = {k: _families_json() if k == "families" else catalogue_json(k, own) for k in wanted}
    text = "\n\n".join(_families_text() if k == "families" else catalogue_text(k, own) for k in wanted)
    return document, text


def _told(variable: Variable) -> dict[str, Any]:
    if isinstance(variable, Count):
        return {"kind": "count", "low": variable.low, "high": variable.high, "doc": variable.doc}
    if isinstance(variable, Real):
        return {"kind": "real", "low": variable.low, "high": variable.high, "unit": variable.unit, "doc": variable.doc}
    return {"kind": "choice", "options": list(variable.options), "doc": variable.doc}


def _build_variables() -> dict[str, dict[str, Any]]:
    out = {f"build.{k}": _told(v) for k, v in {**BUILD_REALS, **FLEXURES, **BUILD_FIXED}.items()}
    out.update({f"build.{k}": {"kind": "choice", "options": [], "doc": doc} for k, doc in BUILD_CHOICES.items()})
    return out


def _families_json() -> dict[str, Any]:
    found: dict[str, Any] = {}
    for name, family in families().items():
        variables = {f"{name}.{k}": _told(v) for k, v in family.variables().items()}
        found[name] = {"title": family.title, "about": (family.__doc__ or "").strip(), "variables": variables}
    found["build"] = {"title": "Build variables that all families share", "variables": _build_variables()}
    return found


def _line(name: str, told: dict[str, Any]) -> str:
    if told["kind"] == "choice":
        values = " | ".join(told["options"]) or "see the catalogue or the family"
    elif told["kind"] == "count":
        values = f"{told['low']} to {told['high']}"
    else:
        values = f"{show(told['low'], told['unit'])} to {show(told['high'], told['unit'])}"
    return f"  {name:28s} {values:34s} {told['doc']}"


def _families_text() -> str:
    lines = ["Families"]
    for name, family in families().items():
        lines += ["", f"{name}: {family.title}", f"  {(family.__doc__ or '').strip().splitlines()[0]}"]
        lines += [_line(f"{name}.{k}", _told(v)) for k, v in family.variables().items()]
    lines += ["", "build: variables that all families share"]
    lines += [_line(k, v) for k, v in _build_variables().items()]
    return "\n".join(lines)


def show_run(path: Path, candidate: str | None, pictures: Path | None) -> tuple[dict[str, Any], str]:
    """The front of a run folder, or one candidate; pictures go into the folder given."""
    if candidate is None:
        if pictures is not None:
            raise InputError("show --pictures: name the candidate whose pictures to draw")
        run, front = folder.run_document(path)
        goals = folder.sought(run)
        return front_document(front, goals, run), front_text(front, goals, run)
    record = folder.candidate_record(path, candidate)
    document, text = candidate_document(record), candidate_text(record)
    if pictures is not None:
        # matplotlib takes half a second to load: only where something is drawn
        from synth.export.pictures import candidate_pictures

        problem = folder.problem_of(path)
        envelope = next(e for e in problem.envelope if e.name == record["envelope"])
        with writing(pictures):
            made = candidate_pictures(record, envelope, pictures, problem.aperture.clear_diameter, problem.keep_out)
        document["pictures"] = [str(p) for p in made]
        text += "\n\nPictures\n" + "\n".join(f"  {p}" for p in made)
    return document, text


def recheck_run(path: Path) -> Report:
    """Verifies every candidate record of a run folder anew, from disk alone."""
    if not (path / "front.csv").is_file():
        raise InputError(f"{path}: is not a run folder with a front (front.csv is missing)")
    return recheck_folder(path)
