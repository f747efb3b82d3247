"""Sweep axes as people write them, and the problems that come of them."""

import numpy as np
import pytest

from synth.cell import vocabulary
from synth.core.errors import InputError
from synth.problem import Problem, from_mapping
from synth.problem.limits import JUDGED, limit_units, limit_value
from synth.problem.requirement import requirements
from synth.problem.variant import read_axis, variants
from tests.near import near


def problem(**other: object) -> Problem:
    data = {
        "schema": "problem/1",
        "title": "Made up",
        "aperture": {"clear_diameter": "600 mm"},
        "envelope": [
            {"name": "bay", "preset": "cubesat_12u", "clearance": "5 mm"},
            {"name": "tube", "diameter": "300 mm", "height": "400 mm"},
        ],
        "mass": {"limit": "10 kg"},
        "search": {"objectives": ["mass", "stowed_volume"], "evaluations": 900, "seed": 7},
        **other,
    }
    return from_mapping(data, "made up", vocabulary())


def test_even_values_and_lists_with_units() -> None:
    axis = read_axis(problem(), "envelope.bay.size[2]=100mm:300 mm:9")
    assert near(axis.values, np.linspace(0.1, 0.3, 9), rel=1e-12) and axis.values[1] == 0.125
    assert read_axis(problem(), "mass.limit = 8kg, 9500 g,12").values == (8.0, 9.5, 12.0)
    assert read_axis(problem(), "envelope[1].height=0.2:0.4:3").values == (0.2, 0.3, 0.4)


@pytest.mark.parametrize(("text", "told"), [
    ("mass.limit", "FIELD=FIRST:LAST:COUNT"),
    ("mass.limt=1:2:3", "Did you mean 'mass.limit'"),
    ("mass.limit=1kg:2kg:1", "from 2 to 50"),
    ("mass.limit=1kg:2kg:x", "FIELD=FIRST:LAST:COUNT"),
    ("mass.limit=1mm:2mm:3", "not a unit of a mass"),
    ("mass.limit=1kg,3kg,2kg", "only rise or only fall"),
    ("mass.limit=1kg,1kg", "only rise or only fall"),
    ("envelope.size[2]=1:2:3", "name the envelope"),
    ("envelope.shed.size[2]=1:2:3", "no such envelope"),
    ("envelope[7].size[2]=1:2:3", "no such envelope"),
    ("envelope.tube.size[2]=1:2:3", "diameter, height"),
    ("search.seed=1:2:2", "no scalar of a problem"),
])  # fmt: skip
def test_wrong_axes_are_told(text: str, told: str) -> None:
    with pytest.raises(InputError, match=told.replace("[", r"\[")):
        read_axis(problem(), text)


def test_rooms_become_envelopes_of_one_problem() -> None:
    asked = problem()
    axes = (read_axis(asked, "envelope.bay.size[0]=0.2,0.3"), read_axis(asked, "envelope.bay.clearance=0,2mm,4mm"))
    (made,) = variants(asked, axes, 400, 100, vocabulary())
    assert [e.name for e in made.problem.envelope][:2] == ["bay 200 mm x 0 m", "bay 200 mm x 2 mm"]
    assert len(made.problem.envelope) == 6 and made.problem.search.evaluations == 400
    outside = asked.envelope[0].outside
    assert made.problem.envelope[5].outside == (0.3, *outside[1:]) and made.problem.envelope[5].clearance == 0.004
    with pytest.raises(InputError, match="same envelope"):
        variants(asked, (axes[0], read_axis(asked, "envelope.tube.height=0.1,0.2")), 1, 1, vocabulary())


def test_limits_become_problems_the_tightest_first() -> None:
    asked = problem(accuracy={"surface_rms_limit": "20 um"}, structure={"deployed_first_mode_min": "3 Hz"})
    down = read_axis(asked, "mass.limit=12:8:3")
    mode = read_axis(asked, "structure.deployed_first_mode_min=2,4")
    made = variants(asked, (down, mode), 400, 100, vocabulary())
    assert [v.values for v in made] == [(8.0, 4.0), (8.0, 2.0), (10.0, 4.0), (10.0, 2.0), (12.0, 4.0), (12.0, 2.0)]
    assert [v.problem.search.evaluations for v in made] == [400, 100, 100, 100, 100, 100]
    assert all(v.problem.search.seed == 7 and len(v.problem.envelope) == 2 for v in made)
    assert made[2].label == "mass.limit 10 kg, structure.deployed_first_mode_min 4 Hz"
    assert len({v.problem.digest for v in made}) == 6


def test_what_only_judges_is_a_requirement_with_the_direction_told() -> None:
    given = {
        "accuracy": {"surface_rms_limit": 1e-5, "in_plane_rms_limit": 1e-5, "blur_limit": 1e-4},
        "structure": {"deployed_first_mode_min": 1.0, "stowed_first_mode_min": 1.0, "launch_load_g": 9.0,
                      "launch_contact_limit": 0.5, "torque_ratio_min": 1.0},
        "aperture": {"clear_diameter": 0.6, "min_collecting_area": 0.1, "min_panel_width": 0.01,
                     "max_panel_length": 1.0, "focal_ratio": 3.0, "wavelength": 1e-6, "field_of_view": 1e-3},
    }  # fmt: skip
    asked = problem(**given)
    told = {r.name: (1 if r.direction == "max" else -1, r.limit) for r in requirements(asked)}
    for field, looser in JUDGED.items():
        assert told[field] == (looser, limit_value(asked, field)) and field in limit_units()
