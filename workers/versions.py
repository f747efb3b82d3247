"""What a driver and its workers must share, so that the same task gives the same answer to the last bit."""

import functools
import hashlib
import platform
from importlib.metadata import PackageNotFoundError, version
from importlib.util import find_spec
from pathlib import Path

PACKAGES = ("synth", "problems", "workers")
"""Import packages that are sent to the workers of a cluster."""
LIBRARIES = ("ray", "numpy", "scipy", "shapely", "pydantic")
"""Libraries that an evaluation's numbers pass through, and Ray, which speaks only to itself."""
CODE = "code"


def folders(names: tuple[str, ...] = PACKAGES) -> list[Path]:
    """Folders of import packages. ModuleNotFoundError for an unknown one."""
    found = []
    for name in names:
        spec = find_spec(name)
        if spec is None or not spec.submodule_search_locations:
            raise ModuleNotFoundError(f"there is no package {name}")
        found.append(Path(next(iter(spec.submodule_search_locations))))
    return found


def _version(name: str) -> str:
    try:
        return version(name)
    except PackageNotFoundError:
        return "source" if name == "stowfront" else "missing"


def installed() -> dict[str, str]:
    """Versions of Python, the program and the libraries of this machine; told before a machine joins."""
    python = ".".join(platform.python_version_tuple()[:2])
    return {"python": python, **{name: _version(name) for name in ("stowfront", *LIBRARIES)}}


@functools.cache
def mine() -> dict[str, str]:
    """installed(), and twelve hex digits of a digest (SHA-256) over the program's own code as this process finds it."""
    digest = hashlib.sha256()
    for folder in folders():
        for file in sorted(p for p in folder.rglob("*") if p.suffix in (".py", ".toml")):
            digest.update(f"{folder.name}/{file.relative_to(folder).as_posix()}\0".encode())
            digest.update(file.read_bytes())
    return {**installed(), CODE: digest.hexdigest()[:12]}


def differences(here: dict[str, str], there: dict[str, str]) -> str:
    """What differs, as "numpy 2.4.5 (there 2.4.6)", or an empty text; only names that both tell."""
    return ", ".join(f"{k} {here[k]} (there {there[k]})" for k in sorted({*here} & {*there}) if here[k] != there[k])
