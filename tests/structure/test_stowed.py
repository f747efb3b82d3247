"""Launch: held panels against closed forms, and the laws."""

from dataclasses import replace

import numpy as np
import pytest

from synth.core.arrays import Floats
from synth.core.design import Design
from synth.core.material import Core, Material
from synth.structure import stowed as module
from synth.structure.section import Materials, Section, section
from synth.structure.stowed import carried_mass, hold_downs, launch
from tests.near import near
from tests.structure.make import grid, rectangle, strip, varied

AL = Material("al", "al", "metal", 2700.0, 70e9, 0.3, 2.36e-5, 167.0, 276e6, "yield")
CORE = Core("core", "core", 54.5, 150e6, 1e6)


def made_of(design: Design, sandwich: bool = False) -> Section:
    rows = design.rows
    columns = Materials.of([AL], np.zeros(rows, dtype=np.int64))
    return section(columns, design.panels.thickness, np.full(rows, sandwich), np.full(rows, 0.1), CORE)


def test_hold_downs_of_a_square_and_of_a_long_panel() -> None:
    """Corners of the enclosing rectangle, inset; two more on the long sides of a long panel."""
    outline = np.stack([rectangle(0, 0, 1, 1), rectangle(0, 0, 3, 1)])[None]
    points, used = hold_downs(outline, outline.mean(axis=2))
    assert used[0].sum(axis=-1).tolist() == [4.0, 6.0]
    corners = np.array([[0.1, 0.1], [0.1, 0.9], [0.9, 0.1], [0.9, 0.9]])
    assert near(np.array(sorted(points[0, 0, :4].tolist())), corners, rel=1e-9)
    middles = sorted(points[0, 1, 4:].tolist())
    assert near(np.array(middles), [[1.5, 0.1], [1.5, 0.9]], rel=1e-9)


def test_hold_downs_lie_inside() -> None:
    """On a triangle and a hexagon every point lies inside its outline."""
    turn = np.arange(6) * np.pi / 3
    hexagon = np.stack([np.cos(turn), np.sin(turn)], axis=-1)
    triangle = np.array([[0.0, 0.0], [1.0, 0.0], [0.2, 0.7]])
    for shape in (hexagon, triangle):
        outline = shape[None, None]
        points, _ = hold_downs(outline, shape.mean(axis=0)[None, None])
        step = np.roll(shape, -1, axis=0) - shape
        away = points[0, 0, :, None] - shape
        assert (step[:, 0] * away[..., 1] - step[:, 1] * away[..., 0] > 0.0).all()


@pytest.mark.parametrize("axis", [0, 1])
def test_narrow_panel_is_a_beam_on_two_supports(axis: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """A strip held at its ends (inset 1, nu = 0): middle moment q L^2 / 8, elementary beam theory.

    Four corner points act as two supports. Further in, the kink of the moment over a support costs a polynomial of
    degree 6 some per cent (3.7 % at the default inset).
    """
    monkeypatch.setattr(module, "LONG", 1e9)
    monkeypatch.setattr(module, "INSET", 1.0)
    monkeypatch.setattr(module, "PAD_SHARE", 1e-3)
    length, width, t = 0.8, 0.04, 0.01
    outline = rectangle(0, 0, length, width) if axis == 0 else rectangle(0, 0, width, length)
    made = strip(1, length, width, poisson=0.0, thickness=t)
    made = replace(made, geometry=replace(made.geometry, outline=outline[None, None], cut=outline[None, None]))
    mass = made.panels.mass[0, 0]
    got = launch(made, made_of(made), 15.0)
    q = mass * 15.0 * 9.80665 / length
    moment = q * length**2 / 8 / width
    assert near(got.stress_ratio, 6 / t**2 * moment / (276e6 / 1.25), rel=5e-3, why="springs, anticlastic edge effects")


def test_corner_held_square_against_known_frequency() -> None:
    """A square on corner points: omega a^2 sqrt(m / D) = 7.11 (free square on corner points, nu = 0.3; memory).

    With an inset of 1, soft pads made hard and small; Ritz of degree 6 lies above by under a per cent.
    """
    made = strip(1, 0.5, 0.5, thickness=0.005)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(module, "INSET", 1.0)
        patch.setattr(module, "PAD_SHARE", 1e-4)
        patch.setattr(module, "RESTRAINT_STIFFNESS", 1e10)
        got = launch(made, made_of(made), 15.0)
    scale = 2 * np.pi * 0.25 * np.sqrt(2700.0 * 0.005 / made.panels.stiffness[0, 0])
    assert near(got.first_mode_hz * scale, 7.11, rel=5e-3)


def test_carried_mass_adds_up() -> None:
    """Half of each joint on either panel, fittings and lumps where they sit."""
    made = grid(3, 2, hinge_mass=0.06, latched=True)
    made = replace(made, lumps_panel=np.array([2]), lumps_mass=np.full((1, 1), 0.5), lumps_name=("drive",))
    total = made.panels.mass.sum() + made.joint_masses.hinge.sum() + made.joint_masses.latch.sum() + 0.5
    assert near(carried_mass(made).sum(), total, rel=1e-12)
    bare = carried_mass(replace(made, lumps_mass=np.zeros((1, 1))))
    assert near((carried_mass(made) - bare)[0], [0, 0, 0.5, 0, 0, 0], rel=1e-9, abs=1e-12)


def columns(found: module.Launch) -> dict[str, Floats]:
    return {k: v for k, v in vars(found).items() if k != "status"}


@pytest.mark.parametrize("sandwich", [False, True])
def test_rows_do_not_know_each_other(sandwich: bool) -> None:
    many = varied(grid(3, 2), 6)
    whole = columns(launch(many, made_of(many, sandwich), 15.0))
    mixed = np.random.default_rng(0).permutation(6)
    shuffled = columns(launch(many.take(mixed), made_of(many, sandwich), 15.0))
    one = many.take(np.array([3]))
    alone = columns(launch(one, made_of(one, sandwich), 15.0))
    for name, column in whole.items():
        assert np.isfinite(column).all() and (column > 0.0).all()
        assert near(shuffled[name], column[mixed], rel=1e-9), name
        assert near(alone[name], column[3:4], rel=1e-9), name


def test_load_scales_stress_and_not_frequency() -> None:
    made = grid(3, 2)
    one, two = launch(made, made_of(made), 10.0), launch(made, made_of(made), 20.0)
    assert near(two.stress_ratio, 2.0 * one.stress_ratio, rel=1e-9)
    assert near(two.deflection, 2.0 * one.deflection, rel=1e-9)
    assert near(two.first_mode_hz, one.first_mode_hz, rel=1e-12)


def test_bad_rows_are_told() -> None:
    many = varied(grid(3, 2), 3)
    outline = many.geometry.outline.copy()
    outline[1, 0] = 0.0
    bad = replace(many, geometry=replace(many.geometry, outline=outline, cut=outline))
    found = launch(bad, made_of(bad), 15.0)
    assert found.status.ok.tolist() == [True, False, True]
    assert np.isfinite(found.first_mode_hz).all() and np.isfinite(found.stress_ratio).all()
