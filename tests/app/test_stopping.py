"""`show --stopped`: asked of a record on disk, by way of its genes."""

import json
from pathlib import Path
from typing import Any

import pytest

from synth.app.stopping import stopped_stage
from synth.core.errors import InputError, RunFolderError


def test_later_stages_are_told_with_what_blocks_them(ring: Path) -> None:
    document, text = stopped_stage(ring, "box-by_hand", "0:0.4")
    assert document["stopped_stage"] == 0 and document["share"] == 0.4
    assert [o["stage"] for o in document["later_stages"]] == [1, 2]
    blocked = [o for o in document["later_stages"] if not o["next"]["clear"]]
    assert blocked and all(o["next"]["reason"] for o in blocked)
    assert "BLOCKED" in text and "stopped after 40 %" in text
    assert stopped_stage(ring, "box-by_hand", "0")[0]["share"] == 0.5
    late, said = stopped_stage(ring, "box-by_hand", "0:1")
    assert all(o["in_order"]["clear"] for o in late["later_stages"]) and "stages 1, 2 can still deploy" in said
    assert stopped_stage(ring, "box-by_hand", "2:0.5")[0]["note"] == "it is the last stage"


def test_all_stages_stopped_half_way_are_what_each_is_alone(ring: Path) -> None:
    document, text = stopped_stage(ring, "box-by_hand", "all")
    assert document["stages"] == [stopped_stage(ring, "box-by_hand", str(k))[0] for k in range(3)]
    first, *_, last = text.splitlines()[1:]
    free = [o["stage"] for o in document["stages"][0]["later_stages"] if o["next"]["clear"]]
    assert f"free as the next one: {', '.join(map(str, free)) or 'none'};" in first and "BLOCKED" in first
    assert last == "  stage 2: it is the last stage"


@pytest.mark.parametrize("where", ["3", "-1", "x", "0:2", "0:x"])
def test_wrong_stages_are_refused(ring: Path, where: str) -> None:
    with pytest.raises(InputError, match="stopped"):
        stopped_stage(ring, "box-by_hand", where)


def test_a_record_that_its_genes_do_not_give_is_refused(ring: Path) -> None:
    path = ring / "candidates" / "box-by_hand.json"
    whole = path.read_text()
    record: dict[str, Any] = json.loads(whole)
    record["path"]["poses"][3][1][0][3] += 1e-6
    path.write_text(json.dumps(record))
    try:
        with pytest.raises(RunFolderError, match="no longer give"):
            stopped_stage(ring, "box-by_hand", "0")
    finally:
        path.write_text(whole)
