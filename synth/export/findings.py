"""The sentences that open a comparison: what more room buys, who wins where, what binds."""

from collections.abc import Mapping
from typing import Any

from synth.export.engineering import shown
from synth.export.rates import amount, joined, rate, resource_name

MOST = 14
"""Sentences told of one kind."""
WORTH = 0.005
"""Gains below this share of the value are told as none."""
Document = Mapping[str, Any]


def findings(document: Document) -> list[str]:
    """Sentences in the order of interest; each follows from the tables below it."""
    return [*_gains(document)[:MOST], *_winners(document)[:MOST], *_limits(document)[:MOST]]


def _gains(document: Document) -> list[str]:
    told, idle = [], []
    for pair in document["steps_up"]:
        lines = [c for c in document["exchange"]["between"] if list(c["entries"]) == list(pair) and c["given"] is None]
        if not lines:
            continue
        first = lines[0]
        resource, unit = first["resource"], first["resource_unit"]
        before, after = (amount(v, resource, unit) for v in first["amount"])
        bought, nothing = [], []
        for c in (c for c in lines if c["resource"] == resource):
            better = "greatest" if _sign(document, c["objective"]) < 0 else "least"
            title = f"{better} {shown(c['objective']).title}"
            if c["y"][0] - c["y"][1] <= WORTH * abs(c["y"][0]):
                nothing.append(title)
                continue
            y0, y1 = (shown(c["objective"]).text(v * _sign(document, c["objective"])) for v in c["y"])
            told_rate = rate(c["rate"], c["objective"], resource, unit)
            bought.append(f"{title} from {y0} to {y1} ({told_rate})")
        head = f"From {pair[0]} to {pair[1]} ({resource_name(resource)} {before} to {after}): "
        if not bought:
            idle.append(f"{pair[0]} to {pair[1]}")
        else:
            tail = f"; no better: {', '.join(nothing)}" if nothing else ""
            told.append(head + "; ".join(bought) + tail + ".")
    if idle:
        told.append(f"No gain that the search could tell: {'; '.join(idle)}.")
    return told


def _sign(document: Document, metric: str) -> int:
    return next((int(o["sign"]) for o in document["objectives"] if o["metric"] == metric), 1)


def _winners(document: Document) -> list[str]:
    told: dict[str, list[str]] = {}
    for e in document["entries"]:
        if e["families"]:
            shares = {f: v["hypervolume"] for f, v in e["families"].items()}
            best = max(sorted(shares), key=shares.__getitem__)
            least = {o["metric"]: e["least"][o["metric"]]["family"] for o in document["objectives"]}
            parts = [f"{shown(m).title}: {f}" for m, f in least.items()]
            if e["knee"]["family"] == best and set(least.values()) == {best}:
                text = f"{best} is best throughout"
            else:
                text = f"{best} covers most; at the knee {e['knee']['family']}; for the best {', '.join(parts)}"
            told.setdefault(text, []).append(e["label"])
    return [f"In {joined(labels, document)}: {text}." for text, labels in told.items()]


def _limits(document: Document) -> list[str]:
    told: dict[str, list[str]] = {}
    for e in document["entries"]:
        lines = [b for b in document["binding"] if b["entry"] == e["label"] and b["binds"] > 0.0]
        lines.sort(key=lambda b: -b["binds"])
        if lines:
            text = ", ".join(f"{b['requirement']} ({100 * b['binds']:.0f} % of the front)" for b in lines[:4])
            told.setdefault(text, []).append(e["label"])
    return [f"What binds in {joined(labels, document)}: {text}." for text, labels in told.items()]
