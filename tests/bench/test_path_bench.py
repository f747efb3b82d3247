"""Time to prove whole paths of trees and loops, hardware and all, one core; prints, never asserts times.

Wanted: 20 panels in less than 1 s, 60 panels in less than 10 s. The smaller cases always run, the larger are slow.
"""

import time
from typing import Any

import numpy as np
import pytest

from synth.cell import cell_from, space
from synth.evaluate import family_of, lay_out
from synth.fold.interference import prove
from synth.fold.route import course_of, motion_of
from tests.samples import problem

BUILD: dict[str, Any] = {"build.thickness": 6e-3, "build.edge_gap": 12e-3, "build.hinge": "pin_plain"}
SMALL: dict[str, tuple[str, dict[str, Any]]] = {
    "tree, 19 hexagons as a star": ("segment_stack", {"tiling": "hexagon", "rings": 2, "tree": "star"}),
    "tree, 4 x 5 comb": ("map_fold", {"columns": 4, "rows": 5, "tree": "comb"}),
    "loops, 5 x 4 sheet": ("miura", {"columns": 5, "rows": 4, "sector": 1.2}),
}
LARGE: dict[str, tuple[str, dict[str, Any]]] = {
    "slack, hub of 31": ("wrapped_hub", {"sides": 6, "rings": 2, "reach": 1.1}),
    "tree, 61 hexagons as a star": (
        "segment_stack",
        {"tiling": "hexagon", "rings": 4, "tree": "star", "build.thickness": 2e-3, "build.edge_gap": 30e-3},
    ),
    "tree, 8 x 7 comb": ("map_fold", {"columns": 8, "rows": 7, "tree": "comb"}),
    "loops, 6 x 10 sheet": ("miura", {"columns": 6, "rows": 10, "sector": 1.2}),
    "slack, hub of 55": ("wrapped_hub", {"sides": 6, "rings": 3, "reach": 1.1}),
}
CASES = [*SMALL, *(pytest.param(name, marks=pytest.mark.slow) for name in LARGE)]


@pytest.mark.parametrize("name", CASES)
def test_time_of_a_whole_path(name: str) -> None:
    family, values = {**SMALL, **LARGE}[name]
    asked = problem(aperture={"clear_diameter": "2 m"})
    cell, row = cell_from(
        asked, family, {**BUILD, **{k if "." in k else f"{family}.{k}": v for k, v in values.items()}}
    )
    columns = space(asked, cell).columns(row)
    laid, _, build = lay_out(asked, cell, columns)
    design, made = laid.one(0), family_of(cell, columns)
    start = time.process_time()
    motion = motion_of(made, build, design)
    course = course_of(design, motion)
    ready = time.process_time()
    found = prove(design, course=course)
    end = time.process_time()
    verdict = f"clear by {1e3 * found.least_m:.2f} mm" if found.clear else found.reason
    print(
        f"\n{name}: {design.topology.panels} panels, {len(design.fittings.panel)} fittings, {course.stages} intervals, "
        f"{found.tests} tests; motion {ready - start:.2f} s, proof {end - ready:.2f} s of one core; {verdict}"
    )
    # a path that is refused ends early and would flatter the time
    assert found.clear and found.tests > 0 and np.isfinite(motion.poses).all()
