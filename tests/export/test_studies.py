"""The studies page tells what its script finds: one row of each table, worked out anew."""

import importlib.util
from pathlib import Path
from types import ModuleType
from typing import Any

import pytest

DOCS = Path(__file__).parents[2] / "docs"


@pytest.fixture(scope="module")
def script() -> ModuleType:
    spec = importlib.util.spec_from_file_location("studies", DOCS / "studies.py")
    assert spec is not None and spec.loader is not None
    made = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(made)
    return made


def rows(first: str) -> list[list[str]]:
    """Cells of the rows of the page that begin with a word."""
    text = (DOCS / "studies.md").read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if line.startswith(f"| {first} ")]
    return [[cell.strip() for cell in line.strip("|").split("|")] for line in lines]


def test_open_comb(script: Any) -> None:
    r = script.candidate(script.problem(), "map_fold", **script.COMB, latches="none", pairs=1)
    told, m = rows("open")[0], r["metrics"]
    assert told[2:4] == [f"{m['mass_kg']:.2f}", f"{m['part_count']:.0f}"]
    assert told[4:6] == [script.source(r, "joint misfits"), script.source(r, "gravity release")]
    assert told[6:8] == [script.um(m["surface_rms_m"] ** 2), script.um(m["in_plane_rms_m"] ** 2)]
    assert told[9] == f"{1e6 * r['budget']['locked_in']['energy_j']:.1f}"


def test_transmissive_sheet(script: Any) -> None:
    r = script.candidate(script.problem("transmissive"), "map_fold", **script.COMB, latches="all", pairs=1)
    told, o = rows("transmissive")[0], r["optics"]
    assert told[4] == script.um(o["wavefront_rms_m"] ** 2)
    assert told[5:] == [f"{1e6 * o[k]:.1f}" for k in ("blur_slope_rad", "blur_in_plane_rad", "blur_rad")]
