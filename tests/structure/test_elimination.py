"""Block elimination against dense matrices (numpy's solver), whatever the order of joints and what touches a panel."""

import numpy as np
import pytest

from synth.structure.elimination import Elimination, plan
from tests.near import near


@pytest.mark.parametrize("seed", range(12))
def test_responses_to_loads_of_joints_are_those_of_the_dense_matrix(seed: int) -> None:
    """Springs between panels of one freedom, in random order; each pulls on both of its panels.

    A panel with four joints and more meets their loads in an order that neither rises nor leaves one out.
    """
    rng = np.random.default_rng(seed)
    panels, extra = 9, seed % 6
    pairs = [(int(rng.integers(p)), p) for p in range(1, panels)]
    loose = [(i, j) for j in range(panels) for i in range(j) if (i, j) not in pairs]
    pairs += [loose[k] for k in rng.permutation(len(loose))[:extra]]
    pairs = [pairs[k] for k in rng.permutation(len(pairs))]
    pull = np.zeros((panels, len(pairs)))
    for k, (i, j) in enumerate(pairs):
        pull[i, k], pull[j, k] = -1.0, 1.0
    stiffness = rng.uniform(0.5, 2.0, len(pairs))
    dense = np.eye(panels) + pull @ np.diag(stiffness) @ pull.T
    near_ones = sorted({(max(pair), min(pair)) for pair in pairs})
    blocks = {(p, p): dense[None, p : p + 1, p : p + 1] for p in range(panels)}
    blocks |= {(p, q): dense[None, p : p + 1, q : q + 1] for p, q in near_ones}
    factors = Elimination(plan(panels, tuple(near_ones)), blocks)
    load = pull * stiffness
    columns = {p: np.flatnonzero(pull[p]) for p in range(panels)}
    own = {p: load[None, p : p + 1, columns[p]] for p in range(panels)}
    expected = np.linalg.solve(dense, load)
    found = factors.respond(own, columns, len(pairs))
    assert near(np.concatenate([found[p][0] for p in range(panels)]), expected, abs=1e-12, why="rounding")
    spread = factors.covariance(own, columns, len(pairs))
    assert near([spread[p][0, 0, 0] for p in range(panels)], (expected**2).sum(axis=1), abs=1e-12, why="rounding")
