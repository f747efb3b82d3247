"""What latches must find and pull, by single misfits, by a latch that is already shut, and by what must vanish."""

from dataclasses import replace

import numpy as np
import pytest

from synth.cell import cell_from, space
from synth.core.design import Design
from synth.evaluate import lay_out, loads_of
from synth.problem import Problem
from synth.structure.assembly import assemble, free_positions
from synth.structure.elimination import Elimination
from synth.structure.latching import ORDER, latching, refusal
from synth.structure.monomials import MonomialPlates
from tests.near import near
from tests.samples import problem


@pytest.fixture(scope="module")
def asked() -> Problem:
    still = {"bulk_temperature_change": 0.0, "through_thickness_difference": 0.0, "gravity_offload": 1.0}
    return problem(choices={"hinge_kinds": ["pin_bearing"]}, environment=still)


@pytest.fixture(scope="module")
def square(asked: Problem) -> Design:
    """Four panels, three hinges, one free edge with a latch."""
    values = {"rows": 2, "columns": 2, "latches": "all", "build.thickness": "6 mm", "build.edge_gap": "20 mm",
              "material": "al_6061_t6"}  # fmt: skip
    cell, row = cell_from(asked, "map_fold", values)
    laid = lay_out(asked, cell, space(asked, cell).columns(row))[0]
    assert laid.status.ok[0], laid.status.reason
    design = laid.one(0)
    assert design.joint_masses.latch.shape == (1, 1)
    return design


def drawn(design: Design, asked: Problem, misfit: np.ndarray) -> np.ndarray:
    """Relative motion [6] at the latch for one draw of all misfits, the latch open: steady offsets and nothing else."""
    latch = int(np.flatnonzero(design.units.kind == 1)[0])
    held = design.units.stiffness.copy()
    held[:, latch] = 0.0
    sure = replace(design, units=replace(design.units, stiffness=held, free_offset=misfit[None]))
    network = assemble(sure, MonomialPlates(design.geometry.outline, ORDER), loads_of(asked))
    factors = Elimination(network.wiring.steps, network.blocks(network.spring, network.plate))
    return network.strain(factors.solve(network.steady.sum(axis=-1, keepdims=True)))[0, latch, :, 0]


def test_three_sigma_are_the_sum_over_single_misfits(square: Design, asked: Problem) -> None:
    """Independent errors add in squares: each misfit alone at one standard deviation, as a steady offset."""
    found = latching(square, loads_of(asked))
    assert found is not None
    sigma, total = square.units.sigma[0], np.zeros(6)
    for unit in range(len(sigma)):
        for way in range(6):
            misfit = np.zeros_like(sigma)
            misfit[unit, way] = sigma[unit, way]
            total += drawn(square, asked, misfit) ** 2
    spread = 3.0 * np.sqrt(total)
    near(found.across[0], spread[1], rel=1e-6)
    near(found.sideways[0], np.hypot(spread[0], spread[2]), rel=1e-6)


def test_force_is_what_a_shut_latch_bears(square: Design, asked: Problem) -> None:
    """With one latch, and that far stiffer than all else, the force in it is the force that closed it."""
    latch = int(np.flatnonzero(square.units.kind == 1)[0])
    misfit = np.zeros((len(square.units.kind), 6))
    misfit[0] = [2e-6, -3e-6, 1e-6, 1e-4, -5e-5, 2e-5]
    only = replace(square, units=replace(square.units, sigma=0.0 * square.units.sigma, free_offset=misfit[None]))
    found = latching(only, loads_of(asked))
    assert found is not None
    near(found.across[0], abs(drawn(square, asked, misfit)[1]), rel=1e-9, why="one steady error")
    stiff = square.units.stiffness.copy()
    stiff[:, latch] = 1e10
    shut = replace(only, units=replace(only.units, stiffness=stiff))
    network = assemble(shut, MonomialPlates(square.geometry.outline, ORDER), loads_of(asked))
    factors = Elimination(network.wiring.steps, network.blocks(network.spring, network.plate))
    moved = network.strain(factors.solve(network.steady.sum(axis=-1, keepdims=True)))[0, latch, :, 0]
    borne = stiff[0, latch] * (moved - free_positions(shut, network.forms)[0, latch])
    near(found.force[0], abs(borne[1]), rel=1e-3, why="1e10 N/m and N m/rad, a thousand times all else")


def test_growth_of_one_material_brings_no_error(square: Design) -> None:
    """Panels and joints of aluminium grow alike: at any even temperature the latch meets as it would at none."""
    warm = problem(
        choices={"hinge_kinds": ["pin_bearing"]},
        environment={"bulk_temperature_change": "40 K", "through_thickness_difference": 0.0, "gravity_offload": 1.0},
    )
    values = {"rows": 2, "columns": 2, "latches": "all", "build.thickness": "6 mm", "build.edge_gap": "20 mm",
              "material": "al_6061_t6"}  # fmt: skip
    cell, row = cell_from(warm, "map_fold", values)
    design = lay_out(warm, cell, space(warm, cell).columns(row))[0].one(0)
    assert design.panels.bulk_strain[0] > 9e-4
    one, two = latching(square, loads_of(warm)), latching(design, loads_of(warm))
    assert one is not None and two is not None
    near(two.across, one.across, rel=1e-6)
    near(two.force, one.force, rel=1e-6)


def test_a_latch_that_cannot_catch_or_close_says_by_how_much(square: Design, asked: Problem) -> None:
    found = latching(square, loads_of(asked))
    assert found is not None
    side, force = float(found.sideways[0]), float(found.force[0])
    assert refusal(found, 1.01 * side, 1.01 * force) == ""
    assert f"captures {990 * side:.3g} mm" in refusal(found, 0.99 * side, 1.01 * force)
    assert f"holds {0.99 * force:.3g} N" in refusal(found, 1.01 * side, 0.99 * force)
    assert "hangs together nowhere" in refusal(None, 1.0, 1.0)
