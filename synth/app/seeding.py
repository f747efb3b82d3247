"""Seeds: packages for detailed design, of one candidate or of a few different ones with their comparison."""

from collections.abc import Sequence
from dataclasses import dataclass, fields, replace
from pathlib import Path
from typing import Any

from synth.app.folder import candidate_record, sought
from synth.app.stops import with_stops
from synth.cell import vocabulary
from synth.core.errors import InputError, nearest
from synth.core.units import QuantityError, to_si
from synth.export.package import Options, Package, chosen, placing, write_package
from synth.export.paper import PAPERS
from synth.export.side_by_side import MOST, write_side_by_side
from synth.fronts.picking import picked
from synth.fronts.store import read_front, read_run
from synth.problem.problem import Problem
from synth.problem.reading import load

STYLES = ("pin", "snap", "none")
TELL_STOPS = ("record", "review")
"""Formats that tell what a stage stopped half-way leaves free; without them it is not worked out."""
_PLAIN = ("scale", "poisson", "factor")
_PRESSURE = ("modulus", "strength")


@dataclass(frozen=True)
class Seeded:
    """What was written: the folder, a package a candidate, files that compare them."""

    folder: Path
    packages: dict[str, Package]
    comparison: list[str]

    def document(self) -> dict[str, Any]:
        """As plain values."""
        return {
            "folder": str(self.folder),
            "comparison": self.comparison,
            "packages": [
                {"candidate": name, "folder": str(p.path), "files": p.files, "left_out": p.left_out}
                for name, p in self.packages.items()
            ],
        }

    def text(self) -> str:
        """A line a format."""
        lines = []
        for name, package in self.packages.items():
            lines.append(f"{name}: {package.path}")
            lines += [f"  {kind:8s} {_listed(files)}" for kind, files in package.files.items()]
            lines += [f"  {kind:8s} left out: {why}" for kind, why in package.left_out.items()]
        if self.comparison:
            lines.append("comparison: " + ", ".join(str(self.folder / c) for c in self.comparison))
        return "\n".join(lines)


def _listed(files: list[str]) -> str:
    return ", ".join(files) if len(files) <= 4 else f"{files[0]} to {files[-1]} ({len(files)} files)"


def seed(
    folder: Path,
    candidate: str | None,
    out: Path | None = None,
    only: str | None = None,
    top: int | None = None,
    by: str = "knee",
    envelope: str | None = None,
    settings: Sequence[str] = (),
) -> Seeded:
    """Writes the package of a candidate, or of `top` different ones picked `by` a wish, with a page that compares them.

    only: formats by name, with commas. settings: NAME=VALUE of paper, print, metal, motion. Nothing is left half
    written. Raises InputError or RunFolderError where an argument or the folder is wrong, MissingPackageError.
    """
    if (candidate is None) == (top is None):
        raise InputError("seed: name one candidate, or give --top N")
    if top is None and (by != "knee" or envelope is not None):
        raise InputError("seed: --by and --envelope pick among candidates; they go with --top N")
    names = [n.strip() for n in only.split(",") if n.strip()] if only is not None else None
    chosen(names)
    options = options_from(settings)
    problem = load(folder / "problem.toml", vocabulary()) if (folder / "problem.toml").is_file() else None
    if problem is not None:
        options = replace(options, clear_diameter=problem.aperture.clear_diameter, problem=problem.source,
                          keep_out=problem.keep_out)  # fmt: skip
    if candidate is not None:
        record = _record(folder, candidate, names, problem)
        target = out or Path("results") / f"seed-{candidate}"
        return Seeded(target, {candidate: write_package(record, target, names, options)}, [])
    place = out or Path("results") / f"seeds-{folder.resolve().name}"
    return _several(folder, place, names, _picks(folder, top or 0, by, envelope), options, problem)


def _record(folder: Path, candidate: str, names: list[str] | None, problem: Problem | None) -> dict[str, Any]:
    """The candidate's record, with what a stage stopped half-way leaves free where a format asked for tells it."""
    record = candidate_record(folder, candidate)
    return with_stops(record, problem) if names is None or set(TELL_STOPS) & set(names) else record


def _picks(folder: Path, top: int, by: str, envelope: str | None) -> tuple[list[str], str]:
    """Ids of different candidates, and how they were picked."""
    if not 1 <= top <= MOST:
        raise InputError(f"top: must be 1 to {MOST}; got {top}")
    front = read_front(folder)
    if envelope is not None and envelope not in front.envelopes:
        known = front.envelopes
        raise InputError(
            f"envelope: must be one of {', '.join(known) or 'none'}; got '{envelope}'.{nearest(envelope, known)}"
        )
    rows = front.of(envelope).rows if envelope is not None else front.rows
    if not rows:
        raise InputError(f"{folder}: its front holds no candidate")
    picks = picked(rows, sought(read_run(folder)), by, top)
    where = f" in envelope {envelope}" if envelope else ""
    feasible = "" if all(r.feasible for r in picks) else " None meets every requirement."
    how = (f"The best by {by} of {len(rows)} candidates{where}, spread over families first, then over numbers of "
           f"panels and parts.{feasible}")  # fmt: skip
    return [r.id for r in picks], how


def _several(
    folder: Path,
    out: Path,
    names: list[str] | None,
    picks: tuple[list[str], str],
    options: Options,
    problem: Problem | None,
) -> Seeded:
    """Packages in sub-folders by id, comparison.pdf and comparison.csv beside them."""
    ids, how = picks
    with placing(out) as beside:
        records = [_record(folder, id, names, problem) for id in ids]
        made = {r["id"]: write_package(r, beside / str(r["id"]), names, options) for r in records}
        pages = write_side_by_side(records, beside, how)
    packages = {name: replace(p, path=out / name) for name, p in made.items()}
    return Seeded(out, packages, [p.name for p in pages])


def options_from(settings: Sequence[str]) -> Options:
    """Options from NAME=VALUE: paper.size, paper.scale, print.FIELD, metal.FIELD, motion.seconds; lengths with units.

    Raises InputError that tells what is allowed.
    """
    options = Options()
    known = ["paper.size", "paper.scale", "motion.seconds"]
    known += [f"print.{f.name}" for f in fields(options.printer)] + [f"metal.{f.name}" for f in fields(options.metal)]
    for text in settings:
        name, sign, value = (part.strip() for part in text.partition("="))
        if not sign or not value:
            raise InputError(f"set: must be NAME=VALUE, such as print.clearance='0.25 mm'; got '{text}'")
        if name not in known:
            raise InputError(f"set: unknown option '{name}'; known: {', '.join(known)}.{nearest(name, known)}")
        group, _, part = name.partition(".")
        if group == "print":
            options = replace(options, printer=replace(options.printer, **{part: _printer(name, part, value)}))
        elif group == "metal":
            unit = "1" if part in _PLAIN else "Pa" if part in _PRESSURE else "m"
            options = replace(options, metal=replace(options.metal, **{part: _number(name, value, unit)}))
        elif name == "paper.size":
            options = replace(options, paper=_one_of(name, value, tuple(PAPERS)))
        elif name == "paper.scale":
            options = replace(options, paper_scale=_number(name, value, "1"))
        else:
            options = replace(options, seconds=_number(name, value, "1"))
    return options


def _printer(name: str, part: str, value: str) -> Any:
    """A field of Print, lengths in mm."""
    if part == "style":
        return _one_of(name, value, STYLES)
    if part == "bed":
        sides = [_number(name, side.strip(), "m") for side in value.replace("×", "x").split("x")]
        if len(sides) != 2:
            raise InputError(f"{name}: must be two lengths such as '220 mm x 220 mm'; got '{value}'")
        return (1e3 * sides[0], 1e3 * sides[1])
    return _number(name, value, "1") if part == "scale" else 1e3 * _number(name, value, "m")


def _one_of(name: str, value: str, allowed: Sequence[str]) -> str:
    if value.lower() not in allowed:
        raise InputError(f"{name}: must be one of {', '.join(allowed)}; got '{value}'.{nearest(value, allowed)}")
    return value.lower()


def _number(name: str, value: str, unit: str) -> float:
    """A number above 0 (kerf, wall and the like may be 0)."""
    try:
        found = to_si(value, unit)
    except QuantityError as fault:
        raise InputError(f"{name}: {fault}; got '{value}'") from None
    zero_is_fine = name in ("metal.kerf", "print.clearance", "print.margin", "metal.scale")
    if found < 0.0 or (found == 0.0 and not zero_is_fine):
        raise InputError(f"{name}: must be above 0; got '{value}'")
    return found
