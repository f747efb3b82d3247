"""What every metric must keep, and plain twins of those that are simple sums."""

from dataclasses import replace
from itertools import permutations

import numpy as np
import pytest
from shapely.geometry import Point, Polygon

from synth.cell import space
from synth.evaluate import Evaluation, evaluate
from synth.metrics import METRICS, table
from synth.problem.objective import OBJECTIVES
from synth.problem.requirement import requirements
from synth.recheck.parts import distinct_outlines
from tests.near import near
from tests.samples import ROOMY, family_names, problem, rows, sound_cell

SUFFIX = {"m": "_m", "m^2": "_m2", "m^3": "_m3", "kg": "_kg", "rad": "_rad", "Hz": "_hz", "N": "_n", "J": "_j"}
BARE = {"fit_ratio", "launch_stress_ratio", "launch_contact_ratio", "hinge_stress_ratio", "torque_ratio",
        "packing_efficiency", "part_count", "panel_count", "distinct_parts"}  # fmt: skip
B = 6
ASKED = problem()


def batch(family: str) -> Evaluation:
    cell = sound_cell(ASKED, family, 9, B)
    return evaluate(ASKED, cell, space(ASKED, cell).columns(rows(ASKED, cell, B)))


BATCHES = {name: batch(name) for name in family_names()}


@pytest.mark.parametrize("name", METRICS)
def test_a_metric_tells_what_it_is(name: str) -> None:
    metric = METRICS[name]
    assert metric.name == name and len(metric.doc) > 5 and metric.doc[0].isupper() and metric.doc.endswith(".")
    assert metric.better in {"lower", "higher", ""}
    if metric.unit == "1":
        assert name in BARE, "a bare number's name must not sound as if it had a unit"
    else:
        assert name.endswith(SUFFIX[metric.unit]), "the unit stands in the name"


@pytest.mark.parametrize("family", family_names())
@pytest.mark.parametrize("name", METRICS)
def test_a_metric_is_a_finite_column_or_one_an_envelope(name: str, family: str) -> None:
    found = BATCHES[family]
    value = np.asarray(METRICS[name].compute(found))
    assert value.shape == ((B, len(ASKED.envelope)) if METRICS[name].by_envelope else (B,))
    assert np.isfinite(value).all()
    done = ~found.screened_out
    assert done.any() and (value[done] >= 0.0).all()


def test_objectives_and_requirements_name_metrics_and_agree_which_way_is_better() -> None:
    for objective in OBJECTIVES.values():
        metric = METRICS[objective.metric]
        assert objective.unit == metric.unit
        assert metric.better == ("lower" if objective.sign > 0 else "higher"), objective.name
    asked = requirements(problem(structure={"launch_contact_limit": 1.0, "torque_ratio_min": 1.0}))
    assert len(asked) == 17, "every requirement there is"
    for requirement in asked:
        metric = METRICS[requirement.metric]
        assert requirement.unit == metric.unit, requirement.name
        assert metric.better == ("lower" if requirement.direction == "max" else "higher"), requirement.name


def test_the_table_holds_every_metric_in_order() -> None:
    assert list(table(BATCHES["accordion"])) == list(METRICS)


@pytest.mark.parametrize("family", family_names())
def test_sizes_areas_and_counts_by_plain_loops(family: str) -> None:
    e = BATCHES[family]
    told, topology = table(e), e.design.topology
    circle = Point(0.0, 0.0).buffer(ASKED.aperture.clear_diameter / 2.0, quad_segs=4096)
    for b in range(B):
        shapes = [Polygon(o) for o in e.design.geometry.outline[b]]
        light = sum(s.intersection(circle).area for s, r in zip(shapes, topology.receiving, strict=True) if r)
        near(told["collecting_area_m2"][b], light, rel=1e-6, why="circle drawn with 16384 chords")
        sides = [_rectangle(s) for s in shapes]
        near(told["least_panel_width_m"][b], min(s[0] for s in sides), rel=1e-6)
        near(told["longest_panel_m"][b], max(s[1] for s in sides), rel=1e-6)
        volume = sum(s.area for s in shapes) * e.design.geometry.thickness[b]
        for k, envelope in enumerate(ASKED.envelope):
            x, y, z = e.stowed_size[b, k]
            room = np.pi / 4.0 * x * y * z if envelope.kind == "round" else x * y * z
            near(told["stowed_volume_m3"][b, k], room, rel=1e-9)
            near(told["longest_stowed_side_m"][b, k], max(x, y, z), rel=1e-9)
            near(told["fit_ratio"][b, k], max(e.stowed_size[b, k] / envelope.allowed), rel=1e-9)
            near(told["packing_efficiency"][b, k], volume / room, rel=1e-6)
            assert told["packing_efficiency"][b, k] < 1.0
        rings = [np.asarray(o.exterior.coords)[:-1] for o in shapes]
        apart = [r[np.abs(r - np.roll(r, 1, axis=0)).max(axis=1) > 1e-9] for r in rings]
        assert told["distinct_parts"][b] == distinct_outlines(apart)
        latches = int((e.design.joint_masses.latch[b] > 0.0).sum())
        assert told["part_count"][b] == len(shapes) + len(topology.hinges) + latches
        assert told["panel_count"][b] == len(shapes)


def _rectangle(shape: Polygon) -> tuple[float, float]:
    x, y = shape.minimum_rotated_rectangle.exterior.coords.xy
    sides = sorted([np.hypot(x[1] - x[0], y[1] - y[0]), np.hypot(x[2] - x[1], y[2] - y[1])])
    return float(sides[0]), float(sides[1])


@pytest.mark.parametrize("family", family_names())
def test_mass_is_the_sum_of_its_parts_with_growth(family: str) -> None:
    e = BATCHES[family]
    d, told = e.design, table(e)
    for b in range(B):
        parts = [
            d.panels.mass[b],
            d.joint_masses.hinge[b],
            d.joint_masses.latch[b],
            np.atleast_1d(d.joint_masses.mount[b]),
        ]
        total = sum(float(m) for part in [*parts, d.fittings.mass[b], d.lumps_mass[b]] for m in part.ravel())
        near(told["basic_mass_kg"][b], total, rel=1e-9)
        near(told["mass_kg"][b], 1.2 * total, rel=1e-9, why="growth of 20 % where the problem says nothing")
    more = problem(mass={**ROOMY["mass"], "growth_allowance": 0.5})
    cell = sound_cell(ASKED, family, 9, B)
    grown = table(evaluate(more, cell, space(more, cell).columns(rows(more, cell, B))))
    near(grown["mass_kg"], 1.5 * told["basic_mass_kg"], rel=1e-9)


def test_a_design_has_the_same_volume_whichever_way_it_lies_in_an_envelope() -> None:
    """To the last bit: fronts of nested envelopes are compared by equal numbers."""
    e = BATCHES["accordion"]
    sides = np.random.default_rng(2).uniform(0.1, 1.0, (B, 3))
    boxes = np.zeros(len(ASKED.envelope), dtype=bool)
    seen = [
        METRICS["stowed_volume_m3"].compute(
            replace(e, stowed_size=sides[:, None, list(order)], round_envelope=boxes[:1])
        )
        for order in permutations(range(3))
    ]
    for other in seen[1:]:
        np.testing.assert_array_equal(other, seen[0])
