"""Packages that only some exporters need: found when they are used, told with the command that installs them."""

from importlib import import_module
from importlib.util import find_spec
from typing import Any

from synth.core.errors import InputError

INSTALL = {"export": "pip install 'stowfront[export]'", "cad": "pip install 'stowfront[cad]'"}
PACKAGES = {"ezdxf": ("ezdxf", "export"), "manifold3d": ("manifold3d", "export"), "reportlab": ("reportlab", "export"),
            "OCP": ("cadquery-ocp-novtk", "cad")}  # fmt: skip
"""Module to its distribution and the extra that brings it."""


class MissingPackageError(InputError):
    """An optional package is not installed; the text says how to install it."""


def missing(module: str) -> str | None:
    """A sentence that says what to install, or None where the module is there."""
    if find_spec(module) is not None:
        return None
    package, extra = PACKAGES[module]
    return f"needs the optional package {package}: {INSTALL[extra]}"


def optional(module: str, asked_by: str) -> Any:
    """The module, imported now. Raises MissingPackageError where it, or a library of its own, is not there."""
    root = module.partition(".")[0]
    try:
        return import_module(module)
    except ImportError as fault:
        package, extra = PACKAGES[root]
        raise MissingPackageError(
            f"{asked_by} needs the optional package {package}: {INSTALL[extra]} ({fault})"
        ) from fault
