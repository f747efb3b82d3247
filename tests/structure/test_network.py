"""Laws of the deployed network, and what bad rows get."""

from dataclasses import fields, replace

import numpy as np
import pytest

from synth.core.arrays import Floats
from synth.core.design import Design
from synth.structure import network as module
from synth.structure.assembly import nearest_inside
from synth.structure.loads import Loads
from synth.structure.network import Deployed, deployed
from tests.near import near
from tests.structure.make import grid, strip, varied

LOADS = Loads(gravity_release=0.02, refocus=True)


def designs() -> list[Design]:
    return [
        varied(grid(3, 2, hinge_mass=0.05), 5),
        varied(grid(3, 3, latched=True, hinge_mass=0.05), 5),
        varied(strip(4, gap=0.004, height=0.002), 5),
    ]


def columns(found: Deployed) -> dict[str, Floats]:
    return {f.name: getattr(found, f.name) for f in fields(found) if f.name != "status"}


@pytest.mark.parametrize("made", designs(), ids=["tree", "loops", "strip"])
@pytest.mark.parametrize("order", [3, 4])
def test_rows_do_not_know_each_other(made: Design, order: int, monkeypatch: pytest.MonkeyPatch) -> None:
    """All at once = one at a time = in small chunks; shuffling rows shuffles results."""
    whole = columns(deployed(made, LOADS, order))
    mixed = np.random.default_rng(0).permutation(made.rows)
    shuffled = columns(deployed(made.take(mixed), LOADS, order))
    alone = [columns(deployed(made.take(np.array([k])), LOADS, order)) for k in range(made.rows)]
    monkeypatch.setattr(module, "CHUNK_BYTES", 1.0)
    chunked = columns(deployed(made, LOADS, order))
    for name, column in whole.items():
        assert near(shuffled[name], column[mixed], rel=1e-9), name
        assert near(chunked[name], column, rel=1e-9), name
        assert near(np.concatenate([a[name] for a in alone]), column, rel=1e-9), name


def test_finite_over_the_whole_box() -> None:
    """Thin and thick panels, soft and hard joints, all combinations: finite, positive, status fine."""
    made = grid(3, 2, latched=True)
    rows = 64
    rng = np.random.default_rng(7)
    many = made.take(np.zeros(rows, dtype=np.int64))
    t = 10 ** rng.uniform(-3, np.log10(0.04), rows)
    stiff = 70e9 * t**3 / 10.9
    springs = 10 ** rng.uniform(4, 9, (rows, 1, 6)) * np.array([1, 1, 1, 1e-5, 1e-3, 1e-3])
    many = replace(
        many,
        panels=replace(
            many.panels,
            thickness=t,
            stiffness=np.tile(stiff[:, None], (1, 6)),
            mass=np.tile((2700 * t * 0.0625)[:, None], (1, 6)),
            bow=rng.normal(0, 1e-3, rows),
        ),
        units=replace(many.units, stiffness=np.broadcast_to(springs, many.units.stiffness.shape).copy()),
    )
    found = deployed(many, LOADS)
    assert found.status.ok.all()
    for name, column in columns(found).items():
        assert np.isfinite(column).all(), name
        assert (column >= 0.0).all(), name
    assert (found.first_mode_hz > 0.0).all()


def test_bad_rows_get_a_sentence_and_leave_the_others_alone() -> None:
    made = varied(grid(3, 2), 5)
    good = columns(deployed(made, LOADS))
    outline, stiffness, mass = made.geometry.outline.copy(), made.units.stiffness.copy(), made.panels.mass.copy()
    outline[1, 2] = outline[1, 2, :1]
    stiffness[2] = 0.0
    mass[4, 0] = np.nan
    bad = replace(
        made,
        geometry=replace(made.geometry, outline=outline, cut=outline),
        units=replace(made.units, stiffness=stiffness),
        panels=replace(made.panels, mass=mass),
    )
    found = deployed(bad, LOADS)
    assert found.status.ok.tolist() == [True, False, False, True, False]
    assert found.status.reason[1] == "a panel has no area, mass or stiffness"
    assert found.status.reason[2] == "the deployed network is loose: joints without stiffness"
    assert found.status.reason[4] == "a figure of the network is not a number"
    for name, column in columns(found).items():
        assert np.isfinite(column).all(), name
        assert near(column[[0, 3]], good[name][[0, 3]], rel=1e-9), name


def test_no_rows() -> None:
    """An empty batch gives empty columns."""
    assert deployed(varied(grid(3, 2), 5).take(np.zeros(0, dtype=np.int64)), LOADS).surface_rms.shape == (0,)


def test_errors_add_by_source() -> None:
    """surface_rms^2 = joints + figure + steady; bow and gravity alone make the steady field with its cross term."""
    made = varied(grid(3, 2), 4)
    made = replace(made, panels=replace(made.panels, bulk_strain=np.zeros(4)))
    found = deployed(made, LOADS)
    assert near(found.surface_rms**2, found.joints_m2 + found.figure_m2 + found.steady_m2, rel=1e-12)
    assert near(found.figure_m2, made.panels.figure**2, rel=1e-12)
    weightless = deployed(made, Loads(refocus=True))
    assert near(weightless.steady_m2, found.bow_m2, rel=1e-9)
    doubled = replace(made, panels=replace(made.panels, bow=-made.panels.bow))
    both = found.steady_m2 + deployed(doubled, LOADS).steady_m2
    assert near(both, 2.0 * (found.bow_m2 + found.gravity_m2), rel=1e-9)


def test_receiving_faces_only() -> None:
    """Panels that do not collect light do not count: one receiving panel of a chain is flat after the fit."""
    made = strip(3, pairs=0, reach=0.0, modulus=1e14)
    flags = np.array([False, True, False])
    made = replace(made, topology=replace(made.topology, receiving=flags))
    found = deployed(made, Loads())
    assert found.joints_m2[0] < 1e-8 * deployed(strip(3, pairs=0, reach=0.0, modulus=1e14), Loads()).joints_m2[0]


def test_point_masses_lower_the_frequency_as_beams_say() -> None:
    """A cantilever strip with a tip mass mu = 1: (beta L)^2 = 1.557298 (case beam.tip_mass, derived), nu = 0.

    The tip mass is a fitting whose centroid lies on the end line.
    """
    length, width = 1.0, 0.05
    made = strip(
        1, length, width, pairs=2, reach=0.0, poisson=0.0, pad=1e-3, stiffness=(1e11, 1e11, 1e11, 1e8, 1e8, 1e8)
    )
    mass = float(made.panels.mass[0, 0])
    box = np.array([[[[0.99, -0.01], [1.01, -0.01], [1.01, 0.01], [0.99, 0.01]]]])
    one = np.zeros(1, dtype=np.int64)
    heavy = replace(
        made.fittings,
        panel=one,
        hinge=one - 1,
        latch=one - 1,
        outline=box,
        mass=np.full((1, 1), mass),
        z_back=np.zeros((1, 1)),
        z_front=np.full((1, 1), 0.01),
    )
    made = replace(made, fittings=heavy)
    rigidity = made.panels.stiffness[0, 0] * width
    scale = 2 * np.pi / np.sqrt(rigidity / (mass / length * length**4))
    assert near(deployed(made, Loads(), 5).first_mode_hz * scale, 1.557297861, rel=2e-3, why="clamped at points")


def test_fittings_beyond_the_edge_are_carried_from_it() -> None:
    """Inside points stay; others go to the nearest edge or corner, repeated corners or not."""
    square = np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0], [0.0, 1.0]])
    points = np.array([[0.3, 0.6], [1.2, 0.4], [-0.5, -0.2], [0.5, 1.7]])
    found = nearest_inside(np.broadcast_to(square, (1, 4, 5, 2)), np.arange(4), points[None])
    assert near(found[0], [[0.3, 0.6], [1.0, 0.4], [0.0, 0.0], [0.5, 1.0]], rel=1e-12, abs=1e-12)


@pytest.mark.parametrize("degree", [3, 6])
def test_a_fitting_beyond_the_edge_rides_on_a_rigid_arm(degree: int) -> None:
    """A stiff panel on one soft turning joint: omega^2 = k / (I + m r^2), r the fitting's own distance (0.45 m)."""
    made = strip(1, 0.4, 0.2, pairs=0, reach=0.0, modulus=1e13, stiffness=(1e9, 1e9, 1e9, 100.0, 1e8, 1e8))
    box = np.array([[[[0.44, -0.01], [0.46, -0.01], [0.46, 0.01], [0.44, 0.01]]]])
    one, none = np.zeros(1, dtype=np.int64), np.zeros((1, 1))
    heavy = replace(
        made.fittings, panel=one, hinge=one - 1, latch=one - 1, outline=box, mass=none + 2.0, z_back=none, z_front=none
    )
    made = replace(made, fittings=heavy)
    inertia = made.panels.mass[0, 0] * 0.4**2 / 3 + 2.0 * 0.45**2
    expected = np.sqrt(100.0 / inertia) / (2 * np.pi)
    assert near(deployed(made, Loads(), degree).first_mode_hz, expected, rel=1e-3, why="joints not rigid")
