"""Masses add."""

from dataclasses import replace

import numpy as np

from synth.mass.rollup import Shares, panel_masses, perimeter, roll_up
from synth.problem.growth import TABLE
from tests.near import near
from tests.structure.make import design, rectangle, unit


def test_sheet_areal_masses() -> None:
    """Case mass.silica_sheet_areal (thicknesses seen, products own): 2200 kg/m3 x 0.7 and 1.0 mm."""
    square = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]])
    outline = np.broadcast_to(square, (2, 1, 4, 2))
    got = panel_masses(outline, 2200.0 * np.array([0.0007, 0.001]), np.zeros(2))
    assert near(got[:, 0], [1.54, 2.2], rel=1e-12)


def test_edges_add_by_length() -> None:
    """A 3-4-5 triangle has a perimeter of 12 whatever the padding."""
    triangle = np.array([[0.0, 0.0], [3.0, 0.0], [0.0, 4.0]])
    padded = np.concatenate([triangle, triangle[-1:], triangle[-1:]])
    assert near(perimeter(triangle), 12.0, rel=1e-12)
    assert near(perimeter(padded), 12.0, rel=1e-12)
    got = panel_masses(padded[None, None], np.array([2.0]), np.array([0.1]))
    assert near(got, 2.0 * 6.0 + 0.1 * 12.0, rel=1e-12)


def test_growth_by_class_of_part() -> None:
    """Case mass.mga_rollup (seen): 2.0 kg panels at layout 15 %, 0.5 kg hinges estimated 18 %, 0.2 kg harness 50 %."""
    from_table = [2.0 * 1.15, 0.5 * 1.18, 0.2 * 1.50, 0.3 * 1.24]
    assert near(sum(from_table), 3.562, rel=1e-9)
    assert near([TABLE["layout"][0], TABLE["estimated"][0], TABLE["estimated"][2], TABLE["estimated"][1]],
                [0.15, 0.18, 0.50, 0.24], rel=1e-12)  # fmt: skip


def test_every_part_grows_by_its_own_share() -> None:
    made = design([rectangle(0, 0, 0.3, 0.2)], [-1], [unit(np.array([0.15, 0.1, -0.01]), np.eye(3), 0, -1, 0, 2, 0.0)],
                  hinge_mass=0.0, rows=2)  # fmt: skip
    made = replace(made, lumps_panel=np.array([0, 0]), lumps_mass=np.array([[0.2, 0.1], [0.2, 0.1]]),
                   lumps_name=("drive stage 0", "drive harness to panel 1"))  # fmt: skip
    panels, mount = made.panels.mass.sum(axis=1), made.joint_masses.mount
    got = roll_up(made, Shares(np.array([0.19, 0.15]), 0.15, 0.30))
    assert near(got.basic, panels + mount + 0.3, rel=1e-12)
    assert near(got.predicted, panels * np.array([1.19, 1.15]) + (mount + 0.2) * 1.15 + 0.1 * 1.30, rel=1e-12)
