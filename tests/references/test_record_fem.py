"""Whole verified candidates by finite elements: rms by source and three modes within 3 %, from the record alone.

The slow ones are a latched ring of seven and a comb of 32; the short one runs always.
"""

from typing import Any

import numpy as np
import pytest

from tests.recheck.test_budget import record_of
from tests.references.record_fem import by_elements
from tests.samples import problem

COMMON = {"section": "solid", "material": "al_6061_t6", "edge_gap": "10 mm"}
TREE = ("map_fold", {**COMMON, "columns": 2, "rows": 2, "latches": "none", "thickness": "8 mm", "hinge": "pin_bearing"})
RING = (
    "segment_stack",
    {**COMMON, "rings": 1, "tiling": "hexagon", "latches": "all", "thickness": "8 mm", "hinge": "pin_bearing"},
)
LARGE = ("map_fold", {**TREE[1], "columns": 6, "rows": 6, "thickness": "6 mm", "hinge": "pin_plain"})


@pytest.mark.parametrize(
    ("family", "values"),
    [
        pytest.param(*TREE, id="tree of four"),
        pytest.param(*RING, id="latched ring", marks=pytest.mark.slow),
        pytest.param(*LARGE, id="32 panels", marks=pytest.mark.slow),
    ],
)
def test_candidate_by_finite_elements(family: str, values: dict[str, Any]) -> None:
    asked = problem()
    record = record_of(asked, family, **values)
    assert record["verification"]["verified"]
    found, hertz = by_elements(record, 1.0 - asked.environment.gravity_offload, asked.accuracy.refocus, 1)
    parts = record["accuracy"]
    for name in ("joints", "figure", "bow", "gravity", "steady", "in_plane_joints"):
        known = np.sqrt(getattr(found, name))
        assert abs(np.sqrt(parts[f"{name}_m2"]) / known - 1.0) < 0.03, name
    flat = np.sqrt(found.in_plane_joints + found.in_plane_steady)
    assert abs(record["metrics"]["in_plane_rms_m"] / flat - 1.0) < 0.03
    told = [mode["frequency_hz"] for mode in record["modes"]]
    assert len(told) == 3
    assert np.abs(np.array(told) / hertz - 1.0).max() < 0.03
