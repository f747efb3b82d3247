"""Settled figures of one candidate."""

from dataclasses import replace

import numpy as np

from synth.structure import settled as module
from synth.structure.loads import Loads
from synth.structure.network import deployed
from synth.structure.settled import settled
from tests.near import near
from tests.structure.make import grid, strip, varied

LOADS = Loads(gravity_release=0.02)


def test_degree_rises_until_two_more_change_little() -> None:
    """The degree told gives the figures told; the sensitivities are those of two more degrees."""
    made = varied(grid(3, 2, hinge_mass=0.05), 1)
    found = settled(made, LOADS)
    assert found.settled and found.plate_degree in module.DEGREES
    assert max(found.order_sensitivity.values()) < module.AIM
    network, _ = module._built(made, LOADS, found.plate_degree)
    same = module._at_degree(made, network, found.plate_degree, LOADS)
    assert near(found.deployed.surface_rms, same.deployed.surface_rms, rel=1e-6)
    network, _ = module._built(made, LOADS, found.plate_degree + 2)
    finer = module._at_degree(made, network, found.plate_degree + 2, LOADS).deployed
    change = abs(finer.first_mode_hz / found.deployed.first_mode_hz - 1.0)
    assert near(found.order_sensitivity["first_mode"], change, rel=1e-3)
    assert near(found.modes_hz[0], found.deployed.first_mode_hz, rel=1e-12)
    assert (np.diff(found.modes_hz) >= 0.0).all()


def test_frequencies_fall_with_the_degree() -> None:
    """Ritz values are upper bounds: more shapes never raise them."""
    made = varied(grid(3, 2), 1)
    network, _ = module._built(made, LOADS, 12)
    modes = [module._at_degree(made, network, d, LOADS).modes_hz for d in (3, 4, 6, 8, 12)]
    assert (np.diff(np.array(modes), axis=0) <= 1e-9).all()


def test_stiff_panels_settle_at_once() -> None:
    """Rigid panels: degree 6, no change, the same figures as degree 3."""
    made = strip(4, pairs=1, modulus=1e14, stiffness=(1e6, 1e6, 1e6, 1e2, 1e2, 1e2), gap=0.002)
    found = settled(made, LOADS)
    assert found.plate_degree == 6
    assert near(found.deployed.surface_rms, deployed(made, LOADS).surface_rms, rel=1e-4)
    assert near(found.deployed.first_mode_hz, deployed(made, LOADS).first_mode_hz, rel=1e-4)


def test_turned_and_shifted_copies_share_shapes_and_change_nothing() -> None:
    """A candidate turned by 25 degrees in plan has the same figures."""
    made = varied(grid(3, 2, latched=True), 1)
    made = replace(made, panels=replace(made.panels, bow=np.full(1, 1e-4)))
    a = np.deg2rad(25.0)
    turn = np.array([[np.cos(a), np.sin(a)], [-np.sin(a), np.cos(a)]])
    whole = np.eye(3)
    whole[:2, :2] = turn
    turned = replace(
        made,
        geometry=replace(made.geometry, outline=made.geometry.outline @ turn, cut=made.geometry.cut @ turn),
        units=replace(made.units, at=made.units.at @ whole, axes=made.units.axes @ whole, feet=made.units.feet @ turn),
    )
    one, two = settled(made, LOADS), settled(turned, LOADS)
    for name in ("surface_rms", "in_plane_rms", "first_mode_hz", "slope_joints_rad2"):
        assert near(getattr(two.deployed, name), getattr(one.deployed, name), rel=1e-6), name
    assert near(deployed(turned, LOADS).surface_rms, deployed(made, LOADS).surface_rms, rel=1e-9)


def test_mode_shapes_are_told_at_corners() -> None:
    """First mode of a cantilever row: deflection grows towards the free end, greatest 1."""
    made = strip(3, pairs=2, stiffness=(1e7, 1e7, 1e7, 1e3, 1e4, 1e4))
    modes = settled(made, LOADS).modes
    assert modes is not None
    shape = np.abs(modes.corners[0, :, :, 2])
    assert near(shape.max(), 1.0, rel=1e-9)
    assert shape[2].mean() > shape[1].mean() > shape[0].mean()


def test_a_loose_network_is_told() -> None:
    made = strip(2)
    made = replace(made, units=replace(made.units, stiffness=made.units.stiffness * 0.0))
    found = settled(made, LOADS)
    assert not found.settled
    assert found.deployed.status.reason[0] == "the deployed network is loose: joints without stiffness"
