import numpy as np
import pytest

from synth.cell import space
from synth.evaluate import evaluate
from synth.fold.tree import poses
from tests.bench.evaluate import ROOMY, cell, engine_poses, obvious, rows
from tests.near import near


@pytest.mark.parametrize("panels", [7, 19])
def test_the_obvious_way_gives_the_same_figures(panels: int) -> None:
    """Else the ratio of their times would mean nothing. Always run, on one candidate."""
    chosen = cell(panels)
    row = rows(chosen, 1)
    columns = space(ROOMY, chosen).columns(row)
    found = evaluate(ROOMY, chosen, columns)
    assert found.status.ok[0], found.status.reason[0]
    assert not found.screened_out[0]
    design = found.design
    t, g = design.topology, design.geometry
    near(engine_poses(design), poses(t, g.axis, g.stowed_angle[:, None])[0, 0], abs=1e-9)
    sides, joints, mode = obvious(ROOMY, chosen, row, True)
    near(np.prod(found.stowed_size[0, 0]), np.prod(sides), rel=2e-3, why="the batch tries spins at two degrees' steps")
    near(found.deployed.joints_m2[0], joints, rel=5e-3, why="coarse quadrature of the obvious way")
    near(found.deployed.first_mode_hz[0], mode, rel=2e-3)
