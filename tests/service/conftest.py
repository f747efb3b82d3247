"""A service that the tests of a module share, and new ones."""

import contextlib
import os
import shutil
import subprocess
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from tests.service.postgres import Postgres, programs
from tests.service.served import Service, ended


@pytest.fixture(scope="module")
def service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    """One that runs for the whole module."""
    made = Service(tmp_path_factory.mktemp("service") / "data", ("--rate", "2000", "--burst", "5000")).start()
    yield made
    ended(made)


@pytest.fixture
def new_service(tmp_path: Path) -> Iterator[Callable[..., Service]]:
    """Makes services with other settings (not yet started)."""
    made: list[Service] = []

    def make(*more: str, data: str = "data") -> Service:
        made.append(Service(tmp_path / data, more))
        return made[-1]

    yield make
    for each in made:
        ended(each)


@pytest.fixture(scope="session")
def postgres() -> Iterator[Postgres]:
    """A running Postgres of our own. Skipped where none is installed; .ci/run installs it."""
    found = programs()
    if found is None:
        if os.environ.get("CI"):
            pytest.fail("no Postgres on this machine: .ci/run should have installed it")
        pytest.skip("no Postgres on this machine (Debian: apt-get install postgresql)")
    folder = Path(tempfile.mkdtemp(prefix="stowfront-pg-"))  # pytest's own folders are closed to other users
    folder.chmod(0o755)
    made = Postgres(folder / "cluster", found).create()
    yield made
    with contextlib.suppress(subprocess.CalledProcessError):
        made.stop("immediate")
    shutil.rmtree(folder, ignore_errors=True)
