"""A service that the tests of a module share, and new ones."""

import contextlib
import os
import shutil
import subprocess
import tempfile
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from synth.service.tokens import Tokens
from tests.service.postgres import Postgres, programs
from tests.service.served import Service, ended, leave_idle


@pytest.fixture(scope="session")
def one_service(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    """One that runs for all tests of a process."""
    made = Service(
        tmp_path_factory.mktemp("service") / "data", ("--rate", "2000", "--burst", "5000", "--nice", "0")
    ).start()
    yield made
    ended(made)


@pytest.fixture
def service(one_service: Service) -> Iterator[Service]:
    """The shared one; what a test leaves waiting or running is cancelled behind it."""
    yield one_service
    leave_idle(one_service)


@pytest.fixture(scope="session")
def locked(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    """One for all tests of a process that needs tokens; it speaks with one that may do everything."""
    more = ("--rate", "5000", "--burst", "9000", "--nice", "0", "--workers", "0")
    made = Service(tmp_path_factory.mktemp("locked") / "data", more)
    made.token = Tokens(made.data).new("keeper", "admin")
    yield made.start()
    ended(made)


@pytest.fixture(scope="session")
def limited(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    """One for all tests of a process whose every limit is small."""
    more = ("--max-body", "4096", "--max-queued", "2", "--max-evaluations", "500", "--rate", "0.1", "--burst", "60")
    made = Service(tmp_path_factory.mktemp("limited") / "data", (*more, "--no-page")).start()
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
