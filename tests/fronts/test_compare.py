"""The document of a comparison against plain recounts, and moocore for hypervolumes."""

import json

import moocore
import numpy as np
import pytest

from synth.core.errors import InputError
from synth.fronts.attainment import attainment, levels
from synth.fronts.compare import compare
from synth.fronts.entry import common_objectives
from synth.fronts.winners import winners
from tests.fronts.entries import METRICS, cloud, entry, problem
from tests.near import near

A, B = cloud(1), cloud(2) * [1.0, 1.15, 1.1]


def two() -> list:
    return [entry(A, "a", asked=problem(mass=8.0)), entry(B, "b", asked=problem(mass=9.0))]


def test_hypervolumes_are_those_of_moocore() -> None:
    document = compare(two())
    whole = np.concatenate([A, B])
    low, worst = whole.min(axis=0), whole.max(axis=0)
    corner = worst + 0.1 * (worst - low)
    for e, points in zip(document["entries"], (A, B), strict=True):
        assert near(e["hypervolume"], moocore.hypervolume(points, ref=corner) / np.prod(corner - low), rel=1e-9)
        limits = np.array([0.05, 9.0, 2e-5])
        assert near(e["hypervolume_in_limits"], moocore.hypervolume(points, ref=limits) / np.prod(limits), rel=1e-9)
    assert near(list(document["hypervolume_box"]["reference"].values()), corner, rel=1e-12)


def test_shares_beaten_by_recount() -> None:
    shares = {(d["by"], d["of"]): d for d in compare(two())["dominated"]}
    for (p, q), points, others in ((("a", "b"), A, B), (("b", "a"), B, A)):
        beaten = [any((x <= y).all() and (x < y).any() for x in points) for y in others]
        assert shares[p, q]["dominated"] == np.mean(beaten)
    again = compare([entry(A, "a"), entry(A, "c")])["dominated"]
    assert [d["dominated"] for d in again] == [0.0, 0.0] and [d["met"] for d in again] == [1.0, 1.0]


@pytest.mark.parametrize("dimensions", [2, 3])
def test_attainment_by_recount(dimensions: int) -> None:
    fronts = [cloud(k, 9)[:, :dimensions] for k in range(5)]
    rng = np.random.default_rng(7)
    probes = np.concatenate(fronts) * rng.uniform(0.9, 1.1, (45, dimensions))
    for count in range(1, 6):
        surface = attainment(fronts, count)
        for x in probes:
            by = sum(bool((f <= x).all(axis=1).any()) for f in fronts)
            assert bool((surface <= x).all(axis=1).any()) == (by >= count)
    assert np.array_equal(levels(fronts)["half"], attainment(fronts, 3))
    assert len(attainment([fronts[0], np.zeros((0, dimensions))], 2)) == 0
    with pytest.raises(ValueError, match="count"):
        attainment(fronts, 6)


def test_winner_changes_where_the_family_of_the_best_does() -> None:
    points = np.array([[1, 9, 5], [2, 7, 5], [3, 6, 5], [4, 2, 5], [2.5, 8, 5]], dtype=float)
    e = entry(points, families=["petal", "petal", "wing", "wing", "miura"])
    found = next(w for w in winners(e, common_objectives([e])) if w.y == "mass_kg")
    assert [(s.family, s.x, s.y) for s in found.stretches] == [
        ("petal", (1.0, 3.0), (9.0, 7.0)), ("wing", (3.0, 4.0), (6.0, 2.0)),
    ]  # fmt: skip


def test_binding_counts_small_margins_and_says_where() -> None:
    margins = [{"mass.limit": 0.01, "envelope.fit": 0.3}, {"mass.limit": 0.5, "envelope.fit": 0.3},
               {"mass.limit": 0.02, "envelope.fit": 0.0}]  # fmt: skip
    points = np.array([[0.01, 5.0, 1e-6], [0.02, 4.0, 1e-6], [0.03, 3.0, 1e-6]])
    told = {b["requirement"]: b for b in compare([entry(points, margins=margins)])["binding"]}
    assert told["mass.limit"]["binds"] == 2 / 3 and told["envelope.fit"]["binds"] == 1 / 3
    assert told["mass.limit"]["nearest"] == 1 / 3 and told["envelope.fit"]["nearest"] == 2 / 3
    assert told["mass.limit"]["where"]["mass_kg"] == (3.0, 5.0)


def test_differences_are_listed_and_equal_fields_are_not() -> None:
    found = {d["field"]: d for d in compare(two())["differences"]}
    assert found["mass.limit"]["values"] == {"a": 8.0, "b": 9.0} and found["mass.limit"]["unit"] == "kg"
    assert set(found) == {"mass.limit"}
    assert compare([entry(A, "a"), entry(B, "b")])["differences"] == []


def test_other_objectives_are_left_out_and_said_so() -> None:
    fewer = problem(search={"objectives": ["mass", "stowed_volume"]})
    document = compare([entry(A, "a"), entry(B, "b", asked=fewer)])
    assert [o["name"] for o in document["objectives"]] == ["stowed_volume", "mass"]
    assert any("surface_rms" in c for c in document["cautions"])
    assert document["entries"][0]["rows"] < len(A)
    none = problem(search={"objectives": ["part_count", "first_mode"]})
    with pytest.raises(InputError, match="two objectives in common"):
        compare([entry(A, "a"), entry(B, "b", asked=none)])


def test_a_front_without_rows_is_told_and_harms_nothing() -> None:
    document = compare([entry(A, "a"), entry(np.zeros((0, 3)), "b")])
    assert document["entries"][1]["rows"] == 0 and document["entries"][1]["knee"] is None
    assert any("Nothing feasible" in c and "b" in c for c in document["cautions"])
    alone = compare([entry(np.zeros((0, 3)), "b")])
    assert alone["entries"][0]["hypervolume"] == 0.0
    json.dumps([document, alone], allow_nan=False)


def test_the_knee_and_the_least_are_rows_of_the_front() -> None:
    for e, points in zip(compare(two())["entries"], (A, B), strict=True):
        for place, metric in enumerate(METRICS.values()):
            assert e["least"][metric]["values"][metric] == points[:, place].min()
        scaled = (points - points.min(axis=0)) / np.ptp(points, axis=0)
        assert e["knee"]["id"].endswith(f"-{int(scaled.sum(axis=1).argmin())}")
