"""Turning an error source on or off moves the front the way physics says: one small population, judged twice."""

from typing import Any

import numpy as np
import pytest

from synth.cell import Cell, space
from synth.core.arrays import Floats
from synth.evaluate import evaluate
from synth.fronts.indicators import hypervolume, nondominated
from synth.problem import Problem
from synth.problem.alone import STEADY, only, without
from tests.near import near
from tests.samples import problem

CELL = Cell("map_fold", (("columns", 3), ("rows", 2), ("tree", "comb")), (("latches", "none"), ("pairs", 1)))
LATCHED = Cell(CELL.family, CELL.fixed, (("latches", "all"), ("pairs", 1)))
ENVIRONMENT: dict[str, Any] = {
    "bulk_temperature_change": "20 K",
    "through_thickness_difference": "1 K",
    "gravity_offload": 0.95,
    "moisture_strain": 4e-5,
    "hinge_creep": "50 urad",
}
METAL = {
    "panel_materials": ["al_6061_t6", "cfrp_qi_m55j"],
    "hinge_kinds": ["pin_bearing", "pin_plain"],
    "max_panels": 61,
}


def asked(**sections: Any) -> Problem:
    return problem(**{"environment": ENVIRONMENT, "choices": METAL, **sections})


def figures(what: Problem, cell: Cell = CELL, count: int = 60) -> Floats:
    """Mass (kg), surface, in-plane rms (m) and blur (rad) [N, 4] of the designs of one fixed population."""
    where = space(what, cell)
    X = np.random.default_rng(8).random((count, where.size))
    names = [axis.name for axis in where.axes]
    X[:, names.index("build.thickness")] = 0.4 + 0.4 * X[:, names.index("build.thickness")]
    X[:, names.index("build.edge_gap")] = 0.7 + 0.25 * X[:, names.index("build.edge_gap")]
    X[:, names.index("build.section")] = 0.1
    e = evaluate(what, cell, where.columns(X))
    good = e.status.ok & ~e.screened_out
    assert good.sum() >= 20
    d = e.deployed
    return np.stack([e.basic_mass, d.surface_rms, d.in_plane_rms, e.blur], axis=1)[good]


def front(points: Floats, against: int) -> Floats:
    """Non-dominated (mass, error) pairs."""
    pairs = points[:, [0, against]]
    return pairs[nondominated(pairs)]


def share(points: Floats, against: int, reference: Floats) -> float:
    return float(hypervolume(front(points, against), reference))


@pytest.mark.parametrize(
    ("source", "measure"),
    [("thermal bow", 1), ("gravity release", 1), ("hinge creep", 1), ("thermal growth", 2), ("moisture", 2)],
)
def test_a_source_taken_out_betters_the_front(source: str, measure: int) -> None:
    """Alone against nothing: no design is worse without it, the front of mass against error strictly better."""
    with_it, without_it = figures(only(asked(), source)), figures(only(asked()))
    assert (without_it[:, measure] <= with_it[:, measure] * (1.0 + 1e-9)).all()
    reference = with_it[:, [0, measure]].max(axis=0) * 1.1
    assert share(without_it, measure, reference) > share(with_it, measure, reference) * 1.001


def test_sources_add_up_to_the_whole_environment() -> None:
    """All sources named are the environment itself; taking one out is naming the others."""
    whole = figures(asked())
    near(figures(only(asked(), *STEADY)), whole, rel=1e-12)
    near(
        figures(without(asked(), "moisture")),
        figures(only(asked(), *(s for s in STEADY if s != "moisture"))),
        rel=1e-12,
    )


def test_a_common_cause_within_an_edge_makes_the_front_worse() -> None:
    """Two units of an edge that share their errors cannot average them: every design is less flat, by up to sqrt 2 a
    hinge. (A cause common to all hinges may go either way: it bends the aperture like a bowl, which refocusing takes
    out; tests/physics/test_misfits.py has the chain.)"""
    own, edge = (figures(only(asked(accuracy={"common_cause": c}))) for c in ("none", "edge"))
    assert (edge[:, 1] > 1.05 * own[:, 1]).all()
    reference = edge[:, [0, 1]].max(axis=0) * 1.1
    assert share(own, 1, reference) > share(edge, 1, reference) * 1.001


def test_latches_buy_accuracy_for_mass() -> None:
    """The same designs with their free edges latched: all heavier, most flatter, truer in the plane. A stiff
    latch with errors of its own can also force thick panels out of plane."""
    loose, tied = figures(only(asked()), CELL), figures(only(asked()), LATCHED)
    assert len(loose) == len(tied)
    assert (tied[:, 0] > loose[:, 0]).all()
    assert np.mean(tied[:, 1] < loose[:, 1]) > 0.7 and tied[:, 1].min() < 0.9 * loose[:, 1].min()
    assert np.median(tied[:, 2] / loose[:, 2]) < 0.8


def test_a_transmissive_sheet_feels_the_plane_and_a_mirror_the_slope() -> None:
    """At f/2 the blur of silica panels falls when light goes through them, and then follows the in-plane error."""
    glass = {"panel_materials": ["fused_silica"], "hinge_kinds": ["pin_bearing"], "max_panels": 61}
    optics = {o: {"optic": o, "focal_ratio": 2.0} for o in ("reflective", "transmissive")}
    hot = {"bulk_temperature_change": "30 K", "through_thickness_difference": "1 K", "gravity_offload": 0.98}
    cold = {**hot, "bulk_temperature_change": 0.0}

    def blur(optic: str, environment: dict[str, Any]) -> Floats:
        return figures(problem(choices=glass, aperture=optics[optic], environment=environment))[:, 3]

    mirror, thin = blur("reflective", hot), blur("transmissive", hot)
    assert (thin < 0.5 * mirror).all()
    assert np.median(thin / blur("transmissive", cold)) > 1.25, "joints that grow push the sheets apart"
    near(np.median(mirror / blur("reflective", cold)), 1.0, rel=1e-3, why="and hardly tilt them")


def test_heat_flux_is_a_difference_that_grows_with_the_thickness() -> None:
    """q t / k across a panel of thickness t: of one material the bow is the same for all, thick or thin."""
    aluminium = {"panel_materials": ["al_6061_t6"], "hinge_kinds": ["pin_bearing"], "max_panels": 61}
    what = problem(choices=aluminium, environment={"through_thickness_difference": 0.0, "heat_flux": "500 W/m^2"})
    where = space(what, CELL)
    X = np.full((2, where.size), 0.6)
    names = [axis.name for axis in where.axes]
    X[:, names.index("build.thickness")] = [0.45, 0.75]
    X[:, names.index("build.section")] = 0.1
    X[:, names.index("build.edge_gap")] = 0.8
    e = evaluate(what, CELL, where.columns(X))
    bow = e.design.panels.bow
    near(bow, -2.36e-5 * 500.0 / 167.0, rel=1e-9)
    assert e.design.panels.thickness[1] > 1.5 * e.design.panels.thickness[0]
