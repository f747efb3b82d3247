"""What a stage stopped half-way leaves free, as a seed package carries it: record, sheet, table."""

import json
from collections.abc import Iterator
from itertools import count
from pathlib import Path
from typing import Any

import pytest
from pypdf import PdfReader

from synth.app import folder, seeding, stops
from synth.app.seeding import seed
from synth.app.stopping import stopped_stage
from synth.app.stops import FIELD, with_stops
from synth.export.stops_text import listed
from synth.record.file import read_record
from tests.export_seed.records import RECORDS
from tests.near import near
from tests.samples import problem

ID = "box-by_hand"


def entries(record: dict[str, Any]) -> list[dict[str, Any]]:
    return [stage[FIELD] for stage in record["path"]["stages"]]


def silent(_: str) -> None:
    raise AssertionError("too soon for progress")


def test_the_package_tells_what_show_tells(ring: Path, tmp_path: Path) -> None:
    package = seed(ring, ID, tmp_path / "pkg", "record,review").folder
    record = read_record(package / f"{ID}.json")
    before = read_record(ring / "candidates" / f"{ID}.json")
    assert FIELD not in before["path"]["stages"][0], "the run folder's record stays as it is"
    shown = stopped_stage(ring, ID, "all")[0]["stages"]
    for told, asked in zip(entries(record), shown, strict=True):
        for way, key in (("next", "next"), ("in_order", "in_order")):
            assert told[f"free_{way}"] == [o["stage"] for o in asked["later_stages"] if o[key]["clear"]]
            blocked = [o for o in asked["later_stages"] if not o[key]["clear"]]
            assert [b["stage"] for b in told[f"blocked_{way}"]] == [o["stage"] for o in blocked]
            for b, o in zip(told[f"blocked_{way}"], blocked, strict=True):
                assert o[key]["reason"].startswith(" and ".join(b["solids"]))
                near(b["overlap_m"], -o[key]["least_clearance_m"], abs=1e-9, why="rounded to a nanometre")
                low, high = record["path"]["stages"][b["stage"]]["s"]
                near(b["s"], low + b["share"] * (high - low), abs=1e-6, why="rounded to a millionth")
        assert told["share"] == 0.5 and not told["not_worked_out"] and told["note"] == asked["note"]
    (met,) = entries(record)[0]["blocked_next"]
    assert met["stage"] == 2 and met["overlap_m"] > 1e-3
    for stage in record["path"]["stages"]:
        stage.pop(FIELD)
    assert record == before
    words = f"stage 2: {' and '.join(met['solids'])} overlap by {1e3 * met['overlap_m']:.3g} mm"
    pages = [p.extract_text() for p in PdfReader(package / "review.pdf").pages]
    assert len(pages) == 3 and "Review sheet 1 / 3" in pages[0] and words in pages[2]
    sheet = (package / "review.md").read_text()
    assert words in sheet and "--stopped all" not in sheet
    assert FIELD in (package / "README.md").read_text()


def test_formats_that_do_not_tell_it_do_not_wait_for_it(
    ring: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def refused(*_: Any) -> dict[str, Any]:
        raise AssertionError("worked out for nothing")

    monkeypatch.setattr(seeding, "with_stops", refused)
    assert list(seed(ring, ID, tmp_path / "pkg", "tables,gltf").packages) == [ID]


def test_more_stages_than_all_are_worked_out_nearest_first_until_time_is_up(
    ring: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    record, asked = folder.candidate_record(ring, ID), folder.problem_of(ring)
    whole = with_stops(record, asked, silent, lambda: 0.0)
    ticks: Iterator[int] = count(0, 4)  # four seconds a look: the third finds eight gone
    said: list[str] = []
    monkeypatch.setattr(stops, "ALL_STAGES", 2)
    monkeypatch.setattr(stops, "BUDGET_S", 9.0)
    first, second, last = entries(with_stops(record, asked, said.append, lambda: float(next(ticks))))
    assert first["not_worked_out"] == [2] and first["free_next"] == [1] and not first["blocked_next"]
    assert second["free_next"] == [2] and not second["not_worked_out"]
    assert last == entries(whole)[2]
    assert said == [f"{ID}: what a stage stopped half-way leaves free: {k} of 3 pairs of stages proven" for k in (0, 1)]
    monkeypatch.setattr(stops, "ALL_STAGES", 3)
    ticks = count(0, 4)
    assert entries(with_stops(record, asked, said.append, lambda: float(next(ticks)))) == entries(whole)


def test_a_single_stage_leaves_nothing_else_to_move() -> None:
    record = json.loads(json.dumps(RECORDS["strips"]()))
    record["path"]["stages"] = [{"hinges": [0, 1], "s": [0.0, 1.0]}]
    (only,) = entries(with_stops(record, problem(), silent, lambda: 0.0))
    assert only["note"] == "it is the only stage"
    assert not any(
        only[k] for k in ("free_next", "free_in_order", "blocked_next", "blocked_in_order", "not_worked_out")
    )


def test_a_record_that_cannot_be_laid_out_says_why() -> None:
    record = json.loads(json.dumps(RECORDS["strips"]()))
    record["path"]["stages"] = [{"hinges": [k], "s": [k / 2, k / 2 + 0.5]} for k in (0, 1)]
    first, last = entries(with_stops(record, None, silent, lambda: 0.0))
    assert first["note"] == "not worked out: the run folder holds no problem"
    assert first["not_worked_out"] == [1] and last["not_worked_out"] == []
    first, _ = entries(with_stops(record, problem(), silent, lambda: 0.0))
    assert "no longer give its record" in first["note"]


def test_lists_are_short() -> None:
    assert listed([]) == "none" and listed([1, 2, 5, 6, 7, 9]) == "1 2 5-7 9"
