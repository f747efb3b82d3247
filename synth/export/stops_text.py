"""What a stage stopped half-way leaves free, as the rows of a table: from the record of a seed package."""

from collections.abc import Mapping, Sequence
from typing import Any

from synth.export.engineering import table

HEADS = ("stopped\nhalf-way", "can move\nas the next", "can move\nin order", "what blocks the first of the others")
KEY = (
    "As the next: all other stages at rest; in order: after those between that could move. Each is a proof over the",
    "whole turn of that stage. Every blocked stage and its solids stand in the record, stopped_half_way of each stage.",
)


def told(record: Mapping[str, Any]) -> bool:
    """Whether the record tells it."""
    return all("stopped_half_way" in stage for stage in record["path"]["stages"])


def settled(record: Mapping[str, Any]) -> bool:
    """Whether it does so for every pair of stages."""
    stages = record["path"]["stages"]
    return told(record) and not any(stage["stopped_half_way"]["not_worked_out"] for stage in stages)


def rows(record: Mapping[str, Any]) -> list[list[str]]:
    """A row a stage, in words: its number, free as the next one, free in order, what blocks the first that is not."""
    found = []
    for k, stage in enumerate(record["path"]["stages"]):
        stop = stage["stopped_half_way"]
        if stop["note"]:
            found.append([str(k), "-", "-", stop["note"]])
            continue
        words = _blocked(stop["blocked_next"])
        if stop["not_worked_out"]:
            words += f"{'; ' if words else ''}not worked out: {listed(stop['not_worked_out'])}"
        found.append([str(k), listed(stop["free_next"]), listed(stop["free_in_order"]), words])
    return found


def stops_text(record: Mapping[str, Any]) -> str:
    """The table as text; empty where the record does not tell it."""
    if not told(record):
        return ""
    return "Stages that can still move\n" + table(list(HEADS), rows(record), left=4) + "\n" + "\n".join(KEY)


def listed(stages: Sequence[int]) -> str:
    """Numbers in rising order, three and more in a row as a range: "1 2 5-8"; "none"."""
    runs: list[list[int]] = []
    for k in stages:
        if runs and runs[-1][-1] == k - 1:
            runs[-1].append(k)
        else:
            runs.append([k])
    return " ".join(f"{r[0]}-{r[-1]}" if len(r) > 2 else " ".join(map(str, r)) for r in runs) or "none"


def _blocked(found: Sequence[Mapping[str, Any]]) -> str:
    if not found:
        return ""
    first = found[0]
    depth = 1e3 * first["overlap_m"]
    how = f"overlap by {depth:.3g} mm" if depth > 1e-6 else "touch"
    return (f"stage {first['stage']}: {' and '.join(first['solids'])} {how} "
            f"at {100.0 * first['share']:.0f} % of its turn (s = {first['s']:.3f})")  # fmt: skip
