"""Packages that only some exporters need: found when they are used, told with the command that installs them."""

import sys
from collections.abc import Iterable
from importlib import import_module
from importlib.util import find_spec
from typing import Any

from synth.core.errors import InputError

PACKAGES = {"ezdxf": ("ezdxf", "export"), "manifold3d": ("manifold3d", "export"), "reportlab": ("reportlab", "export"),
            "OCP": ("cadquery-ocp-novtk", "cad")}  # fmt: skip
"""Module to its distribution and the extra that brings it."""


class MissingPackageError(InputError):
    """An optional package is not installed; the text says how to install it."""


def missing(module: str) -> str | None:
    """The package that brings a module, or None where the module is there."""
    return None if find_spec(module) is not None else PACKAGES[module][0]


def install(modules: Iterable[str]) -> str:
    """The command that brings modules: in the clone, whatever an index may hold under the same name."""
    extras = ",".join(sorted({PACKAGES[m][1] for m in modules}))
    return f"To add it, in a clone of the repository: {sys.prefix}/bin/pip install -c constraints.txt '.[{extras}]'"


def optional(module: str, asked_by: str) -> Any:
    """The module, imported now. Raises MissingPackageError where it, or a library of its own, is not there."""
    root = module.partition(".")[0]
    try:
        return import_module(module)
    except ImportError as fault:
        raise MissingPackageError(
            f"{asked_by} needs the optional package {PACKAGES[root][0]} ({fault})\n{install([root])}"
        ) from fault
