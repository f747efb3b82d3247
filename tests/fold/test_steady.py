"""Steady offsets of joints: growth of the metal between the feet by the kind's own figure, creep towards the fold."""

from typing import Any

import numpy as np

from synth.cell import cell_from, space
from synth.evaluate import lay_out
from tests.near import near
from tests.samples import problem


def offsets(own: list[dict[str, Any]], environment: dict[str, Any]) -> Any:
    asked = problem(catalogue={"joint": own} if own else {}, choices={"hinge_kinds": ["pin_bearing"]},
                    environment=environment)  # fmt: skip
    cell, row = cell_from(asked, "accordion", {"strips": 3, "edge_gap": "8 mm", "thickness": "8 mm"})
    design = lay_out(asked, cell, space(asked, cell).columns(row))[0]
    return design, design.units.offset[0, design.units.kind == 0]


def test_growth_of_titanium_leaves_is_that_of_titanium() -> None:
    """8.6e-6 instead of 23.6e-6 a kelvin, over the same distance of the feet; flexures stay to be sized."""
    entry = {"id": "pin_bearing", "measured": {"cte_per_k": {"value": 8.6e-6, "source": "leaves of ti_6al_4v"}}}
    warm = {"bulk_temperature_change": "10 K"}
    design, plain = offsets([], warm)
    _, own = offsets([entry], warm)
    span = np.linalg.norm(np.diff(design.units.feet[0, design.units.kind == 0], axis=1)[:, 0], axis=-1)
    near(plain[:, 1], 2.36e-5 * 10.0 * span, rel=1e-9)
    near(own[:, 1], 8.6e-6 * 10.0 * span, rel=1e-9)
    assert not own[:, [0, 2, 3, 4, 5]].any()


def test_creep_is_towards_the_fold() -> None:
    design, found = offsets([], {"hinge_creep": "30 urad", "bulk_temperature_change": 0.0})
    fold = design.geometry.stowed_angle[0, design.units.owner[design.units.kind == 0]]
    near(found[:, 3], 30e-6 * np.sign(fold), rel=1e-12)
    assert {*np.sign(fold).tolist()} == {-1.0, 1.0}
