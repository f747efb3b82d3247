"""The service's engine: what it asks the program for, put together from the commands' own functions."""

import shutil
import sys
import zipfile
from functools import lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from synth.app.checking import report_on
from synth.app.comparing import compare_runs
from synth.app.folder import program_version
from synth.app.looking import catalogue_of, show_run
from synth.app.seeding import seed
from synth.cell import vocabulary
from synth.core.errors import InputError
from synth.problem.problem import Problem
from synth.problem.reading import from_mapping, loads
from synth.service.engine import Engine

EPOCH = (1980, 1, 1, 0, 0, 0)
"""The earliest time that a zip file can hold: the same package gives the same bytes."""


@lru_cache(maxsize=32)
def _read(source: bytes, name: str) -> Problem:
    """A problem does not change once it is read, and the same text comes often: with other seeds, or checked first."""
    return loads(source, name, vocabulary())


def _read_json(fields: dict[str, Any], name: str) -> Problem:
    return from_mapping(fields, name, vocabulary())


def check(source: bytes, name: str) -> dict[str, Any]:
    """What `stowfront check --json` tells of a problem's text."""
    return report_on(_read(source, name)).document()


def catalogue() -> dict[str, Any]:
    """What `stowfront catalogue --json` tells."""
    return catalogue_of("all")[0]


def compare(folders: list[Path]) -> dict[str, Any]:
    """What `stowfront compare --json` tells."""
    return compare_runs(folders, None)[0]


def pictures(folder: Path, candidate: str, out: Path) -> None:
    """Writes the pictures of a candidate."""
    show_run(folder, candidate, out)


def seed_zip(folder: Path, candidate: str, file: Path) -> None:
    """Writes the seed package of a candidate as one zip file, whole or not at all."""
    with TemporaryDirectory(dir=file.parent) as scratch:
        package = Path(scratch) / f"seed-{candidate}"
        seed(folder, candidate, package)
        beside = Path(scratch) / "package.zip"
        with zipfile.ZipFile(beside, "w", zipfile.ZIP_DEFLATED) as out:
            for path in sorted(p for p in package.rglob("*") if p.is_file()):
                about = zipfile.ZipInfo(str(path.relative_to(scratch)), EPOCH)
                about.compress_type, about.external_attr = zipfile.ZIP_DEFLATED, 0o644 << 16
                with open(path, "rb") as content, out.open(about, "w") as entry:
                    shutil.copyfileobj(content, entry)
        beside.replace(file)


def engine() -> Engine:
    """The engine of this installation."""
    return Engine(
        read=_read,
        read_json=_read_json,
        check=check,
        catalogue=catalogue,
        compare=compare,
        pictures=pictures,
        seed=seed_zip,
        job=(sys.executable, "-m", "synth.app.job"),
        version=program_version(),
    )


def serve(settings: dict[str, Any], limits: dict[str, Any]) -> None:
    """Runs the service; InputError where a setting is wrong or the packages of the service are missing."""
    try:
        from synth.service.server import serve as run
        from synth.service.settings import Limits, Settings
    except ModuleNotFoundError as fault:
        if (fault.name or "").split(".")[0] in ("synth", "workers"):
            raise
        raise InputError(f"serve: the package {fault.name} is missing; install: pip install '.[service]'") from None
    given = {k: v for k, v in limits.items() if v is not None}
    run(engine(), Settings(**settings, limits=Limits(**given)))
