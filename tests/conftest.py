"""How tests are shared out."""

from typing import Any

import pytest


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Any:
    """Each worker gets a run of neighbouring files, whose fixtures it then makes once, and whoever is done first takes
    from the end of another's: neither services nor engines are started twice, and no long test is left for the last."""
    from xdist.scheduler import WorkStealingScheduling

    return WorkStealingScheduling(config, log)
