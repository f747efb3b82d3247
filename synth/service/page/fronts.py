"""The front of a run for the linked views: metrics, marks, rows, and what stands out in each envelope."""

from typing import Any

from synth.export.front_svg import family_marks
from synth.export.show import knee_id
from synth.problem.requirement import requirements
from synth.service.page.reading import RunFiles
from synth.service.page.words import metric, told


def front_view(files: RunFiles) -> dict[str, Any]:
    """Everything that the page's front needs, rows in the order of the table."""
    objectives = files.objectives
    limits = {r.metric: {"direction": r.direction, "limit": r.limit} for r in requirements(files.problem)}
    return {
        "title": files.problem.title,
        "state": files.run["state"],
        "facts": _facts(files),
        "objectives": [{"metric": o.metric, "sign": o.sign} for o in objectives],
        "metrics": [{**metric(name), "limit": limits.get(name)} for name in files.front.columns],
        "marks": marks(sorted({r.family for r in files.front.rows})),
        "envelopes": [_envelope(files, k) for k in range(len(files.problem.envelope))],
        "rows": [
            {
                "id": r.id,
                "envelope": r.envelope,
                "family": r.family,
                "verified": r.verified,
                "feasible": r.feasible,
                "values": [r.metrics[name] for name in files.front.columns],
            }
            for r in files.front.rows
        ],
    }


def marks(families: list[str]) -> dict[str, dict[str, Any]]:
    """Mark and number of the colour of each family; the same as in every printed picture."""
    return {name: {"mark": mark, "colour": colour} for name, (mark, colour) in family_marks(families).items()}


def _facts(files: RunFiles) -> dict[str, Any]:
    run = files.run
    return {
        "evaluations": run["evaluations"],
        "seed": run["seed"],
        "wall_time_s": run["wall_time_s"],
        "problem_digest": run["problem_digest"],
    }


def _envelope(files: RunFiles, place: int) -> dict[str, Any]:
    envelope = files.problem.envelope[place]
    about: dict[str, Any] = next((e for e in files.run["envelopes"] if e["name"] == envelope.name), {})
    rows = files.front.of(envelope.name).rows
    good = [r for r in rows if r.feasible]
    least = {}
    for o in files.objectives if good else ():
        least[o.metric] = min(good, key=lambda r: (o.sign * r.metrics[o.metric], r.id)).id
    sides = [told(float(v), "m") for v in envelope.allowed]
    size = f"Ø {sides[0]} × {sides[2]}" if envelope.kind == "round" else " × ".join(sides)
    return {
        "name": envelope.name,
        "kind": envelope.kind,
        "size": size,
        "hypervolume": about.get("hypervolume"),
        "families": about.get("families", {}),
        "blocks": [b["name"] for b in about.get("blocks", [])],
        "knee": knee_id(rows, files.objectives),
        "least": least,
        "rows": len(rows),
        "feasible": len(good),
    }
