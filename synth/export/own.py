"""Catalogue entries that a problem brought itself, marked in every text that rests on them."""

from collections.abc import Mapping, Sequence
from typing import Any


def own_line(document: Mapping[str, Any]) -> list[str]:
    """One line naming the entries of a run or record that are the problem's own; none where there are none."""
    entries = document.get("own_catalogue") or ()
    told = ", ".join(f"{e['what']} {e['id']} ({_how(e)})" for e in entries)
    return [f"Own catalogue entries: {told}"] if told else []


def own_text(entries: Sequence[Mapping[str, Any]]) -> str:
    """Every such entry with the values that differ from the shipped catalogue's, their flags and sources."""
    lines = ["Own catalogue entries"]
    for entry in entries:
        lines.append(f"  {entry['what']} {entry['id']} ({_how(entry)})")
        for key, v in entry["values"].items():
            lines.append(f"    {key:30s} {_plain(v['value'])}  {v['flag']}: {v['source']}")
    return "\n".join(lines)


def _how(entry: Mapping[str, Any]) -> str:
    if entry["how"] == "overrides":
        return "OVERRIDES the catalogue's"
    return f"added, like {entry['like']}" if "like" in entry else "added"


def _plain(value: Any) -> str:
    if isinstance(value, list | tuple):
        return ", ".join(_plain(v) for v in value)
    return f"{value:.5g}" if isinstance(value, float) else str(value)
