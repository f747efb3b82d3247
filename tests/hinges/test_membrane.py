"""Membranes: the film's bending and mass, and the units that stand for it in a design."""

import numpy as np

from synth.cell import cell_from, space
from synth.evaluate import lay_out
from tests.near import near
from tests.samples import problem

ARMS, TRUE, SEAMS = 6, 30, 12


def test_numbers_of_a_film() -> None:
    # 2.5 GPa (50 um)^3 0.1 m / (12 * 0.02 m) and 1420 kg/m3 50 um 0.1 m (0.02 + 0.008) m, by hand
    film = problem().film
    assert near(film.bending_stiffness(np.array(0.1), np.array(0.02)), 1.3021e-4, rel=1e-4)
    assert near(film.film_mass(np.array(0.1), np.array(0.02)), 1.988e-4, rel=1e-4)


def test_a_slack_hinge_is_a_membrane_that_bends_and_holds_nothing_else() -> None:
    asked = problem()
    values = {"wrapped_hub.sides": "6", "wrapped_hub.grip": "0.8", "wrapped_hub.reach": "1.1", "build.pairs": "1",
              "build.latches": "none", "build.thickness": "6 mm", "build.edge_gap": "10 mm"}  # fmt: skip
    cell, row = cell_from(asked, "wrapped_hub", values)
    design, _, _ = lay_out(asked, cell, space(asked, cell).columns(row))
    slack = design.geometry.slack[0] > 0.0
    assert slack.tolist() == [False] * TRUE + [True] * SEAMS
    mine = (design.units.kind == 0) & slack[np.minimum(design.units.owner, TRUE + SEAMS - 1)]
    assert sorted(design.units.owner[mine]) == list(range(TRUE, TRUE + SEAMS))
    stiffness = design.units.stiffness[0, mine]
    length = np.linalg.norm(np.diff(design.geometry.axis[0, slack], axis=1)[:, 0], axis=-1)
    free = design.geometry.slack[0, slack] + 10e-3
    assert near(stiffness[:, 3], asked.film.bending_stiffness(length, free), rel=1e-12)
    assert not stiffness[:, [0, 1, 2, 4, 5]].any() and not design.units.sigma[0, mine].any()
    assert near(design.joint_masses.hinge[0, slack], asked.film.film_mass(length, free), rel=1e-12)
    assert not np.isin(design.fittings.hinge, np.flatnonzero(slack)).any()
    assert (design.joint_masses.hinge[0, ~slack] > 10.0 * design.joint_masses.hinge[0, slack].max()).all()
