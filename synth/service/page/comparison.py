"""A comparison for the page: the document of `compare`, and its findings and tables already in words."""

import json
from collections.abc import Mapping
from typing import Any

from synth.export.engineering import shown
from synth.export.findings import findings
from synth.export.rates import (
    along_rows,
    differences_table,
    entry_size,
    merged,
    resource_name,
    resource_unit,
    steps_table,
)
from synth.fronts.binding import BINDS
from synth.service.page.fronts import marks
from synth.service.page.words import metric, requirement_title, sign

Document = Mapping[str, Any]


def comparison_view(document: Document, titles: Mapping[str, str]) -> dict[str, Any]:
    """What the compare view shows; the document's own numbers stay SI, texts carry their units. titles: of the jobs
    compared, which stand for their ids wherever the document names a front."""
    jobs = {e["label"]: str(e["folder"]).rsplit("/", 1)[-1] for e in document["entries"]}
    document = _named(document, short_names(titles))
    metrics = list(dict.fromkeys(m for r in document["rows"] for m in r["metrics"]))
    some = any(e["rows"] for e in document["entries"])
    return {
        "title": document["title"],
        "objectives": document["objectives"],
        "metrics": [{**metric(m), "limit": None} for m in metrics],
        "marks": marks(sorted({r["family"] for r in document["rows"]})),
        "jobs": list(jobs.values()),
        "entries": [{**_entry(e), "size": sign(entry_size(e)).replace(" x ", " × ")} for e in document["entries"]],
        "rows": [
            {**{k: r[k] for k in ("entry", "id", "family")}, "values": [r["metrics"].get(m) for m in metrics]}
            for r in document["rows"]
        ],
        "findings": [sign(s) for s in findings(document)] if some else [],
        "differences": _told(*differences_table(document)) if document["differences"] else None,
        "steps": _told(*steps_table(document)),
        "along": _along(document) if some else None,
        "winners": [_winner(w, document) for w in document["winners"]],
        "binding": [
            {"entry": b["entry"], "title": requirement_title(b["requirement"]), "share": b["binds"]}
            for b in document["binding"] if b["binds"] > 0.0
        ],
        "binds_at": BINDS,
        "beaten": document["dominated"],
        "sweep": _sweep(document),
        "cautions": list(document["cautions"]),
    }  # fmt: skip


def short_names(titles: Mapping[str, str]) -> dict[str, str]:
    """Jobs by what tells their titles apart: the words that not all have in common, with the start of the id where
    that is nothing or not unique."""
    words = {job: title.replace(",", " ,").split() for job, title in titles.items()}
    lists = list(words.values())
    shared = 0
    while len(lists) > 1 and all(len(w) > shared for w in lists) and len({w[shared] for w in lists}) == 1:
        shared += 1
    found = {job: " ".join(w[shared:]).replace(" ,", ",").lstrip(", ") for job, w in words.items()}
    names = list(found.values())
    return {
        job: name if name and names.count(name) == 1 else f"{name} ({job[:4]})".strip() for job, name in found.items()
    }


def _named(document: Document, names: Mapping[str, str]) -> Any:
    """The document with the names of jobs where their ids stood."""
    text = json.dumps(document)
    for job, name in names.items():
        text = text.replace(job, json.dumps(name)[1:-1])
    return json.loads(text)


def _entry(e: Mapping[str, Any]) -> dict[str, Any]:
    keys = ("label", "envelope", "kind", "state", "evaluations", "seed", "rows", "families", "hypervolume",
            "hypervolume_in_limits", "knee", "least", "allowed_volume_m3")  # fmt: skip
    return {k: e[k] for k in keys}


def _told(heads: list[str], rows: list[list[str]]) -> dict[str, Any]:
    return {"heads": [sign(h).replace("\n", ": ") for h in heads], "rows": [[sign(c) for c in row] for row in rows]}


def _along(document: Document) -> dict[str, Any]:
    rows = merged(along_rows(document), document)
    steps = len(rows[0]) - 5 if rows else 0
    heads = ["front", "more", "buys", "amount", "best", *(f"step {k + 1}" for k in range(steps))]
    return _told(heads, rows)


def _winner(w: Mapping[str, Any], document: Document) -> dict[str, Any]:
    """Stretches in shown units, maximised objectives with their own sign."""
    signs = {o["metric"]: o["sign"] for o in document["objectives"]}
    x, y = w["x"], w["y"]

    def ends(values: Any, name: str) -> list[float]:
        return [float(v) * signs.get(name, 1) * shown(name).scale for v in values]

    stretches = [{"family": s["family"], "x": ends(s["x"], x), "y": ends(s["y"], y)} for s in w["stretches"]]
    return {"entry": w["entry"], "x": x, "y": y, "stretches": stretches}


def _sweep(document: Document) -> list[dict[str, Any]]:
    """Curves of the best of each objective against what the fronts allow more of, one a resource; a line for each set
    of fronts that differ in nothing else, its points in order."""
    resources: dict[tuple[str, str], list[dict[str, float]]] = {}
    for c in document["exchange"]["between"]:
        lines = resources.setdefault((c["resource"], c["resource_unit"]), [])
        pair = dict(zip(c["entries"], (float(v) for v in c["amount"]), strict=True))
        for joined in [line for line in lines if line.keys() & pair.keys()]:
            lines.remove(joined)
            pair = joined | pair
        lines.append(pair)
    found = []
    for (resource, unit), lines in resources.items():
        name, scale = resource_unit(resource, unit)
        told = [_line(document, amounts, scale) for amounts in lines]
        title = resource_name(resource)
        unit_told = "" if name == "one" else sign(name)
        limit = f"limit: {requirement_title(resource).lower()}"
        found.append({"title": limit if "." in title else title, "unit": unit_told,
                      "lines": [line for line in told if len(line["points"]) > 1]})  # fmt: skip
    return [s for s in found if s["lines"]]


def _line(document: Document, amounts: Mapping[str, float], scale: float) -> dict[str, Any]:
    """Fronts that differ in one amount: their envelope's name where it is the same, and a point each."""
    entries = {e["label"]: e for e in document["entries"]}
    points = []
    for label, value in sorted(amounts.items(), key=lambda item: item[1]):
        e = entries[label]
        if e["rows"]:
            best = {m: p["values"][m] for m, p in e["least"].items()}
            points.append({"entry": label, "x": value * scale, "best": best, "knee": e["knee"]["values"]})
    rooms = {entries[label]["envelope"] for label in amounts}
    return {"name": rooms.pop() if len(rooms) == 1 else "", "points": points}
