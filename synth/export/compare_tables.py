"""A comparison as CSV tables: SI values, units in the names, maximised objectives as they are."""

import csv
import io
from collections.abc import Iterable, Mapping, Sequence
from typing import Any

from synth.fronts.store import number

Document = Mapping[str, Any]


def compare_tables(document: Document) -> dict[str, str]:
    """File name to content: entries.csv, rows.csv, exchange.csv, winners.csv, binding.csv."""
    metrics = [o["metric"] for o in document["objectives"]]
    signs = {o["metric"]: o["sign"] for o in document["objectives"]}
    return {
        "entries.csv": _entries(document, metrics),
        "rows.csv": _rows(document),
        "exchange.csv": _exchange(document, signs),
        "winners.csv": _winners(document, signs),
        "binding.csv": _binding(document),
    }


def _csv(head: Sequence[str], rows: Iterable[Sequence[Any]]) -> str:
    out = io.StringIO()
    table = csv.writer(out, lineterminator="\n")
    table.writerow(head)
    table.writerows([_cell(v) for v in row] for row in rows)
    return out.getvalue()


def _cell(value: Any) -> str:
    if value is None:
        return ""
    return number(value) if isinstance(value, float) else str(value)


def _entries(document: Document, metrics: Sequence[str]) -> str:
    head = ["entry", "folder", "envelope", "kind", "allowed_volume_m3", "rows", "hypervolume", "hypervolume_in_limits",
            "knee_id", *(f"knee_{m}" for m in metrics), *(f"best_{m}" for m in metrics)]  # fmt: skip
    rows = []
    for e in document["entries"]:
        knee = [None] * (1 + len(metrics))
        if e["knee"]:
            knee = [e["knee"]["id"], *(e["knee"]["values"][m] for m in metrics)]
        best = [e["least"][m]["values"][m] if m in e["least"] else None for m in metrics]
        rows.append([e["label"], e["folder"], e["envelope"], e["kind"], e["allowed_volume_m3"], e["rows"],
                     e["hypervolume"], e["hypervolume_in_limits"], *knee, *best])  # fmt: skip
    return _csv(head, rows)


def _rows(document: Document) -> str:
    metrics = list(dict.fromkeys(m for r in document["rows"] for m in r["metrics"]))
    head = ["entry", "id", "family", "thickness_m", "nearest_requirement", "nearest_margin", *metrics]
    fixed = ("entry", "id", "family", "thickness_m", "nearest_requirement", "nearest_margin")
    return _csv(head, ([*(r[k] for k in fixed), *(r["metrics"].get(m) for m in metrics)] for r in document["rows"]))


def _exchange(document: Document, signs: Mapping[str, int]) -> str:
    """Along fronts and between them in one table; rate in SI units of the objective for one of the resource."""
    head = ["kind", "from", "to", "resource", "resource_unit", "amount_from", "amount_to", "objective",
            "objective_unit", "condition", "condition_value", "best_from", "best_to", "rate"]  # fmt: skip
    rows: list[list[Any]] = []
    for c in document["exchange"]["along"]:
        y = [v * signs.get(c["objective"], 1) for v in c["y"]]
        rows.append(["along", c["entry"], c["entry"], c["resource"], c["resource_unit"], *c["x"], c["objective"],
                     c["objective_unit"], c["others"], None, *y, c["rate"]])  # fmt: skip
    for c in document["exchange"]["between"]:
        given = c["given"]
        condition = [given or "free", None] if given is None or isinstance(given, str) else list(given)
        y = [v * signs.get(c["objective"], 1) for v in c["y"]]
        rows.append(["between", *c["entries"], c["resource"], c["resource_unit"], *c["amount"], c["objective"],
                     c["objective_unit"], *condition, *y, c["rate"]])  # fmt: skip
    return _csv(head, rows)


def _winners(document: Document, signs: Mapping[str, int]) -> str:
    rows = []
    for w in document["winners"]:
        for s in w["stretches"]:
            ends = [v * signs[w[axis]] for axis in ("x", "y") for v in s[axis]]
            rows.append([w["entry"], w["x"], w["y"], s["family"], *ends])
    return _csv(["entry", "x", "best_of", "family", "x_from", "x_to", "best_from", "best_to"], rows)


def _binding(document: Document) -> str:
    metrics = [o["metric"] for o in document["objectives"]]
    head = ["entry", "requirement", "binds_share", "nearest_share", "least_margin"]
    head += [f"{m}_{end}" for m in metrics for end in ("from", "to")]
    rows = []
    for b in document["binding"]:
        where = [v for m in metrics for v in b["where"].get(m, (None, None))]
        rows.append([b["entry"], b["requirement"], b["binds"], b["nearest"], b["least"], *where])
    return _csv(head, rows)
