"""Text and plain values of fronts and candidates."""

import json

from synth.export.engineering import shown, table
from synth.export.show import candidate_document, candidate_text, front_document, front_text, knee_id, mass_budget
from synth.fronts.front import Front, Row
from synth.problem.objective import OBJECTIVES
from tests.near import near
from tests.recheck.accordion import accordion

GOALS = [OBJECTIVES[n] for n in ("stowed_volume", "mass")]
RUN = {"schema": "run/1", "id": "r1", "state": "done", "seed": 3, "evaluations": 50,
       "envelopes": [{"name": "bay", "hypervolume": 0.25, "families": {"wing": {"reason": "is 40 mm too long"}}},
                     {"name": "tiny", "hypervolume": 0.0, "families": {}}]}  # fmt: skip


def front(feasible: bool = True) -> Front:
    values = [(0.004, 3.0), (0.002, 6.0), (0.0025, 3.5)]
    rows = [Row(f"bay-{k}", "bay", "accordion", True, feasible, {"stowed_volume_m3": v, "mass_kg": m})
            for k, (v, m) in enumerate(values)]  # fmt: skip
    return Front(("stowed_volume_m3", "mass_kg"), tuple(rows))


def test_rows_come_in_order_of_the_first_objective_with_the_knee_marked() -> None:
    lines = front_text(front(), GOALS, RUN).splitlines()
    ids = [line.split()[0] for line in lines if line.startswith("bay-")]
    assert ids == ["bay-1", "bay-2", "bay-0"]
    assert [line.split()[-1] for line in lines if line.startswith("bay-2")] == ["knee"]
    assert knee_id(front().rows, GOALS) == "bay-2"


def test_numbers_are_in_engineering_units_and_aligned() -> None:
    lines = front_text(front(), GOALS).splitlines()
    row = next(line for line in lines if line.startswith("bay-2"))
    assert row.split()[:4] == ["bay-2", "accordion", "2.50", "3.50"]
    heads = [k for k, line in enumerate(lines) if line.startswith("id ")]
    units = lines[heads[0] + 1]
    assert units.split() == ["[l]", "[kg]"]
    assert units.index("[l]") + 3 == row.index("2.50") + 4


def test_nothing_feasible_is_said_and_rulings_out_are_told() -> None:
    text = front_text(front(feasible=False), GOALS, RUN)
    assert "NO candidate meets every requirement" in text
    assert "wing is ruled out: is 40 mm too long" in text
    assert "Envelope tiny: no candidate" in text
    assert "knee" not in text


def test_front_document_is_plain() -> None:
    told = json.loads(json.dumps(front_document(front(), GOALS, RUN)))
    assert [e["name"] for e in told["envelopes"]] == ["bay", "tiny"]
    assert told["envelopes"][0]["knee"] == "bay-2"
    assert told["envelopes"][0]["rows"][0]["metrics"] == {"stowed_volume_m3": 0.002, "mass_kg": 6.0}


def test_mass_budget_adds_up_to_the_mass() -> None:
    record = accordion()
    near(sum(mass_budget(record).values()), record["metrics"]["mass_kg"], rel=1e-12)


def test_candidate_text_tells_each_requirement_with_margin_and_verdict() -> None:
    record = accordion()
    record["requirements"][1].update(limit=4.0, margin=-0.3008, ok=False)
    text = candidate_text(record)
    row = next(line for line in text.splitlines() if line.startswith("mass.limit"))
    assert row.split() == ["mass.limit", "5.20", "<=", "4.00", "kg", "-30.1", "%", "MISSED"]
    assert "misses mass.limit" in text
    # root of 1.06247e-10 m^2
    assert next(line for line in text.splitlines() if line.startswith("joint misfits")).split()[2] == "10.308"


def test_unverified_is_said_first() -> None:
    record = accordion()
    record["verification"]["verified"] = False
    assert "NOT VERIFIED" in candidate_text(record).splitlines()[2]
    record["verification"]["reason"] = "panel 1 and keep-out bus touch at s = 0.2500"
    record["verification"].update(least_clearance_between=["panel 1", "keep-out bus"], least_clearance_s=0.25)
    lines = candidate_text(record).splitlines()
    assert lines[3] == "why: panel 1 and keep-out bus touch at s = 0.2500"
    (least,) = [line for line in lines if line.startswith("least clearance")]
    assert least.endswith("mm, between panel 1 and keep-out bus at s = 0.2500")


def test_candidate_document_is_plain() -> None:
    told = json.loads(json.dumps(candidate_document(accordion()), allow_nan=False))
    assert told["counts"] == {"panels": 3, "hinges": 2, "latches": 0, "fittings": 4}
    assert "path" not in told


def test_units_follow_names() -> None:
    assert shown("surface_rms_m").text(3.2e-6) == "3.20 um"
    assert shown("longest_stowed_side_m").text(0.62) == "620.0 mm"
    assert shown("blur_rad").text(5e-5) == "50.0 urad"
    assert shown("part_count").text(7.0) == "7"
    assert shown("accuracy.surface_rms_limit", "m").text(1e-5) == "10.00 um"
    assert shown("aperture.min_panel_width", "m").text(0.04) == "40.0 mm"


def test_table_of_nothing_has_its_heads() -> None:
    assert table(["a", "b"], []).splitlines() == ["a  b", "-  -"]
