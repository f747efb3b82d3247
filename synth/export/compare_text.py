"""A comparison as text for a terminal."""

from collections.abc import Mapping
from typing import Any

from synth.export.engineering import shown, table
from synth.export.findings import findings
from synth.export.rates import (
    along_rows,
    differences_table,
    entry_size,
    merged,
    steps_table,
    tabled,
)

Document = Mapping[str, Any]
NO_STEP = "none: no front has one limit looser, or a room that holds the other, with all else alike"


def compare_text(document: Document) -> str:
    """All sections, one below the other."""
    parts = [
        f"{document['title']}\nFronts across limits",
        "Findings\n" + "\n".join(f"- {s}" for s in findings(document)),
        "Fronts\n" + _fronts(document),
        _differences(document),
        "Least of each objective, and the knee\n" + _extremes(document),
        _dominated(document),
        _between(document),
        "Exchange rates along each front, in equal steps of what is spent\n" + _along(document),
        _winners(document),
        "Requirements that bind (margin at most "
        f"{100 * document['binds_at']:.0f} %), in percent of the rows of a front\n" + _binding(document),
        "Cautions\n" + "\n".join(f"- {c}" for c in document["cautions"]),
    ]
    return "\n\n".join(p for p in parts if p)


def _fronts(document: Document) -> str:
    heads = ["entry", "outside", "room\n[l]", "rows", "hypervolume\ncommon box", "hypervolume\nlimits", "families"]
    rows = []
    for e in document["entries"]:
        within = e["hypervolume_in_limits"]
        families = ", ".join(f"{f} {v['rows']}" for f, v in e["families"].items()) or "nothing feasible"
        rows.append([e["label"], entry_size(e), f"{1e3 * e['allowed_volume_m3']:.2f}", str(e["rows"]),
                     f"{e['hypervolume']:.4f}", "-" if within is None else f"{within:.4f}", families])  # fmt: skip
    return table(heads, rows, left=2)


def _differences(document: Document) -> str:
    if not document["differences"]:
        return ""
    heads, rows = differences_table(document)
    return "What the runs ask differently\n" + table(heads, rows, left=len(heads))


def _extremes(document: Document) -> str:
    metrics = [o["metric"] for o in document["objectives"]]
    rows = []
    for e in document["entries"]:
        points = [("knee", e["knee"])] if e["knee"] else []
        points += [(f"best {shown(m).title}", e["least"][m]) for m in metrics if m in e["least"]]
        rows += [[e["label"], name, p["family"], *(shown(m).number(p["values"][m]) for m in metrics), p["id"]]
                 for name, p in points]  # fmt: skip
    heads = ["entry", "point", "family", *(shown(m).heading for m in metrics), "candidate"]
    return table(heads, rows, left=3)


def _dominated(document: Document) -> str:
    if not document["dominated"]:
        return ""
    names = list(dict.fromkeys(d["by"] for d in document["dominated"]))
    share = {(d["by"], d["of"]): d for d in document["dominated"]}
    text = {k: f"{100 * d['dominated']:.0f} / {100 * d['met']:.0f}" for k, d in share.items()}
    rows = [[a, *(text.get((a, b), "") for b in names)] for a in names]
    return "Percent of the front in the column that the front in the line beats / beats or equals\n" + table(
        ["", *names], rows
    )


def _between(document: Document) -> str:
    heads, rows = steps_table(document)
    if not rows:
        return f"What a step to a larger allowance buys\n{NO_STEP}" if len(document["entries"]) > 1 else ""
    return (
        "What a step to a larger allowance buys (at the knee: all else as at the smaller one's knee, or better)\n"
        + table(heads, rows, left=3)
    )


def _along(document: Document) -> str:
    rows = merged(along_rows(document), document)
    if not rows:
        return "none: a front needs two candidates"
    heads = ["entry", "more", "buys", "amount", "best", *(f"step {k}" for k in range(1, len(rows[0]) - 4))]
    return table(heads, rows, left=5)


def _winners(document: Document) -> str:
    objectives = {o["metric"]: o for o in document["objectives"]}
    rows = []
    for w in document["winners"]:
        for s in w["stretches"]:
            ends = [tabled(w["x"], v, objectives) for v in s["x"]]
            rows.append([w["entry"], f"{shown(w['y']).title} for {shown(w['x']).title}", s["family"], *ends])
    told = table(["entry", "best", "family", "from", "to"], merged(rows, document), left=3)
    return f"Which family wins where\n{told}"


def _binding(document: Document) -> str:
    labels = [e["label"] for e in document["entries"] if e["rows"]]
    share = {(b["entry"], b["requirement"]): b["binds"] for b in document["binding"]}
    names = list(dict.fromkeys(b["requirement"] for b in document["binding"]))
    live = [n for n in names if any(share.get((label, n), 0.0) > 0.0 for label in labels)]
    if not live:
        return "none"
    rows = [[n, *(f"{100 * share[label, n]:.0f}" if (label, n) in share else "-" for label in labels)] for n in live]
    return table(["requirement", *labels], rows)
