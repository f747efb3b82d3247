"""Errors that people see. Everything the program raises on purpose is a StowfrontError."""

import difflib
import errno
import os
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path


class StowfrontError(Exception):
    """A fault told in words: what must be what, what was given, where."""


class InputError(StowfrontError):
    """What a person gave is wrong (exit code 2). faults: (field, sentence) for each thing wrong, where known."""

    faults: tuple[tuple[str, str], ...] = ()


class RunFolderError(StowfrontError):
    """A run folder is missing, busy or damaged (exit code 2)."""


class StorageError(StowfrontError):
    """The disk is full or failing: nothing that was given is wrong (exit code 1)."""


STORAGE = frozenset({errno.ENOSPC, errno.EDQUOT, errno.EFBIG, errno.EIO})
"""Faults of the disk, not of what was asked: no space, quota used up, file too large for a limit, device error."""


def is_full(fault: OSError) -> bool:
    """Whether the disk is full or failing."""
    return fault.errno in STORAGE


def unwritable(path: Path, fault: OSError, kind: type[StowfrontError] = InputError, what: str = "") -> StowfrontError:
    """The error that tells why a path cannot be written: StorageError for a full or failing disk, else of the kind."""
    why = os.strerror(fault.errno) if fault.errno else str(fault)
    sort = StorageError if is_full(fault) else kind
    return sort(f"{path}: cannot be {what or 'written'}: {why}")


@contextmanager
def writing(path: Path, kind: type[StowfrontError] = InputError, what: str = "") -> Iterator[None]:
    """Turns what the system says about a path into an error in words, as `unwritable` does."""
    try:
        yield
    except OSError as fault:
        raise unwritable(path, fault, kind, what) from fault


def nearest(name: str, known: Iterable[str]) -> str:
    """' Did you mean X?' for the closest known name, or an empty string."""
    close = difflib.get_close_matches(name, list(known), n=1, cutoff=0.5)
    return f" Did you mean '{close[0]}'?" if close else ""
