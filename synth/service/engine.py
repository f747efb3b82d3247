"""What the service asks the program for. app puts it together, so that the service need not know app."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from synth.problem.problem import Problem


@dataclass(frozen=True)
class Engine:
    """read(bytes, name): the problem of a TOML text. read_json(mapping, name): the same of JSON.

    The others take seconds and are worked in processes beside the service, so they are plain functions of modules and
    take and return what pickles: check(source, name) -> what `stowfront check --json` tells; catalogue() -> what may
    be chosen; compare(folders) -> what `stowfront compare --json` tells; pictures(run folder, candidate, folder):
    writes ID-deployed, ID-stowed, ID-motion as .svg and .png; seed(run folder, candidate, folder): writes the seed
    package there. job: the start of the command line that works a job, its one further argument is JSON (app/job.py).
    """

    read: Callable[[bytes, str], Problem]
    read_json: Callable[[dict[str, Any], str], Problem]
    check: Callable[[bytes, str], dict[str, Any]]
    catalogue: Callable[[], dict[str, Any]]
    compare: Callable[[list[Path]], dict[str, Any]]
    pictures: Callable[[Path, str, Path], None]
    seed: Callable[[Path, str, Path], None]
    job: Sequence[str]
    version: str
