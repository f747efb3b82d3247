"""Tables as CSV: a row of names with units, then values as short as they stay exact to 12 digits."""

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from synth.record.file import tidy

Rows = Sequence[Mapping[str, Any]]


def table_text(rows: Rows) -> str:
    """CSV text of rows that all have the names of the first one, lines ended by \\n."""
    out = io.StringIO()
    table = csv.writer(out, lineterminator="\n")
    if rows:
        table.writerow(rows[0])
        table.writerows([_cell(row[name]) for name in rows[0]] for row in rows)
    return out.getvalue()


def write_table(path: Path, rows: Rows) -> Path:
    """Writes the table; returns its path."""
    path.write_text(table_text(rows), encoding="utf-8")
    return path


def _cell(value: Any) -> str:
    if isinstance(value, bool) or value is None:
        return "" if value is None else str(value).lower()
    if isinstance(value, float):
        return repr(tidy(value))
    return str(value)


def spread(prefix: str, values: Iterable[float], ends: Sequence[str], unit: str) -> dict[str, float]:
    """Columns prefix_END_unit of a vector."""
    return {f"{prefix}_{end}{unit}": float(v) for end, v in zip(ends, values, strict=True)}
