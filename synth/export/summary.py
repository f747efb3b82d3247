"""How a run ended, in a screenful: the knee and the least of each objective in each envelope, or what blocks."""

from collections.abc import Mapping, Sequence
from typing import Any

from synth.export.engineering import shown, table
from synth.export.own import own_line
from synth.export.show import blocked, knee_id
from synth.fronts.front import Front, Row
from synth.problem.objective import Objective


def summary_text(front: Front, objectives: Sequence[Objective], run: Mapping[str, Any]) -> str:
    """Text of run.json and its front."""
    lines = [
        f"{run['title']}",
        f"{run['state']}: {_spent(run)}, seed {run['seed']}, {run['wall_time_s']:.0f} s",
    ]
    lines += own_line(run)
    if run.get("cells", {}).get("tried"):
        c = run["cells"]
        lines.append(
            f"{c['tried']} cells tried (topologies and joint layouts), {c['on_front']} of them on a front; "
            f"the ten busiest got {100.0 * c['share_of_busiest_ten']:.0f} % of the candidates (cells.csv)"
        )
    for told in run["envelopes"]:
        lines += ["", *_envelope(told, front.of(told["name"]).rows, objectives, str(run["state"]))]
    return "\n".join(lines)


def _spent(run: Mapping[str, Any]) -> str:
    """Candidates put forward: the budget, or what of it was spent where the run was stopped."""
    budget = int(run["evaluations"])
    noun = "candidate" if budget == 1 else "candidates"
    spent = [sum(int(c.get("evaluations", 0)) for c in e["families"].values()) for e in run["envelopes"]]
    if run["state"] == "done" and spent and not any(spent):
        return "nothing to search"
    if run["state"] == "done" or not spent:
        return f"{budget} {noun} put forward for each envelope"
    return f"{max(spent)} of {budget} {noun} put forward for each envelope"


def _envelope(told: Mapping[str, Any], rows: Sequence[Row], objectives: Sequence[Objective], state: str) -> list[str]:
    good = [r for r in rows if r.feasible]
    families: dict[str, int] = {}
    for r in good:
        families[r.family] = families.get(r.family, 0) + 1
    shares = ", ".join(f"{f} {n}" for f, n in sorted(families.items(), key=lambda item: (-item[1], item[0])))
    lines = [f"Envelope {told['name']}: {_count(good, rows, told, state)}"]
    if good:
        lines[0] += f" ({shares}), hypervolume {told['hypervolume']:.4f}"
    early = {
        "stalled": "the hypervolume had stalled",
        "time limit": "time was up",
        "nothing new left": "nothing new was left",
    }
    if told.get("ended") in early:
        lines.append(f"  ended after {told['evaluations']} candidates: {early[told['ended']]}")
    lines += [f"  {f} ruled out: {c['reason']}" for f, c in told["families"].items() if "reason" in c]
    lines += [f"  {f} fell short: {_short(c['nearest'])}" for f, c in told["families"].items() if _failed(c)]
    if rows:
        lines.append(_table(good or rows[:3], objectives, bool(good)))
    return lines + [f"  {line}" for line in blocked(told)]


def _failed(family: Mapping[str, Any]) -> bool:
    return bool(family.get("nearest", {}).get("violation", 0.0) > 0.0)


def _short(nearest: Mapping[str, Any]) -> str:
    """What kept a family's nearest candidate from being feasible."""
    if nearest.get("reason"):
        return f"at best {nearest['reason']}"
    if "requirement" in nearest:
        return f"at best {nearest['requirement']} misses its limit by {-100.0 * nearest['margin']:.1f} %"
    return f"at best violations of {nearest['violation']:.3g} in sum"


def _count(good: Sequence[Row], rows: Sequence[Row], told: Mapping[str, Any], state: str) -> str:
    if good:
        return f"{len(good)} verified candidate{'' if len(good) == 1 else 's'} on the front"
    if rows:
        return "nothing meets every requirement; nearest:"
    if told["families"] and all("reason" in c for c in told["families"].values()):
        return "nothing can fit"
    return "nothing found yet" if state != "done" else "no design among so few candidates; give it more --evaluations"


def _table(rows: Sequence[Row], objectives: Sequence[Objective], feasible: bool) -> str:
    """The knee and the least (or greatest) of each objective; a candidate that is several of them told once."""
    picks: dict[str, list[str]] = {}
    if feasible:
        knee = knee_id(rows, objectives)
        if knee is not None:
            picks.setdefault(knee, []).append("knee")
        for o in objectives:
            best = min(rows, key=lambda r: (o.sign * r.metrics[o.metric], r.id))
            word = "least" if o.sign > 0 else "greatest"
            picks.setdefault(best.id, []).append(f"{word} {shown(o.metric).title}")
    else:
        picks = {r.id: [""] for r in rows}
    known = {r.id: r for r in rows}
    metrics = [o.metric for o in objectives]
    heads = ["candidate", "family", *(_head(m) for m in metrics), "panels", ""]
    body = []
    for name, words in picks.items():
        r = known[name]
        numbers = [shown(m).number(r.metrics[m]) for m in metrics]
        body.append([name, r.family, *numbers, f"{r.metrics['panel_count']:.0f}", ", ".join(words)])
    return "\n".join(f"  {line}" for line in table(heads, body, 2).splitlines())


def _head(metric: str) -> str:
    how = shown(metric)
    return f"{how.title} [{how.unit}]" if how.unit else how.title
