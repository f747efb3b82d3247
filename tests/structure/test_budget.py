"""The error budget against the plain twin: each source alone, each joint, each datum, energy locked in."""

from dataclasses import replace

import numpy as np
import pytest

from synth.core.arrays import Floats
from synth.structure.budget import DATUMS
from synth.structure.loads import Loads
from synth.structure.settled import settled
from tests.near import near
from tests.references.plain_network import left_over, twin
from tests.references.test_network_twin import CASES

LOADS = Loads(gravity_release=0.02)


@pytest.mark.parametrize("name", list(CASES))
def test_shares_add_up_to_the_figures_of_the_network(name: str) -> None:
    made = CASES[name]
    found = settled(made, LOADS, {"everything": made})
    parts, whole = found.budget, found.deployed
    assert parts is not None
    assert near(parts.draws[0].sum(), whole.joints_m2[0], rel=1e-9)
    assert near(parts.draws[1].sum(), whole.in_plane_joints_m2[0], rel=1e-9)
    assert near(parts.draws[2].sum(), whole.slope_joints_rad2[0], rel=1e-9)
    assert near(parts.steady["gravity release"][0], whole.gravity_m2[0], rel=1e-9)
    assert near(parts.datums["best-fit plane"], whole.surface_rms[0] ** 2, rel=1e-9)
    as_deployed, plane, focus = (parts.datums[d] for d in DATUMS)
    assert as_deployed > plane > focus > 0.0


@pytest.mark.parametrize("name", ["loops", "causes"])
def test_against_the_plain_twin(name: str) -> None:
    """Without panel bow nor growth the only steady source is the free offset; every draw on its own."""
    made = CASES[name]
    none = np.zeros(1)
    bare = replace(made, panels=replace(made.panels, bow=none, bulk_strain=none, figure=none))
    found = settled(made, LOADS, {"offsets": bare})
    parts, degree = found.budget, found.plate_degree
    assert parts is not None
    plain = twin(made, degree, 0.02)
    answer = np.linalg.solve(plain.stiffness, plain.misfit_loads)

    def squares(motion: Floats) -> Floats:
        points, weights, heights = plain.heights(motion)
        return weights @ left_over(points, weights, heights, False) ** 2 / weights.sum()

    near(parts.draws[0].reshape(-1), squares(answer), rel=2e-3, abs=1e-18, why="quadrature by small triangles")
    offsets = twin(bare, degree, 0.0)
    motion = np.linalg.solve(offsets.stiffness, offsets.loads["growth"][:, None])
    near(parts.steady["offsets"][0], squares(motion)[0], rel=2e-3, why="quadrature by small triangles")
    # energy at rest: half of m^T k m less u^T K u, summed over independent draws
    units = made.units
    squeezed = float((units.stiffness * units.sigma**2).sum())
    expected = 0.5 * (squeezed - float((plain.misfit_loads * answer).sum()))
    near(parts.locked.energy_j, expected, rel=2e-4, why="quadrature by small triangles")
    assert parts.locked.energy_j >= parts.locked.units_j.sum()


def test_latches_lock_in_what_a_tree_of_single_units_does_not() -> None:
    """One unit an edge is no more than the position needs: every misfit is followed and nothing is strained."""
    from tests.structure.make import strip

    tree = settled(strip(3, pairs=0, pad=0.02), Loads()).budget
    pair = settled(strip(3, pairs=1), Loads()).budget
    assert tree is not None and pair is not None
    assert tree.locked.energy_j < 1e-9 * pair.locked.energy_j
    assert tree.locked.force_n.max() < 1e-3 * pair.locked.force_n.max()
