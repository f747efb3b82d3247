"""A comparison as one page that needs nothing else: inline pictures, no script, no request; made for print."""

import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import partial
from html import escape
from typing import Any

from matplotlib.figure import Figure

from synth.export.compare_charts import binding_figure, chain_title, chains, gains_figure, winners_figure
from synth.export.compare_fronts import attainment_figure, built_figure, fronts_figure
from synth.export.compare_style import svg_text
from synth.export.compare_text import NO_STEP
from synth.export.engineering import shown
from synth.export.findings import findings
from synth.export.page_style import STYLE
from synth.export.rates import (
    along_rows,
    differences_table,
    entry_size,
    merged,
    steps_table,
)
from synth.export.sheet import drawing

Document = Mapping[str, Any]


def compare_page(document: Document) -> str:
    """The page as HTML. The same document gives the same text."""
    some = any(e["rows"] for e in document["entries"])
    parts = [_head(document), _findings(document), _asked(document)]
    if some:
        parts += [_fronts(document), _buys(document), _along(document), _winners(document), _binds(document),
                  _built(document), _each_other(document)]  # fmt: skip
    parts.append(_method(document))
    title = escape(document["title"])
    return (
        '<!DOCTYPE html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{title}: fronts across limits</title>\n<style>{STYLE}</style>\n</head>\n<body>\n<main>\n"
        + "\n".join(p for p in parts if p)
        + "\n</main>\n</body>\n</html>\n"
    )


def _picture(name: str, draw: Callable[[], Figure], caption: str) -> str:
    with drawing():
        svg = svg_text(draw(), name)
    svg = svg.replace("<svg ", f'<svg role="img" aria-label="{escape(caption, quote=True)}" ', 1)
    return f"<figure>{svg}<figcaption>{escape(caption)}</figcaption></figure>"


def _told(text: str) -> str:
    """Text made safe, with the signs that a page can show."""
    text = re.sub(r"\bu(m|rad)\b", r"µ\1", text).replace("^2", "²").replace("^3", "³")
    return escape(re.sub(r"(?<=\d) (?=[a-zA-Zµ%²³/]+\b)", "\u00a0", text))


def _table(heads: Sequence[str], rows: Iterable[Sequence[str]], words: int) -> str:
    """The first `words` columns are text, the others numbers."""

    def cells(tag: str, row: Sequence[str]) -> str:
        kinds = ["" if k < words else ' class="n"' for k in range(len(row))]
        return "".join(f"<{tag}{kind}>{_told(c)}</{tag}>" for c, kind in zip(row, kinds, strict=True))

    body = "\n".join(f"<tr>{cells('td', r)}</tr>" for r in rows)
    return f"<table><thead><tr>{cells('th', heads)}</tr></thead><tbody>\n{body}\n</tbody></table>"


def _bullets(lines: Iterable[str]) -> str:
    return "<ul>" + "".join(f"<li>{_told(s)}</li>" for s in lines) + "</ul>"


def _head(document: Document) -> str:
    sought = ", ".join(("greatest " if o["sign"] < 0 else "least ") + shown(o["metric"]).title
                       for o in document["objectives"])  # fmt: skip
    first = document["cautions"][0].split(": ", 1)[1].capitalize()
    return (
        f"<header><p class='kind'>Fronts across limits</p><h1>{escape(document['title'])}</h1>"
        f"<p>Sought: {escape(sought)}. {len(document['entries'])} fronts,"
        f" {sum(e['rows'] for e in document['entries'])} verified candidates.</p>"
        f"<p class='caution'><b>Preliminary design.</b> {escape(first)}</p></header>"
    )


def _findings(document: Document) -> str:
    told = findings(document)
    return f"<section class='findings'><h2>Findings</h2>{_bullets(told)}</section>" if told else ""


def _asked(document: Document) -> str:
    rows = []
    for e in document["entries"]:
        within = e["hypervolume_in_limits"]
        families = ", ".join(f"{f} {v['rows']}" for f, v in e["families"].items()) or "nothing feasible"
        shares = [f"{e['hypervolume']:.4f}", "-" if within is None else f"{within:.4f}"]
        rows.append([e["label"], entry_size(e), families, f"{1e3 * e['allowed_volume_m3']:.2f}", str(e["evaluations"]),
                     str(e["rows"]), *shares])  # fmt: skip
    heads = ["Front", "Envelope outside", "Families (rows)", "Room [l]", "Evaluations", "Rows", "Hypervolume",
             "in limits"]  # fmt: skip
    text = f"<section><h2>What is compared</h2>{_table(heads, rows, 3)}"
    text += (
        "<p class='note'>Hypervolume: share of a box that a front dominates. One box for all, from the least to a tenth"
        " beyond the worst values of all fronts; and the box of the loosest limits asked.</p>"
    )
    if document["differences"]:
        names, lines = differences_table(document)
        heads = [names[0].capitalize(), *names[1:]]
        text += f"<h3>What the runs ask differently</h3>{_table(heads, lines, len(heads))}"
    elif len({e["folder"] for e in document["entries"]}) > 1:
        text += "<p>All runs ask the same, envelopes aside.</p>"
    return text + "</section>"


def _fronts(document: Document) -> str:
    metrics = [o["metric"] for o in document["objectives"]]
    rows = []
    for e in document["entries"]:
        points = [("knee", e["knee"])] if e["knee"] else []
        points += [(f"best {shown(m).title}", e["least"][m]) for m in metrics if m in e["least"]]
        for name, p in points:
            rows.append([e["label"], name, p["family"], *(shown(m).text(p["values"][m]) for m in metrics)])
    heads = ["Front", "Point", "Family", *(shown(m).title for m in metrics)]
    caption = (
        "Fronts over each other in the same axes: every verified candidate, and the edge that each front attains in the"
        " two objectives shown. The knee lies deepest below the plane through the extremes."
    )
    return (
        f"<section><h2>Fronts over each other</h2>{_picture('fronts', lambda: fronts_figure(document), caption)}"
        f"<h3>Knee and extremes</h3>{_table(heads, merged(rows, document), 3)}</section>"
    )


def _buys(document: Document) -> str:
    heads, rows = steps_table(document)
    if not rows and len(document["entries"]) > 1:
        return f"<section><h2>What a larger allowance buys</h2><p>{NO_STEP.capitalize()}.</p></section>"
    if not rows:
        return ""
    pictures = "".join(
        _picture(f"gains{k}", partial(gains_figure, document, c), f"What more buys: {chain_title(c)}.")
        for k, c in enumerate(chains(document))
    )
    heads = [h.replace("\n", ": ").capitalize() for h in heads]
    return (
        f"<section><h2>What a larger allowance buys</h2>{pictures}{_table(heads, rows, 3)}"
        "<p class='note'>Best: the least (or greatest) anywhere on the fronts. At the knee: the best with all else as"
        " at the knee of the front with the smaller allowance, or better.</p></section>"
    )


def _along(document: Document) -> str:
    rows = merged(along_rows(document), document)
    if not rows:
        return ""
    heads = ["Front", "More", "Buys", "Amount", "Best", *(f"Step {k}" for k in range(1, len(rows[0]) - 4))]
    return (
        "<section><h2>Exchange rates along each front</h2><p>What a little more of one thing buys of another, the rest"
        " left free: the best that is reached with at most so much, from the least amount on the front to where more"
        f" buys nothing, in equal steps.</p>{_table(heads, rows, 5)}</section>"
    )


def _winners(document: Document) -> str:
    caption = (
        "Which family has the best of one objective for a given amount of another. The winner changes where the colour"
        " does; a bar ends where more of the amount buys nothing."
    )
    picture = _picture("winners", lambda: winners_figure(document), caption)
    return f"<section><h2>Which family wins where</h2>{picture}</section>"


def _binds(document: Document) -> str:
    with drawing():
        figure = binding_figure(document)
    if figure is None:
        return ""
    caption = (
        f"Percent of a front's candidates that meet a requirement with less than {100 * document['binds_at']:.0f} % to"
        " spare. What binds everywhere is what to negotiate first."
    )
    objectives = document["objectives"]
    rows = []
    for b in document["binding"]:
        if b["binds"] > 0.0:
            ranges = [" to ".join(shown(o["metric"]).text(v) for v in b["where"][o["metric"]]) for o in objectives]
            rows.append([b["entry"], b["requirement"], *ranges])
    heads = ["Front", "Requirement", *(f"binds at {shown(o['metric']).title}" for o in objectives)]
    return (
        f"<section><h2>Which requirement binds where</h2>{_picture('binding', lambda: figure, caption)}"
        f"{_table(heads, merged(rows, document), 2)}</section>"
    )


def _built(document: Document) -> str:
    caption = "Number of panels and their thickness along each front."
    return (
        "<section><h2>Panels and thickness along the front</h2>"
        f"{_picture('built', lambda: built_figure(document), caption)}</section>"
    )


def _each_other(document: Document) -> str:
    if not document["dominated"]:
        return ""
    names = list(dict.fromkeys(d["by"] for d in document["dominated"]))
    share = {(d["by"], d["of"]): d for d in document["dominated"]}
    text = {k: f"{100 * d['dominated']:.0f} / {100 * d['met']:.0f}" for k, d in share.items()}
    rows = [[a, *(text.get((a, b), "") for b in names)] for a in names]
    picture = _picture(
        "attained",
        lambda: attainment_figure(document),
        "Attainment: what at least one, at least half, and every front reaches. Between the outer lines lies what"
        " depends on the limits (or, for runs that ask the same, on chance).",
    )
    return (
        f"<section><h2>Fronts against each other</h2>{picture}<h3>Share of one front that another beats</h3>"
        f"{_table(['Percent beaten / beaten or equalled', *names], rows, 1)}"
        "<p class='note'>Line: the front that beats; column: the front whose candidates are beaten.</p></section>"
    )


def _method(document: Document) -> str:
    return (
        f"<section><h2>Cautions and method</h2>{_bullets(document['cautions'])}"
        "<p class='note'>Only verified candidates that meet every requirement are counted: path proven free of"
        " interference, stowed fit by solids, structural figures settled. Margin: (limit − value) / |limit| for a"
        " maximum, (value − limit) / |limit| for a minimum. Rates are chords: (best before − best after) / (more"
        " allowed); zero where the search found nothing better. All numbers with full digits are in the tables and the"
        " JSON beside this page.</p></section>"
    )
