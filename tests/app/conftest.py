"""What several tests of the commands begin from."""

from pathlib import Path

import pytest

from synth.app.running import try_candidate
from synth.problem.toml_text import toml_text
from tests.samples import ROOMY


@pytest.fixture(scope="module")
def ring(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A verified ring of segments, opened in three stages."""
    home = tmp_path_factory.mktemp("ring")
    (home / "p.toml").write_text(toml_text(ROOMY))
    given = ["build.thickness=6 mm", "build.edge_gap=12 mm", "segment_stack.rings=1", "build.hinge=pin_bearing"]
    return try_candidate(home / "p.toml", "segment_stack", given, None, home / "run").folder
