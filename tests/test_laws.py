"""Three laws of every stage of the pipeline, for every family: rows do not know of each other, and nothing is NaN.

What a candidate's figures are may depend on nothing but its own row: not on how many others share its batch, nor on
its place there. And whatever the row, every figure is a finite number.
"""

from collections.abc import Iterator
from dataclasses import fields, is_dataclass
from typing import Any

import numpy as np
import pytest

from synth.cell import Cell, space
from synth.core.arrays import Floats
from synth.core.status import Status
from synth.evaluate import evaluate, lay_out
from synth.ledger import Ledger, judge
from synth.problem import Problem
from tests.samples import cells, family_names, problem, rows, sound_cell, tight

B = 7
ROOMY, TIGHT = problem(), tight()
SAME = 1e-9
"""Relative: sums over a batch may run in another order than sums over one row; the figures hang on sums of a few
thousand terms and on eigenvalues of matrices with a condition below 1e6."""


def _cases(count: int) -> list[Any]:
    found = []
    for name in family_names():
        for k, cell in enumerate(cells(ROOMY, name, count, 61)):
            # both latch choices, one and two pairs of units
            build = (("latches", "all" if k % 2 else "none"), ("pairs", 1 + (k // 2) % 2))
            found.append(pytest.param(Cell(name, cell.fixed, build), id=f"{name}-{k}"))
    return found


CASES = _cases(5)


def told(thing: Any, name: str = "") -> Iterator[tuple[str, Any]]:
    """Every array of a nest of dataclasses whose first axis is the batch, by path; topology is shared and left out."""
    if isinstance(thing, Status):
        yield f"{name}.reason", thing.reason
        yield f"{name}.residual", thing.residual
    elif is_dataclass(thing):
        for f in fields(thing):
            yield from told(getattr(thing, f.name), f"{name}.{f.name}")
    elif isinstance(thing, dict):
        for key, value in thing.items():
            yield from told(value, f"{name}.{key}")
    elif isinstance(thing, np.ndarray) and not any(part in name for part in SHARED):
        yield name, thing


SHARED = (
    ".topology.", "units.panels", "units.owner", "units.kind", "fittings.panel", "fittings.hinge", "fittings.latch",
    "lumps_panel", "round_envelope",
)  # fmt: skip
"""Integers that a whole batch shares."""


def figures(asked: Problem, cell: Cell, X: Floats) -> tuple[dict[str, Any], Ledger]:
    """Everything that the pipeline tells of rows X."""
    columns = space(asked, cell).columns(X)
    design, made, build = lay_out(asked, cell, columns)
    found = evaluate(asked, cell, columns)
    ledger = judge(asked, found)
    return dict(told({"laid": design, "section": made, "build": build, "figures": found, "ledger": ledger})), ledger


def same(actual: Any, expected: Any, name: str) -> None:
    if actual.dtype == object or actual.dtype.kind in "bi":
        assert (actual == expected).all(), name
        return
    scale = np.abs(expected).max(initial=0.0)
    np.testing.assert_allclose(actual, expected, rtol=SAME, atol=1e-12 * scale, err_msg=name)


@pytest.mark.parametrize("cell", CASES)
@pytest.mark.parametrize("asked", [ROOMY, TIGHT], ids=["roomy", "tight"])
def test_all_at_once_is_one_at_a_time_and_a_shuffle_shuffles(asked: Problem, cell: Cell) -> None:
    X = rows(asked, cell, B)
    whole, _ = figures(asked, cell, X)
    assert len(whole) > 60 and all(len(v) == B for v in whole.values()), [k for k, v in whole.items() if len(v) != B]
    order = np.random.default_rng(1).permutation(B)
    mixed, _ = figures(asked, cell, X[order])
    single = [figures(asked, cell, X[k : k + 1])[0] for k in range(B)]
    for name, value in whole.items():
        same(mixed[name], value[order], f"shuffled: {name}")
        same(np.concatenate([s[name] for s in single]), value, f"one at a time: {name}")


@pytest.mark.parametrize("name", family_names())
def test_every_figure_is_finite_over_the_whole_box(name: str) -> None:
    standing = 0
    for asked in (ROOMY, TIGHT):
        for cell in cells(asked, name, 5, 61):
            found, ledger = figures(asked, cell, rows(asked, cell, 20, seed=9))
            for key, value in found.items():
                assert value.dtype == object or np.isfinite(value).all(), f"{cell.label}: {key}"
            assert (ledger.violation >= 0.0).all()
            reason, residual = found[".figures.status.reason"], found[".figures.status.residual"]
            assert ((residual < 0.0) == (reason != "")).all()
            assert (ledger.violation[reason != ""] > 0.0).all(), "no design, and no violation"
            screened = found[".figures.screened_out"]
            assert (ledger.violation[screened] >= 10.0).all()
            standing += int((~screened).sum())
    assert standing >= 4, "hardly any row was worked out in full"


@pytest.mark.parametrize("name", family_names())
def test_a_screened_row_tells_what_the_full_one_tells_as_far_as_it_goes(name: str) -> None:
    """The screen saves work, it changes no figure: size, mass and light are those of the problem that screens none."""
    cell = sound_cell(ROOMY, name, 20, 24)
    X = rows(ROOMY, cell, 24)
    heavy = problem(mass={"limit": "12 kg"})
    free, screened = (evaluate(p, cell, space(p, cell).columns(X)) for p in (ROOMY, heavy))
    gone = screened.screened_out & ~free.screened_out
    for part in ("stowed_size", "fit", "basic_mass", "collecting_area", "panel_volume", "panel_sides", "panel_gap"):
        np.testing.assert_array_equal(getattr(screened, part), getattr(free, part))
    both = ~screened.screened_out & ~free.screened_out
    same(screened.deployed.surface_rms[both], free.deployed.surface_rms[both], "surface")
    assert gone.any() and both.any()
