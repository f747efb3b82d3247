"""The review sheet, and the sections on modes, stowed stack and drive that it shares with `show`."""

import json
from functools import cache
from typing import Any

import numpy as np

from synth.export.drive_text import drive_text
from synth.export.review_sheet import METHODS, review_sheet
from synth.export.show import candidate_text
from synth.export.structure_text import mode_words, modes_text, stowed_text
from synth.export.tables import joints
from synth.problem import Problem
from synth.problem.requirement import requirements
from synth.recheck.whole import recheck_record
from synth.record.draft import unpacked
from tests.recheck.accordion import accordion
from tests.samples import problem, verified

SECTIONS = ("Requirements, margins, verification", "Deployment sequence and degrees of freedom", "Torque margins",
            "Deployed structure", "Stowed structure", "Tolerance budget", "Mass with growth", "Hazards and cautions",
            "Open")  # fmt: skip


@cache
def real() -> dict[str, Any]:
    """A record as the program makes it."""
    record: dict[str, Any] = json.loads(json.dumps(unpacked(verified("segment_stack")[2].extra)[0]))
    return {**record, "id": "box-1"}


def everything() -> Problem:
    return problem(structure={"launch_contact_limit": 1.0, "torque_ratio_min": 1.0})


def test_every_requirement_has_its_verification_method() -> None:
    assert {r.name for r in requirements(everything())} <= set(METHODS)


def test_a_record_made_by_hand_gives_a_sheet_without_what_it_does_not_tell() -> None:
    text = review_sheet(accordion())
    assert text == review_sheet(accordion())
    assert "## Mass with growth" in text and "## Torque" not in text and "## Deployed structure" not in text
    assert not recheck_record(accordion())


def test_a_real_record_answers_every_question_of_a_review() -> None:
    record = real()
    text = review_sheet(record)
    for title in SECTIONS:
        assert f"## {title}" in text, title
    assert "ECSS-E-ST-33-01C (6 March 2009)" in text and "NASA-STD-5017B (2022-12-06)" in text
    assert max(len(line) for line in text.splitlines() if not line.startswith(("|", "`"))) < 400
    shown = candidate_text(record)
    for part in (modes_text(record), stowed_text(record), drive_text(record)):
        assert part and part in shown


def test_the_hinge_schedule_tells_the_drive() -> None:
    record = real()
    row, told = joints(record, 10.0)[0], record["drive"]["hinges"][0]
    assert row["ecss_torque_margin"] == told["ecss_margin"] and row["stored_energy_j"] == told["stored_energy_j"]
    assert row["least_supplied_torque_n_m"] == min(told["supplied_n_m"])
    assert joints(accordion(), 10.0)[0]["ecss_torque_margin"] is None


MODE = {"frequency_hz": 3.0, "in_plane": 0.01, "panels_bending": 0.3, "moving": [0.0, 0.7, 0.3],
        "joints": [{"joint": "hinge 1", "share": 0.7, "component": "about the edge"}],
        "corners": [[[0, 0, 0]] * 4, [[0, 0, 1.0]] * 4, [[0, 0, -0.6]] * 4]}  # fmt: skip


def test_a_mode_in_words() -> None:
    record = {"panels": [{"id": k} for k in range(3)]}
    words = mode_words(record, MODE)
    assert words.startswith("out of plane; panels 1 (70 %), 2 (30 %) move most; 2 against 1; strain: hinge 1 about the")
    assert words.endswith("panels bending 30 %")
    flat = mode_words(record, {**MODE, "in_plane": 0.95, "corners": np.zeros((3, 4, 3)).tolist()})
    assert flat.startswith("in plane") and "little goes up or down" in flat


def test_contact_is_told_in_words() -> None:
    record = real()
    for share, words in ((0.3, "0.30 of the panel gap"), (0.7, "against each other touch"), (1.2, "PANELS TOUCH")):
        metrics = {**record["metrics"], "launch_contact_ratio": share}
        assert words in stowed_text({**record, "metrics": metrics})
