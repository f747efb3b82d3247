"""A front or a candidate as plain text, and the same as plain values for JSON."""

import math
from collections.abc import Mapping, Sequence
from typing import Any

from synth.core.units import show
from synth.export.budget_text import budget_text
from synth.export.drive_text import drive_text
from synth.export.engineering import shown, table
from synth.export.latch_text import latch_text
from synth.export.optics_text import optics_text
from synth.export.own import own_line, own_text
from synth.export.structure_text import modes_text, stowed_text
from synth.fronts.front import Front, Row
from synth.fronts.indicators import knee
from synth.problem.objective import Objective

_ALWAYS = (
    "stowed_volume_m3",
    "longest_stowed_side_m",
    "mass_kg",
    "surface_rms_m",
    "in_plane_rms_m",
    "blur_rad",
    "collecting_area_m2",
    "first_mode_hz",
    "part_count",
)
"""Columns of a front after its objectives."""


def knee_id(rows: Sequence[Row], objectives: Sequence[Objective]) -> str | None:
    """The knee among the feasible rows of one envelope; None where there are fewer than three."""
    good = tuple(r for r in rows if r.feasible)
    if len(good) < 3 or not objectives:
        return None
    points = Front((), good).points([o.metric for o in objectives], [float(o.sign) for o in objectives])
    return good[knee(points)].id


def front_document(
    front: Front, objectives: Sequence[Objective], run: Mapping[str, Any] | None = None
) -> dict[str, Any]:
    """The front as plain values: for each envelope its rows in order of the first objective, knee, hypervolume."""
    told = {e["name"]: e for e in (run or {}).get("envelopes", [])}
    names = list(dict.fromkeys([*told, *front.envelopes]))
    return {
        "run": {k: v for k, v in (run or {}).items() if k != "envelopes"},
        "objectives": [{"name": o.name, "metric": o.metric, "better": "lower" if o.sign > 0 else "higher"}
                       for o in objectives],
        "envelopes": [
            {
                "name": name,
                "feasible": any(r.feasible for r in front.of(name).rows),
                "hypervolume": told.get(name, {}).get("hypervolume"),
                "families": told.get(name, {}).get("families", {}),
                **{k: told[name][k] for k in ("nearest", "blocks", "not_verified") if k in told.get(name, {})},
                "knee": knee_id(front.of(name).rows, objectives),
                "rows": [_row(r) for r in _sorted(front.of(name).rows, objectives)],
            }
            for name in names
        ],
    }  # fmt: skip


def _sorted(rows: Sequence[Row], objectives: Sequence[Objective]) -> list[Row]:
    return sorted(rows, key=lambda r: (*(o.sign * r.metrics[o.metric] for o in objectives), r.id))


def _row(row: Row) -> dict[str, Any]:
    return {"id": row.id, "family": row.family, "verified": row.verified, "feasible": row.feasible,
            "metrics": dict(row.metrics)}  # fmt: skip


def front_text(front: Front, objectives: Sequence[Objective], run: Mapping[str, Any] | None = None) -> str:
    """The front as a table for each envelope, in engineering units, in order of the first objective."""
    document = front_document(front, objectives, run)
    parts = []
    if run:
        facts = [f"run {run.get('id', '')}".strip(), str(run.get("state", "")), f"seed {run.get('seed')}",
                 f"{run.get('evaluations')} evaluations an envelope"]  # fmt: skip
        parts.append(", ".join(f for f in facts if f))
    parts += own_line(run or {})
    parts.append("Objectives: " + ", ".join(f"{o.name} ({_better(o)})" for o in objectives))
    parts += [_envelope(e, objectives, set(front.columns)) for e in document["envelopes"]]
    if any(e["knee"] for e in document["envelopes"]):
        parts.append("knee: the candidate that lies deepest below the plane through the extremes of its front.")
    return "\n\n".join(parts)


def _better(objective: Objective) -> str:
    return "lower is better" if objective.sign > 0 else "higher is better"


def _envelope(told: Mapping[str, Any], objectives: Sequence[Objective], known: set[str]) -> str:
    """One envelope: headline, table, families that cannot fit."""
    rows = told["rows"]
    columns = list(dict.fromkeys([*(o.metric for o in objectives), *(m for m in _ALWAYS if m in known)]))
    headline = f"Envelope {told['name']}: "
    if not rows:
        headline += "no candidate"
    elif told["feasible"]:
        headline += f"{len(rows)} candidates, every requirement met"
        if told["hypervolume"] is not None:
            headline += f", hypervolume {told['hypervolume']:.4f}"
    else:
        headline += f"NO candidate meets every requirement; the {len(rows)} that miss least"
    lines = [headline]
    if rows:
        heads = ["id", "family", *(shown(c).heading for c in columns), ""]
        cells = [
            [r["id"], r["family"], *(shown(c).number(r["metrics"][c]) for c in columns), _mark(r, told["knee"])]
            for r in rows
        ]
        if not any(c[-1] for c in cells):
            heads, cells = heads[:-1], [c[:-1] for c in cells]
        lines.append(table(heads, cells, left=2))
    lines += blocked(told)
    for family, facts in told["families"].items():
        if isinstance(facts, Mapping) and facts.get("reason"):
            lines.append(f"{family} is ruled out: {facts['reason']}")
    return "\n".join(lines)


def blocked(told: Mapping[str, Any]) -> list[str]:
    """What keeps the nearest candidate of an envelope of run.json from being feasible, a line each."""
    which = f" of {told['nearest']}" if "nearest" in told else ""
    lines = [f"blocks{which}: not verified: {told['not_verified']}"] if told.get("not_verified") else []
    for b in told.get("blocks", []):
        sign = "at most" if b["direction"] == "max" else "at least"
        asked = f"asked {sign} {show(b['limit'], b['unit'])}"
        lines.append(f"blocks{which}: {b['name']} is {show(b['value'], b['unit'])}, {asked}")
    return lines + [f"needs, {n['requirement']}: {n['told']}" for n in told.get("needs", [])]


def _mark(row: Mapping[str, Any], best: str | None) -> str:
    if row["id"] == best:
        return "knee"
    if not row["verified"]:
        return "not verified"
    return ""


def candidate_document(record: Mapping[str, Any]) -> dict[str, Any]:
    """The candidate as plain values: everything of the record but its geometry and path."""
    keys = (
        "id",
        "family",
        "envelope",
        "problem_digest",
        "genes",
        "metrics",
        "requirements",
        "accuracy",
        "verification",
    )
    masses = mass_budget(record)
    return {
        **{k: record[k] for k in keys},
        "mass_budget": masses,
        "stowed_size_m": record["stowed"]["size_m"],
        "budget": record.get("budget"),
        "optics": record.get("optics"),
        "stages": record["path"]["stages"],
        "swept": record.get("swept"),
        "mass_growth": record.get("mass_growth"),
        "modes": record.get("modes"),
        "drive": record.get("drive"),
        "launch": record.get("launch"),
        "own_catalogue": record.get("own_catalogue", []),
        "construction": record.get("construction", {}),
        "counts": {k: len(record[k]) for k in ("panels", "hinges", "latches", "fittings")},
    }


def mass_budget(record: Mapping[str, Any]) -> dict[str, float]:
    """Basic mass by kind of part, kg; growth last, so that the entries add up to mass_kg."""
    lists = ("panels", "hinges", "latches", "fittings", "drives", "restraints")
    found = {name: math.fsum(float(x["mass_kg"]) for x in record[name]) for name in lists}
    found["mount"] = float(record["mount"]["mass_kg"])
    told = {row["part"]: float(row["basic_kg"]) for row in record.get("mass_growth") or []}
    if "harness" in told:
        found |= {"drives": told["drives"], "harness": told["harness"]}
    found["growth"] = float(record["metrics"]["mass_kg"]) - float(record["metrics"]["basic_mass_kg"])
    return found


def candidate_text(record: Mapping[str, Any]) -> str:
    """One candidate: what it is, its requirement table, mass and accuracy budgets, stages, verification."""
    counts = [f"{len(record[k])} {k}" for k in ("panels", "hinges", "latches")]
    size = " x ".join(f"{1e3 * v:.1f}" for v in record["stowed"]["size_m"])
    head = [
        f"{record['id']}: {record['family']} in envelope {record['envelope']}",
        f"{', '.join(counts)}; stowed {size} mm",
        verdict(record),
    ]
    parts = [_requirements, _genes, _metrics, mass_text, budget_text, optics_text, modes_text, stowed_text, drive_text,
             latch_text, stages_text, construction_text, swept_text, verification_text]  # fmt: skip
    own = [own_text(record["own_catalogue"])] if record.get("own_catalogue") else []
    return "\n\n".join(["\n".join(head), *own, *(text for text in (part(record) for part in parts) if text)])


def verdict(record: Mapping[str, Any]) -> str:
    """Whether it may be built on, and what it misses."""
    missed = [r["name"] for r in record["requirements"] if not r["ok"]]
    if not record["verification"]["verified"]:
        because = record["verification"].get("reason", "")
        return "NOT VERIFIED: it may not be built on" + (f"\nwhy: {because}" if because else "")
    return f"verified; misses {', '.join(missed)}" if missed else "verified; meets every requirement"


def _requirements(record: Mapping[str, Any]) -> str:
    rows = []
    for r in record["requirements"]:
        how = shown(r["name"], r["unit"])
        sign = "<=" if r["direction"] == "max" else ">="
        rows.append([r["name"], how.number(r["value"]), sign, how.number(r["limit"]), how.unit,
                     f"{100 * r['margin']:+.1f} %", "ok" if r["ok"] else "MISSED"])  # fmt: skip
    return "Requirements\n" + table(["field", "value", "", "limit", "unit", "margin", ""], rows)


def _genes(record: Mapping[str, Any]) -> str:
    rows = [[name, f"{value:.6g}" if isinstance(value, float) else str(value)]
            for name, value in record["genes"].items()]  # fmt: skip
    return "Variables (SI)\n" + table(["name", "value"], rows)


def _metrics(record: Mapping[str, Any]) -> str:
    rows = [[shown(n).title, shown(n).number(v), shown(n).unit] for n, v in record["metrics"].items()]
    return "Metrics\n" + table(["metric", "value", "unit"], rows)


def mass_text(record: Mapping[str, Any]) -> str:
    """Mass by kind of part, with the growth of each where the record tells it."""
    told, total = record.get("mass_growth"), record["metrics"]["mass_kg"]
    if not told:
        rows = [[name, f"{kg:.3f}", f"{100 * kg / total:.1f} %" if total > 0 else ""]
                for name, kg in mass_budget(record).items() if kg]  # fmt: skip
        return "Mass\n" + table(["part", "kg", "share"], [*rows, ["total with growth", f"{total:.3f}", ""]])
    rows = [[r["part"], f"{r['basic_kg']:.3f}", f"{100 * r['growth']:.0f} %", f"{r['mass_kg']:.3f}", _share(r, total),
             f"{r['class']}, {r['maturity']}"] for r in told if r["basic_kg"]]  # fmt: skip
    rows.append(["total", f"{record['metrics']['basic_mass_kg']:.3f}", "", f"{total:.3f}", "", ""])
    return "Mass\n" + table(["part", "basic kg", "growth", "kg", "share", "growth class"], rows)


def _share(row: Mapping[str, Any], total: float) -> str:
    return f"{100 * row['mass_kg'] / total:.1f} %" if total > 0 else ""


def stages_text(record: Mapping[str, Any]) -> str:
    """Stages with the drives that they need, their over-constraint and their hinges."""
    rows = []
    for k, stage in enumerate(record["path"]["stages"]):
        a, b = stage["s"]
        told = [str(stage.get(name, "-")) for name in ("freedoms", "redundant_constraints")]
        rows.append([str(k), f"{a:.3f} to {b:.3f}", *told, " ".join(str(h) for h in stage["hinges"])])
    text = "Deployment stages (s: 0 stowed, 1 deployed)\n"
    text += table(["stage", "s", "drives needed", "over-constraint", "hinges"], rows, left=2)
    if any("freedoms" in stage for stage in record["path"]["stages"]):
        text += (
            "\ndrives needed: independent freedoms of the stage, one drive each or a coupling that ties them together."
            "\nover-constraint: conditions beyond those that the loops need; hinges must be true to line or compliant."
        )
    return text


def swept_text(record: Mapping[str, Any]) -> str:
    """Room that the motion needs, about the root panel."""
    room = record.get("swept")
    if not room:
        return "Room swept\nnot told: something meets on the way"
    low, high = room["box_m"]
    size = " x ".join(f"{1e3 * (b - a):.0f}" for a, b in zip(low, high, strict=True))
    at = ", ".join(f"{n} {1e3 * a:.0f} to {1e3 * b:.0f}" for n, a, b in zip("xyz", low, high, strict=True))

    def told(leaves: list[Mapping[str, Any]]) -> str:
        return ", ".join(f"{leave['face']} at s = {leave['s']:.3f}" for leave in leaves) or "never"

    rows = [
        ["box of the whole motion", f"{size} mm ({at}, about the root)"],
        ["cylinder about the optical axis", f"radius {1e3 * room['cylinder_radius_m']:.0f} mm"],
        ["leaves the stowed box through", told(room["leaves"])],
        ["leaves the envelope through (its axes, stowed in its middle)", told(room.get("leaves_envelope", []))],
    ]
    return "Room swept\n" + table(["what", "found"], rows, left=2)


def construction_text(record: Mapping[str, Any]) -> str:
    """What the family tells of its construction, and its membranes."""
    told = record.get("construction", {})
    films = [h["free_length_m"] for h in record["hinges"] if h.get("free_length_m") is not None]
    rows = [[name.replace("_", " "), f"{value:.3g}"] for name, value in told.items()]
    if films:
        rows.append(["membranes", f"{len(films)}, free length {1e3 * min(films):.1f} to {1e3 * max(films):.1f} mm"])
    return "Construction\n" + table(["what", "found"], rows, left=2) if rows else ""


def verification_text(record: Mapping[str, Any]) -> str:
    """What was proven of the candidate, and how far."""
    v = record["verification"]
    settled = v.get("order_sensitivity", {})
    rows = [
        ["hinges part along the path by at most", f"{v['closure_residual_m']:.1e} m"],
        ["strays between frames by at most", f"{v.get('between_frames_m', 0.0):.1e} m"],
        ["least clearance", f"{1e3 * v['least_clearance_m']:.3f} mm{_between(v)}"],
        ["fits the envelope", "yes" if v["fits"] else "no"],
        ["degree of the plate polynomials", str(v["plate_degree"])],
    ]
    rows += [[f"change of {k.replace('_', ' ')} with two more degrees", f"{100 * x:.2f} %"] for k, x in settled.items()]
    return "Verification\n" + table(["what", "found"], rows, left=2) + f"\nclearance: {v['clearance_method']}"


def _between(verification: Mapping[str, Any]) -> str:
    """Where the least clearance is; nothing for records that do not tell."""
    pair, s = verification.get("least_clearance_between"), verification.get("least_clearance_s")
    return "" if not pair or s is None else f", between {pair[0]} and {pair[1]} at s = {s:.4f}"
