"""A run folder: what a run leaves, written so that a crash at any instant leaves the old or the new, never half."""

import shutil
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from importlib.metadata import PackageNotFoundError, version
from pathlib import Path
from typing import Any

import numpy as np

from synth.cell import space, vocabulary
from synth.core.errors import InputError, RunFolderError, nearest, writing
from synth.export.front_svg import write_front_svg
from synth.export.needs import needs
from synth.export.review_sheet import review_sheet
from synth.export.summary import summary_text
from synth.fronts.front import Front, Row, candidate_id, slugs
from synth.fronts.store import (
    SCHEMA,
    read_front,
    read_run,
    replace_file,
    write_cells,
    write_front,
    write_history,
    write_run,
)
from synth.metrics import METRICS
from synth.problem.envelope import Envelope
from synth.problem.objective import OBJECTIVES, Objective
from synth.problem.problem import Problem
from synth.problem.reading import load
from synth.problem.requirement import requirements
from synth.record.draft import unpacked
from synth.record.file import read_record, write_record
from synth.search import checkpoint
from synth.search.outcome import Outcome, Shown
from synth.search.types import Goals, Scores


def program_version() -> str:
    """Version of the installed distribution, or "source" where it runs from a checkout."""
    try:
        return version("stowfront")
    except PackageNotFoundError:
        return "source"


@dataclass(frozen=True)
class RunFolder:
    """A folder of one run. Besides the files of the contract: .work/ with the search state and drafts of records."""

    path: Path

    @property
    def work(self) -> Path:
        return self.path / ".work"

    @property
    def lock(self) -> Path:
        return self.work / "lock"

    @property
    def state_file(self) -> Path:
        return self.work / "state"

    @property
    def problem_file(self) -> Path:
        return self.path / "problem.toml"

    def about(self, problem: Problem) -> dict[str, Any]:
        """What a saved state binds to."""
        search = problem.search
        return {
            "program": program_version(),
            "problem": problem.digest,
            "evaluations": search.evaluations,
            "seed": search.seed,
        }

    def run(self) -> dict[str, Any]:
        """run.json."""
        return read_run(self.path)

    def keep(self, design: str, drafts: bytes | None) -> None:
        """Keeps the packed records of a settled design, one an envelope, until it is known which enter a front."""
        if drafts is not None:
            (self.work / "drafts").mkdir(exist_ok=True)
            replace_file(self.work / "drafts" / design, drafts)

    def _drafts(self, design: str) -> list[dict[str, Any]] | None:
        try:
            return unpacked((self.work / "drafts" / design).read_bytes())
        except FileNotFoundError:
            return None

    def finish(
        self,
        problem: Problem,
        found: Outcome,
        reasons: Sequence[Mapping[str, str]],
        goals: Goals,
        seconds: float,
    ) -> dict[str, Any]:
        """Writes everything that a search found; returns run.json."""
        names = slugs([e.name for e in problem.envelope])
        records: dict[str, dict[str, Any]] = {}
        rows: list[Row] = []
        for e, shown in enumerate(found.fronts):
            for one in shown:
                drafts = self._drafts(one.design)
                if drafts is not None:
                    record = {**drafts[e], "id": candidate_id(names[e], one.design)}
                    records[record["id"]] = record
                    rows.append(_row(record, one))
        run = _run_document(problem, found.state, seconds)
        run["envelopes"] = [
            {
                **_room(envelope),
                "ideal_point": _point(goals.ideal[e]),
                "reference_point": _point(goals.reference[e]),
                "hypervolume": float(found.hypervolume[e]),
                "ended": found.ended[e],
                "evaluations": found.evaluations[e],
                "families": _families(problem, found, reasons[e], e),
            }
            for e, envelope in enumerate(problem.envelope)
        ]
        for told, shown in zip(run["envelopes"], found.fronts, strict=True):
            if shown and not any(one.feasible for one in shown):
                nearest_one = next((r for r in rows if r.envelope == told["name"]), None)
                if nearest_one is not None:
                    told.update(_blocks(records[nearest_one.id]))
                told["needs"] = needs([records[r.id] for r in rows if r.envelope == told["name"]])
        run["cells"] = _cells(found)
        if found.aside:
            run["set_aside"] = _set_aside(problem, found)
        self._write(problem, run, rows, records, [(goals.names[e], f, n, v) for e, f, n, v in found.history])
        write_cells(
            self.path,
            [
                (c.number, c.cell.label, c.parent, c.spent, c.share, c.on_front, c.passed, c.failed, c.cause)
                for c in found.cells
            ],
        )
        return run

    def finish_one(self, problem: Problem, place: int, scores: Scores, seconds: float) -> dict[str, Any]:
        """Writes one candidate that was worked out by hand, in envelope number `place`."""
        envelope = problem.envelope[place]
        verified = bool(scores.verified is not None and scores.verified[0])
        feasible = verified and float(scores.violation[0, place]) <= 0.0
        record = {
            **unpacked(scores.extra)[place],
            "id": candidate_id(slugs([e.name for e in problem.envelope])[place], "by_hand"),
        }
        row = Row(record["id"], envelope.name, record["family"], verified, feasible, record["metrics"])
        run = _run_document(problem, "done", seconds)
        run["evaluations"] = 1
        count = {"evaluations": 1, "feasible": int(feasible), "on_front": int(feasible)}
        run["envelopes"] = [
            {
                **_room(envelope),
                "ideal_point": None,
                "reference_point": None,
                "hypervolume": 0.0,
                "families": {record["family"]: count},
                **({} if feasible else {**_blocks(record), "needs": needs([record])}),
            }
        ]
        run["note"] = str(scores.reason[0]) or "one candidate given by hand"
        self._write(problem, run, [row], {record["id"]: record}, [])
        return run

    def _write(
        self,
        problem: Problem,
        run: dict[str, Any],
        rows: list[Row],
        records: Mapping[str, Mapping[str, Any]],
        history: Sequence[tuple[str, str, int, float]],
    ) -> None:
        folder = self.path / "candidates"
        folder.mkdir(exist_ok=True)
        for name, record in records.items():
            write_record(folder / f"{name}.json", record)
            replace_file(folder / f"{name}.review.md", review_sheet(record).encode())
        wanted = {f"{name}{end}" for name in records for end in (".json", ".review.md")}
        for stale in folder.iterdir():  # of an earlier writing, or half written when it was killed
            if stale.name not in wanted:
                stale.unlink()
        front = Front(tuple(METRICS), tuple(rows))
        write_history(self.path, history)
        write_front(self.path, front)
        write_front_svg(self.path, front, sought(run), [e["name"] for e in run["envelopes"]])
        write_run(self.path, run)
        if run["state"] == "done":
            shutil.rmtree(self.work / "drafts", ignore_errors=True)
            self.state_file.unlink(missing_ok=True)

    def table(self) -> str:
        """How the run ended, as text."""
        run = self.run()
        return summary_text(read_front(self.path), sought(run), run)


def _row(record: Mapping[str, Any], shown: Shown) -> Row:
    return Row(record["id"], record["envelope"], record["family"], shown.verified, shown.feasible, record["metrics"])


def _blocks(record: Mapping[str, Any]) -> dict[str, Any]:
    """What keeps the nearest candidate from being feasible: requirements that it fails, the worst first, and why it is
    not verified (an empty text where it is)."""
    fails = sorted((r for r in record["requirements"] if not r["ok"]), key=lambda r: r["margin"])
    return {"nearest": record["id"], "blocks": fails, "not_verified": record["verification"].get("reason", "")}


def _room(envelope: Envelope) -> dict[str, Any]:
    """Name, kind and the sides inside the clearance, m (a round one: diameter twice, height)."""
    return {"name": envelope.name, "kind": envelope.kind, "allowed_m": [float(v) for v in envelope.allowed]}


def _point(values: np.ndarray) -> list[float] | None:
    return [float(v) for v in values] if np.isfinite(values).all() else None


def _families(problem: Problem, found: Outcome, reasons: Mapping[str, str], e: int) -> dict[str, Any]:
    out: dict[str, Any] = {}
    for family in problem.families:
        count = found.families[e].get(family)
        out[family] = {
            "evaluations": count.evaluations if count else 0,
            "feasible": count.feasible if count else 0,
            "on_front": count.on_front if count else 0,
            "cells": count.cells if count else 0,
        }
        if count and not count.on_front and (e, family) in found.nearest:
            out[family]["nearest"] = _nearest(problem, *found.nearest[e, family])
        if family in reasons:
            out[family]["reason"] = reasons[family]
    return out


def _nearest(problem: Problem, violation: float, worst: int, margin: float, reason: str) -> dict[str, Any]:
    """What came nearest of a family that is not on the front: the requirement that failed most, by how much."""
    told: dict[str, Any] = {"violation": violation}
    if violation > 0.0 and worst >= 0:
        told |= {"requirement": requirements(problem)[worst].name, "margin": margin}
    return told | ({"reason": reason} if reason else {})


def _cells(found: Outcome) -> dict[str, Any]:
    """How many cells were tried, how the budget went to them, and why they ended; each one is in cells.csv."""
    shares = sorted((c.share for c in found.cells), reverse=True)
    return {
        "tried": len(found.cells),
        "on_front": sum(c.on_front > 0 for c in found.cells),
        "share_of_busiest": shares[0] if shares else 0.0,
        "share_of_busiest_ten": sum(shares[:10]),
        "ended": found.causes,
    }


def _set_aside(problem: Problem, found: Outcome) -> list[dict[str, Any]]:
    """Candidates that could not be evaluated or verified: design, family, genes and the reason."""
    out = []
    for design, name, row, reason in found.aside:
        cell = found.aside_cells[name]
        genes = space(problem, cell).genes(np.array(row))
        out.append({"design": design, "family": cell.family, "genes": genes, "reason": reason})
    return out


def _run_document(problem: Problem, state: str, seconds: float) -> dict[str, Any]:
    return {
        "schema": SCHEMA,
        "id": f"{problem.digest[:12]}-{problem.search.seed}-{problem.search.evaluations}",
        "state": state,
        "title": problem.title,
        "objectives": list(problem.search.objectives),
        "seed": problem.search.seed,
        "evaluations": problem.search.evaluations,
        "wall_time_s": round(seconds, 3),
        "versions": {"stowfront": program_version(), **checkpoint.versions()},
        "problem_digest": problem.digest,
        **({"own_catalogue": own} if (own := problem.catalogue.own_entries()) else {}),
        "envelopes": [],
    }


NOT_YET = {".work", "problem.toml", ".problem.toml.new", ".run.json.new"}
"""What a start leaves that was killed before its run.json stood; another start may take its place."""


def started(path: Path, problem: Problem) -> RunFolder:
    """A new run folder with its problem, marked running. RunFolderError where the folder holds a run already."""
    folder = RunFolder(path)
    with writing(path, what="used as a run folder"):
        if (path / "run.json").exists():
            raise RunFolderError(f"{path}: holds a run already; choose another --out, or: stowfront resume {path}")
        if path.is_dir() and not {p.name for p in path.iterdir()} <= NOT_YET:
            raise RunFolderError(f"{path}: is not empty; choose another --out")
        folder.work.mkdir(parents=True, exist_ok=True)
    replace_file(folder.problem_file, problem.source)
    write_run(path, _run_document(problem, "running", 0.0))
    return folder


def opened(path: Path) -> RunFolder:
    """An existing run folder."""
    folder = RunFolder(path)
    folder.run()
    with writing(path, RunFolderError):
        folder.work.mkdir(exist_ok=True)
    return folder


def sought(run: Mapping[str, Any]) -> tuple[Objective, ...]:
    """The objectives of a run."""
    return tuple(OBJECTIVES[name] for name in run["objectives"])


def run_document(path: Path) -> tuple[dict[str, Any], Front]:
    """run.json and the front of a run folder."""
    return read_run(path), read_front(path)


def candidate_record(path: Path, name: str) -> dict[str, Any]:
    """A candidate's record; InputError with the nearest known id where there is none."""
    front = read_front(path)
    if front.find(name) is None:
        known = [r.id for r in front.rows]
        some = ", ".join(known[:6]) + (f" and {len(known) - 6} more" if len(known) > 6 else "")
        raise InputError(f"{path}: has no candidate '{name}'; it has {some or 'none'}.{nearest(name, known)}")
    return read_record(path / "candidates" / f"{name}.json")


def problem_of(path: Path) -> Problem:
    """The problem of a run folder."""
    return load(path / "problem.toml", vocabulary())
