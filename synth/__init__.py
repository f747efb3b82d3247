"""Stowfront: ways to fold a large flat aperture into a small stowed envelope, searched, verified, compared.

from synth import check, run, attempt, read_front, read_candidate, recheck_run
"""

from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from synth.app.library import attempt, check, read_candidate, read_front, recheck_run, run

__all__ = ["attempt", "check", "read_candidate", "read_front", "recheck_run", "run"]


def __getattr__(name: str) -> Any:
    # loaded when asked for: importing a part of the package must not load all of it
    if name in __all__:
        from synth.app import library

        return getattr(library, name)
    raise AttributeError(f"module 'synth' has no attribute '{name}'")
