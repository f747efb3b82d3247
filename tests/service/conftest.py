"""A service that the tests of a module share, and new ones."""

from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

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
