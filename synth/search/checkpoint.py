"""The state of a search on disk: the old one or the new one, never half; and one process at a time."""

import fcntl
import hashlib
import json
import os
import pickle
import platform
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from importlib.metadata import version
from pathlib import Path
from typing import Any

import numpy as np

from synth.core.errors import RunFolderError, writing
from synth.fronts.store import replace_file
from synth.search.state import State

MAGIC = b"stowfront-state/1\n"


def versions() -> dict[str, str]:
    """What a saved state binds to: it is resumed only where all of these are the same."""
    return {
        "python": ".".join(platform.python_version_tuple()[:2]),
        "numpy": np.__version__,
        "scipy": version("scipy"),
        "pymoo": version("pymoo"),
        "moocore": version("moocore"),
    }


def save(path: Path, state: State, about: dict[str, Any]) -> None:
    """Saves a state with a header: versions, a digest of the content, and what the caller says about the run (the
    problem's digest, the program's version)."""
    body = pickle.dumps(state, protocol=5)
    header = {"versions": versions(), "about": about, "sha256": hashlib.sha256(body).hexdigest(), "bytes": len(body)}
    replace_file(path, MAGIC + json.dumps(header, sort_keys=True).encode() + b"\n" + body)


def load(path: Path, about: dict[str, Any]) -> State:
    """Reads a state back. Only files of one's own run folder: a saved state can run code when it is read.

    Raises RunFolderError where the file is missing, damaged, of other library versions, or of another problem.
    """
    try:
        content = path.read_bytes()
    except FileNotFoundError:
        raise RunFolderError(f"{path}: there is no saved state to resume from") from None
    if not content.startswith(MAGIC):
        raise RunFolderError(f"{path}: this is not a saved state of this version of the program")
    head, _, body = content[len(MAGIC) :].partition(b"\n")
    try:
        header = json.loads(head)
    except ValueError:
        raise RunFolderError(f"{path}: the saved state is damaged") from None
    if hashlib.sha256(body).hexdigest() != header.get("sha256"):
        raise RunFolderError(f"{path}: the saved state is damaged")
    for kind, now in (("versions", versions()), ("about", about)):
        saved = header.get(kind, {})
        differ = [k for k in sorted({*now, *saved}) if now.get(k) != saved.get(k)]
        if differ:
            told = ", ".join(f"{k} {saved.get(k)} (now {now.get(k)})" for k in differ)
            raise RunFolderError(f"{path}: saved with {told}; a resumed run would not give the same front")
    state = pickle.loads(body)
    if not isinstance(state, State):
        raise RunFolderError(f"{path}: the saved state is damaged")
    return state


@contextmanager
def alone(path: Path) -> Iterator[None]:
    """Holds a lock file for this process; the system lets go of it when the process dies, however it dies.

    Raises RunFolderError where another process holds it or it cannot be written, StorageError where the disk is full.
    """
    with writing(path, RunFolderError):
        file = open(path, "a+", encoding="utf-8")  # noqa: SIM115  (held as long as the lock)
    try:
        try:
            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError:
            file.seek(0)
            holder = file.read().strip() or "unknown"
            raise RunFolderError(f"{path.parent}: another process (pid {holder}) is working on this run") from None
        with writing(path, RunFolderError):
            file.truncate(0)
            file.write(f"{os.getpid()}\n")
            file.flush()
        yield
    finally:
        with suppress(OSError):  # on a full disk the pid may still wait to be written
            file.close()
