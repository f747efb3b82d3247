"""A candidate's records under other limits: the same design and figures, judged anew."""

from collections.abc import Mapping, Sequence
from typing import Any

from synth.problem.problem import Problem
from synth.problem.requirement import requirements
from synth.record.file import tidy


def relabelled(drafts: Sequence[Mapping[str, Any]], problem: Problem) -> list[dict[str, Any]]:
    """Records of one design, an envelope each, with the limits and the digest of a problem that differs from theirs
    in limits only (and in nothing that enters a figure)."""
    asked = {r.name: r for r in requirements(problem)}
    found = []
    for draft in drafts:
        rows = []
        for row in draft["requirements"]:
            limit = asked[row["name"]].limit
            margin = asked[row["name"]].margin(row["value"]) if limit != row["limit"] else row["margin"]
            rows.append({**row, "limit": limit, "margin": tidy(margin), "ok": margin >= 0.0})
        found.append({**draft, "problem_digest": problem.digest, "requirements": rows})
    return found
