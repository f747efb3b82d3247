"""Errors that people see. Everything the program raises on purpose is a StowfrontError."""

import difflib
from collections.abc import Iterable


class StowfrontError(Exception):
    """A fault told in words: what must be what, what was given, where."""


class InputError(StowfrontError):
    """What a person gave is wrong (exit code 2). faults: (field, sentence) for each thing wrong, where known."""

    faults: tuple[tuple[str, str], ...] = ()


class RunFolderError(StowfrontError):
    """A run folder is missing, busy or damaged (exit code 2)."""


def nearest(name: str, known: Iterable[str]) -> str:
    """' Did you mean X?' for the closest known name, or an empty string."""
    close = difflib.get_close_matches(name, list(known), n=1, cutoff=0.5)
    return f" Did you mean '{close[0]}'?" if close else ""
