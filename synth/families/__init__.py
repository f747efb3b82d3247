"""How it folds: one file a family, found by its being in this folder."""

import importlib
import pkgutil
from functools import cache

from synth.core.family import Family


@cache
def families() -> dict[str, type[Family]]:
    """Every family by name, in alphabetical order.

    Raises RuntimeError where a module of this folder does not hold exactly one family.
    """
    found: dict[str, type[Family]] = {}
    for module in sorted(m.name for m in pkgutil.iter_modules(__path__) if not m.name.startswith("_")):
        loaded = importlib.import_module(f"{__name__}.{module}")
        kinds = [k for k in vars(loaded).values() if isinstance(k, type) and issubclass(k, Family) and k is not Family]
        own = [k for k in kinds if k.__module__ == loaded.__name__]
        if len(own) != 1:
            raise RuntimeError(f"synth/families/{module}.py must hold exactly one family, it holds {len(own)}")
        found[own[0].name] = own[0]
    return found
