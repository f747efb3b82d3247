"""Amounts and rates of a comparison as engineers read them: grams a litre, micrometres a centimetre."""

from collections.abc import Mapping, Sequence
from typing import Any

from synth.core.units import show
from synth.export.engineering import shown

_FINER = {"l": ("cm^3", 1e3), "kg": ("g", 1e3), "um": ("nm", 1e3), "mm": ("um", 1e3)}
_RESOURCES = {"m^3": ("l", 1e3), "m": ("cm", 1e2), "kg": ("kg", 1.0), "m^2": ("dm^2", 1e2), "rad": ("urad", 1e6)}
_NAMES = {
    "envelope.volume": "envelope volume",
    "envelope.side": "envelope side",
    "envelope.diameter": "envelope diameter",
    "envelope.height": "envelope height",
}


def resource_name(resource: str) -> str:
    """A resource in words: an envelope dimension, a metric, or the field of a limit as it stands in the file."""
    return _NAMES.get(resource) or (resource if "." in resource else shown(resource).title)


def resource_unit(resource: str, unit: str) -> tuple[str, float]:
    """Unit in which one spends a resource and how many make one SI unit: litres, centimetres, kilograms; small lengths
    (errors) in micrometres; a plain number is "one"."""
    if unit == "m" and "rms" in resource:
        return "um", 1e6
    return _RESOURCES.get(unit, ("one" if unit in ("", "1") else unit, 1.0))


def amount(value: float, resource: str, unit: str) -> str:
    """An amount of a resource with its unit."""
    name, scale = resource_unit(resource, unit)
    return f"{value * scale:.4g} {name}".removesuffix(" one")


def rate(value: float, metric: str, resource: str, unit: str) -> str:
    """Rate with its unit, "51.9 g/l": how much of the metric one unit of the resource buys."""
    of = shown(metric)
    name, scale = resource_unit(resource, unit)
    number, told = value * of.scale / scale, of.unit or "one"
    if told in _FINER and 0.0 < abs(number) < 0.1:
        told, number = _FINER[told][0], number * _FINER[told][1]
    digits = f"{number:.3g}"
    if "e" in digits:
        digits = f"{float(digits):.6g}"
    return f"{digits} {told}/{name}".replace("one/one", "each").replace("one/", "/")


def tabled(metric: str, value: float, objectives: Mapping[str, Mapping[str, Any]]) -> str:
    """A minimised value as people read it: a maximised objective with its own sign again."""
    sign = objectives[metric]["sign"] if metric in objectives else 1
    return shown(metric).text(sign * value)


def field_value(value: Any, unit: str) -> str:
    """A value of the problem file as text."""
    if value is None:
        return "not asked"
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, int | float) and unit:
        return show(float(value), unit)
    if isinstance(value, list | tuple):
        return ", ".join(str(v) for v in value) or "none"
    if isinstance(value, Mapping):
        return ", ".join(f"{k}: {field_value(v, '')}" for k, v in value.items()) or "none"
    return str(value)


def differences_table(document: Mapping[str, Any]) -> tuple[list[str], list[list[str]]]:
    """Heads and lines of what the runs ask differently: a line a field, or a line a run where there are many runs."""
    told = document["differences"]
    folders = list(told[0]["values"])
    lines = [[d["field"], *(field_value(d["values"][f], d["unit"]) for f in folders)] for d in told]
    if len(folders) <= 4:
        return ["field", *folders], lines
    turned = [list(row) for row in zip(folders, *(line[1:] for line in lines), strict=True)]
    return ["run", *(line[0] for line in lines)], turned


def entry_size(entry: Mapping[str, Any]) -> str:
    """Outside of an envelope in millimetres."""
    x, y, z = (1e3 * v for v in entry["outside_m"])
    return f"{x:.4g} x {y:.4g} x {z:.4g} mm" if entry["kind"] == "box" else f"diameter {x:.4g}, height {z:.4g} mm"


def along_rows(document: Mapping[str, Any]) -> list[list[str]]:
    """Exchange rates along the fronts, a line for each front, resource and objective (the rest left free, sought
    resources only): front, resource, objective, amounts, best at their ends, and the rate of each equal step."""
    objectives = {o["metric"]: o for o in document["objectives"]}
    series: dict[tuple[str, str, str], list[Mapping[str, Any]]] = {}
    for c in document["exchange"]["along"]:
        if c["others"] == "free" and c["sought"]:
            series.setdefault((c["entry"], c["resource"], c["objective"]), []).append(c)
    rows = []
    for (entry, resource, metric), steps in series.items():
        unit = steps[0]["resource_unit"]
        ends = [amount(v, resource, unit) for v in (steps[0]["x"][0], steps[-1]["x"][1])]
        best = [tabled(metric, v, objectives) for v in (steps[0]["y"][0], steps[-1]["y"][1])]
        rates = [rate(c["rate"], metric, resource, unit) for c in steps]
        rows.append([entry, resource_name(resource), shown(metric).title, " to ".join(ends), " to ".join(best), *rates])
    return rows


def merged(rows: list[list[str]], document: Mapping[str, Any]) -> list[list[str]]:
    """Lines that say the same of several entries as one line, the entries joined."""
    found: dict[tuple[str, ...], list[str]] = {}
    for label, *rest in rows:
        found.setdefault(tuple(rest), []).append(label)
    return [[joined(labels, document), *rest] for rest, labels in found.items()]


def joined(labels: Sequence[str], document: Mapping[str, Any]) -> str:
    """Labels of entries in a row of text; more than two that follow each other as "first ... last"."""
    order = [e["label"] for e in document["entries"] if e["rows"]]
    runs: list[list[str]] = []
    for label in labels:
        if runs and order.index(label) == order.index(runs[-1][-1]) + 1:
            runs[-1].append(label)
        else:
            runs.append([label])
    return ", ".join(f"{r[0]} ... {r[-1]}" if len(r) > 2 else ", ".join(r) for r in runs)


def steps_table(document: Mapping[str, Any]) -> tuple[list[str], list[list[str]]]:
    """Heads and lines of what each step to a larger allowance buys: step, what is more, its amounts, and for each
    objective the rate of the best anywhere on the front, and with all else as at the knee or better."""
    metrics = [o["metric"] for o in document["objectives"]]
    cells: dict[tuple[str, ...], dict[tuple[str, str], str]] = {}
    for c in document["exchange"]["between"]:
        if c["given"] is None or c["given"] == "knee":
            spent, unit, metric = c["resource"], c["resource_unit"], c["objective"]
            amounts = " to ".join(amount(v, spent, unit) for v in c["amount"])
            line = cells.setdefault((" to ".join(c["entries"]), resource_name(spent), amounts), {})
            line[metric, c["given"] or "best"] = rate(c["rate"], metric, spent, unit)
    heads = ["step", "more", "amount"]
    for m in metrics:
        heads += [f"{shown(m).title}\nbest", f"{shown(m).title}\nat the knee"]
    rows = []
    for key, line in cells.items():
        rows.append([*key, *(line.get((m, kind), "-") for m in metrics for kind in ("best", "knee"))])
    return heads, rows
