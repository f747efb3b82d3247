"""How two panels are joined: one file a kind, found by its being in this folder."""

import importlib
import inspect
import pkgutil
from functools import cache

from synth.hinges.model import JointModel


@cache
def all_kinds() -> dict[str, type[JointModel]]:
    """Every kind of joint by name, in alphabetical order.

    A module of this folder that declares a concrete JointModel is a kind; modules of
    formulas declare none. Raises RuntimeError where a module declares more than one, or
    one under another name than the file's.
    """
    found: dict[str, type[JointModel]] = {}
    for module in sorted(m.name for m in pkgutil.iter_modules(__path__)):
        loaded = importlib.import_module(f"{__name__}.{module}")
        own = [
            k
            for k in vars(loaded).values()
            if inspect.isclass(k)
            and issubclass(k, JointModel)
            and not inspect.isabstract(k)
            and k.__module__ == loaded.__name__
        ]
        if len(own) > 1 or any(k.name != module for k in own):
            raise RuntimeError(f"synth/hinges/{module}.py must hold one kind of its own name, or none")
        found.update({k.name: k for k in own})
    return found
