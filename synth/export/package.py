"""The package that detailed design starts from: every format of one candidate in a folder, with a README."""

import os
import shutil
import tempfile
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from functools import cache
from pathlib import Path

from synth.core.errors import InputError, StowfrontError, nearest, unwritable, writing
from synth.export.cut_metal import Sheet, write_cut_metal
from synth.export.dxf import write_dxf
from synth.export.gltf import write_gltf
from synth.export.mjcf import write_mjcf
from synth.export.network import write_network
from synth.export.optional import MissingPackageError, install, missing
from synth.export.paper import PAPERS, write_paper
from synth.export.parts import Record
from synth.export.printing import Print, Printed, printed
from synth.export.readme import readme
from synth.export.review import write_review
from synth.export.review_sheet import write_review_sheet
from synth.export.step import write_step
from synth.export.stl import write_stl
from synth.export.tables import write_tables
from synth.export.threemf import write_threemf
from synth.problem.sections import KeepOut
from synth.record.file import write_record


@dataclass(frozen=True)
class Options:
    """What a user may choose. seconds: of the whole deployment; problem: its file's bytes, put beside the record;
    keep_out: its boxes, drawn in the review sheet; solids: makes the printable ones, once for both of their formats."""

    paper: str = "a4"
    paper_scale: float = 1.0
    printer: Print = field(default_factory=Print)
    metal: Sheet = field(default_factory=Sheet)
    seconds: float = 10.0
    clear_diameter: float | None = None
    problem: bytes | None = None
    keep_out: tuple[KeepOut, ...] = ()
    solids: Callable[[], Printed] | None = None


Writer = Callable[[Record, Path, Options], list[Path]]


@dataclass(frozen=True)
class Format:
    """A format: what it is, its folder in the package, the optional module that it needs, its writer."""

    title: str
    folder: str
    needs: str | None
    write: Writer


@dataclass(frozen=True)
class Package:
    """A written package: its folder; format to its files (relative); format to why it was left out."""

    path: Path
    files: dict[str, list[str]]
    left_out: dict[str, str]


def _record(record: Record, folder: Path, options: Options) -> list[Path]:
    path = folder / f"{record['id']}.json"
    write_record(path, record)
    made = [path]
    if options.problem is not None:
        made.append(folder / "problem.toml")
        made[-1].write_bytes(options.problem)
    return made


FORMATS: dict[str, Format] = {
    "record": Format("the candidate record, and the problem where it is known", "", None, _record),
    "review": Format("review sheet: the overview on 2 pages A4, and in words everything that a review asks", "", None,
                     lambda r, f, o: [*write_review(r, f, o.keep_out), *write_review_sheet(r, f)]),
    "step": Format("CAD assemblies (STEP AP242, mm), deployed and stowed: plates, fittings, hinge axes as lines",
                   "cad", "OCP", lambda r, f, o: write_step(r, f)),
    "dxf": Format("drawings (DXF, mm): deployed layout, and each distinct panel in its own plan", "cad", "ezdxf",
                  lambda r, f, o: write_dxf(r, f, o.clear_diameter)),
    "paper": Format("paper model: crease sheet, PDF true to scale in pages to join, and SVG of the whole", "paper",
                    "reportlab", lambda r, f, o: write_paper(r, f, o.paper, o.paper_scale)),
    "stl": Format("printed model: a panel a file (STL, mm), hinges ready to print", "printed", "manifold3d",
                  lambda r, f, o: write_stl(r, f, o.printer, o.solids and o.solids())),
    "3mf": Format("printed model: the same panels laid out on beds (3MF, mm)", "printed", "manifold3d",
                  lambda r, f, o: write_threemf(r, f, o.printer, o.solids and o.solids())),
    "metal": Format("bending model from one sheet: cut path with flexures and kerf (DXF, mm)", "metal", "ezdxf",
                    lambda r, f, o: write_cut_metal(r, f, o.metal)),
    "gltf": Format("the deployment animated (glTF binary, m, y up), for any viewer", "motion", None,
                   lambda r, f, o: write_gltf(r, f, o.seconds)),
    "mjcf": Format("the mechanism with masses, joints and loops (MJCF, SI), a key frame a station", "motion", None,
                   lambda r, f, o: write_mjcf(r, f)),
    "tables": Format("tables (CSV, SI): parts, joints, stages, mass properties", "tables", None,
                     lambda r, f, o: write_tables(r, f, o.seconds)),
    "network": Format("panel-and-joint network and load cases for finite elements (JSON and CSV, SI)", "analysis", None,
                      lambda r, f, o: write_network(r, f)),
}  # fmt: skip
"""Every format by the name that picks it."""


def chosen(only: Sequence[str] | None) -> list[str]:
    """Formats by name, in their order; None: all. Raises InputError, and MissingPackageError before anything starts."""
    if only is not None and not only:
        raise InputError(f"only: must name one or more of {', '.join(FORMATS)}")
    for name in only or ():
        if name not in FORMATS:
            raise InputError(f"only: must be among {', '.join(FORMATS)}; got '{name}'.{nearest(name, FORMATS)}")
    names = [n for n in FORMATS if only is None or n in only]
    lacks = {n: p for n in names if (needs := FORMATS[n].needs) and (p := missing(needs))}
    if lacks:
        faults = [f"{n} needs the optional package {package}" for n, package in lacks.items()]
        there = [n for n in names if n not in lacks]
        hint = [f"Without it: --only {','.join(there)}"] if there else []
        how = install(needs for n in lacks if (needs := FORMATS[n].needs))
        raise MissingPackageError("\n".join([*faults, how, *hint]))
    return names


def write_package(
    record: Record, out: Path, only: Sequence[str] | None = None, options: Options | None = None
) -> Package:
    """Writes the package as a new folder `out`, whole or not at all.

    only: names of FORMATS. Asked by name, a format that this candidate does not allow (hinges too short for the
    printer, say) is an InputError; among all of them it is left out and the README says why. Raises InputError
    also where `out` exists or cannot be written, MissingPackageError where an optional package is not there.
    """
    options = options or Options()
    wanted = options.printer
    options = replace(options, solids=cache(lambda: printed(record, wanted)))
    names = chosen(only)
    if options.paper not in PAPERS:
        raise InputError(f"paper: must be one of {', '.join(PAPERS)}; got '{options.paper}'")
    with placing(out) as beside:
        files: dict[str, list[str]] = {}
        left_out: dict[str, str] = {}
        for name in names:
            folder = beside / FORMATS[name].folder
            folder.mkdir(exist_ok=True)
            try:
                made = FORMATS[name].write(record, folder, options)
            except MissingPackageError:
                raise
            except InputError as fault:
                if only is not None:
                    raise
                left_out[name] = str(fault)
                continue
            files[name] = [str(p.relative_to(beside)) for p in made]
        titles = {n: FORMATS[n].title for n in names}
        (beside / "README.md").write_text(readme(record, titles, files, left_out), encoding="utf-8")
    return Package(out, files, left_out)


@contextmanager
def placing(out: Path) -> Iterator[Path]:
    """A folder to write into that becomes `out` once all of it is there, and is gone where anything fails.

    Errors tell of `out`. Raises InputError where that exists or cannot be written, StorageError where the disk is full.
    """
    beside = _staged(out)
    try:
        yield beside
        _settle(beside, out)
    except OSError as fault:
        raise unwritable(out, fault) from fault
    except StowfrontError as fault:
        raise type(fault)(str(fault).replace(str(beside), str(out))) from fault
    finally:
        shutil.rmtree(beside, ignore_errors=True)


def _staged(out: Path) -> Path:
    """A new folder beside `out` to write into. Raises InputError where `out` exists or its parent cannot be written."""
    if out.exists() or out.is_symlink():
        raise InputError(f"{out}: exists already; choose another --out")
    with writing(out):
        out.parent.mkdir(parents=True, exist_ok=True)
        return Path(tempfile.mkdtemp(prefix=f".{out.name}.", dir=out.parent))


def _settle(beside: Path, out: Path) -> None:
    """Gives a staged folder its name, readable as any new folder; empty sub-folders go."""
    for folder in beside.iterdir():
        if folder.is_dir() and not any(folder.iterdir()):
            folder.rmdir()
    mask = os.umask(0)
    os.umask(mask)
    beside.chmod(0o777 & ~mask)
    if out.exists():
        raise InputError(f"{out}: exists already; choose another --out")
    os.rename(beside, out)
