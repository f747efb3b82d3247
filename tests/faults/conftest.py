from pathlib import Path

import pytest

from tests.faults.runs import TINY, command, ended, found


@pytest.fixture(scope="session")
def tiny(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The file of the tiny problem."""
    file = tmp_path_factory.mktemp("problem") / "tiny.toml"
    file.write_text(TINY)
    return file


@pytest.fixture(scope="session")
def whole(tiny: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, bytes]:
    """What an undisturbed run in one process finds."""
    out = tmp_path_factory.mktemp("whole") / "run"
    code, _, err = ended(command("run", tiny, "--out", out, "--workers", "0"))
    assert code == 0, err
    result = found(out)
    assert len(result) > 4, "the tiny problem must have a front"
    return result
