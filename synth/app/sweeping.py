"""Sweeps: one problem under several limits, each run starting from what its neighbours found.

Dimensions of a room become envelopes of one run. Other limits make a run each, from the tightest to the loosest,
and where a limit only judges, all verdicts are shared in the end, so that the fronts are nested.
"""

import json
import math
import re
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from synth.app import running
from synth.app.checking import closed_families, read_problem
from synth.app.comparing import SWEEP
from synth.app.display import Display
from synth.app.folder import RunFolder, opened, program_version, started
from synth.app.pools import pool_for
from synth.app.relabel import relabelled
from synth.cell import vocabulary
from synth.core.errors import InputError, RunFolderError, writing
from synth.export.engineering import table
from synth.fronts.store import replace_file
from synth.problem.problem import Problem
from synth.problem.reading import loads
from synth.problem.requirement import requirements
from synth.problem.variant import Axis, Variant, read_axis, variants
from synth.record.draft import packed
from synth.search import checkpoint
from synth.search.evaluator import ProblemEvaluator
from synth.search.inherit import Moved, inherit, put_forward
from synth.search.outcome import Outcome, fronts, outcome
from synth.search.run import search
from synth.search.settings import Settings
from synth.search.state import State, begin

SHARE = 0.25
"""Evaluations of each further value against those of the first: it starts from what its neighbours found."""
SCHEMA = "sweep/1"


@dataclass(frozen=True)
class Where:
    """Where candidates are evaluated, as in pools.pool_for."""

    workers: int | None
    ray: str | None


@dataclass(frozen=True)
class SweepSummary:
    """How a sweep ended: its folder, and the runs' run.json with their folders."""

    folder: Path
    labels: tuple[str, ...]
    runs: tuple[dict[str, Any], ...]

    @property
    def any_feasible(self) -> bool:
        return any(f["on_front"] for run in self.runs for e in run["envelopes"] for f in e["families"].values())

    @property
    def interrupted(self) -> bool:
        return any(run["state"] != "done" for run in self.runs)

    def document(self) -> dict[str, Any]:
        """Folder and runs."""
        return {"folder": str(self.folder), "runs": list(self.runs)}

    def text(self) -> str:
        """A line for each value and envelope."""
        rows = []
        for label, run in zip(self.labels, self.runs, strict=True):
            for e in run["envelopes"]:
                on_front = {f: v["on_front"] for f, v in e["families"].items() if v["on_front"]}
                families = ", ".join(f"{f} {n}" for f, n in on_front.items()) or "nothing feasible"
                spent = sum(v["evaluations"] for v in e["families"].values())
                rows.append([label, e["name"], str(sum(on_front.values())), f"{e['hypervolume']:.4f}", str(spent),
                             families])  # fmt: skip
        told = table(["limits", "envelope", "front", "hypervolume", "evaluations", "families"], rows, left=2)
        told += f"\n\nSweep folder: {self.folder}"
        return f"{told}\nNext: stowfront compare {self.folder} --out {self.folder / 'compare'}"


def sweep_problem(
    file: Path,
    sweeps: Sequence[str],
    out: Path | None,
    evaluations: int | None,
    seed: int | None,
    workers: int | None,
    ray: str | None = None,
) -> SweepSummary:
    """Runs the problem of a file over the values of one or two axes ("FIELD=FIRST:LAST:COUNT").

    evaluations: as for a single run; a sweep of n values puts forward 1 + (n - 1) / 4 times as many. Raises
    InputError where file or axes are wrong (nothing is started), RunFolderError where `out` is taken.
    """
    problem = read_problem(file).with_search(evaluations, seed)
    axes = _axes(problem, sweeps)
    path = out or running._fresh(Path(f"{file.stem}-sweep"))
    made = _variants(problem, axes)
    about = {
        "schema": SCHEMA,
        "program": program_version(),
        "sweeps": list(sweeps),
        "problem": problem.source.decode("utf-8-sig"),
        "evaluations": problem.search.evaluations,
        "seed": problem.search.seed,
        "axes": [{"field": a.field, "unit": a.unit, "values": list(a.values)} for a in axes],
        "runs": [{"folder": n, "limits": v.label} for n, v in zip(_names(made), made, strict=True)],
    }
    with writing(path, what="used as a folder"):
        if path.exists() and (not path.is_dir() or any(path.iterdir())):
            raise RunFolderError(f"{path}: is not an empty folder; choose another --out, or: stowfront resume {path}")
        path.mkdir(parents=True, exist_ok=True)
    if len(made) > 1:
        replace_file(path / "problem.toml", problem.source)
    return _go_on(path, made, about, Where(workers, ray))


def resume_sweep(path: Path, workers: int | None, ray: str | None = None) -> SweepSummary:
    """Goes on with a sweep that was stopped or killed; the fronts are those of an undisturbed sweep."""
    try:
        about = json.loads((path / SWEEP).read_text(encoding="utf-8"))
        evaluations, seed, sweeps = about["evaluations"], about["seed"], about["sweeps"]
        source = str(about["problem"]).encode()
    except (OSError, ValueError, KeyError, TypeError):
        raise RunFolderError(f"{path / SWEEP}: is damaged") from None
    problem = loads(source, str(path / SWEEP), vocabulary()).with_search(evaluations, seed)
    return _go_on(path, _variants(problem, _axes(problem, sweeps)), about, Where(workers, ray))


def _axes(problem: Problem, sweeps: Sequence[str]) -> tuple[Axis, ...]:
    axes = tuple(read_axis(problem, text) for text in sweeps)
    names = {(a.envelope, a.part or a.field) for a in axes}
    if not 1 <= len(axes) <= 2 or len(names) < len(axes):
        raise InputError("sweep: takes one or two different fields")
    return axes


def _variants(problem: Problem, axes: tuple[Axis, ...]) -> list[Variant]:
    """Evaluations for each envelope: a sweep over n rooms spends what 1 + (n - 1) / 4 single runs spend, in one run."""
    rooms = math.prod(len(a.values) for a in axes if a.envelope >= 0)
    whole = problem.search.evaluations
    first = max(math.ceil(whole * (1.0 + SHARE * (rooms - 1)) / rooms), 1)
    return variants(problem, axes, first, max(math.ceil(SHARE * first), 1), vocabulary())


def _names(made: Sequence[Variant]) -> list[str]:
    """Folders of the runs; a single run lies in the sweep's own folder."""
    if len(made) == 1:
        return ["."]
    slugs = [re.sub(r"[^a-z0-9.]+", "_", v.label.lower()).strip("_") for v in made]
    return [f"{k:02d}-{slug}" for k, slug in enumerate(slugs)]


@dataclass(frozen=True, eq=False)
class _Run:
    """One run of a sweep while it goes on."""

    variant: Variant
    folder: RunFolder
    evaluator: ProblemEvaluator
    state: State

    def finish(self, seconds: float, stopped: bool) -> dict[str, Any]:
        _, reasons = closed_families(self.variant.problem)
        found = outcome(self.state, stopped)
        return self.folder.finish(self.variant.problem, found, reasons, self.state.goals, seconds)


def _go_on(path: Path, made: list[Variant], about: dict[str, Any], where: Where) -> SweepSummary:
    names, labels = _names(made), [v.label or "as given" for v in made]
    documents: dict[int, dict[str, Any]] = {}
    runs: dict[int, _Run] = {}
    seconds: dict[int, float] = {}
    stopped = False
    for k, (variant, name) in enumerate(zip(made, names, strict=True)):
        folder = _folder(path / name, variant)
        replace_file(path / SWEEP, (json.dumps(about, indent=1) + "\n").encode())
        told = folder.run()
        if told["state"] == "done":
            documents[k] = told
            continue
        begun = time.monotonic()
        with checkpoint.alone(folder.lock), running._resumable(RunFolder(path)):
            runs[k] = _Run(variant, folder, *_state(folder, variant, list(runs.values()), about["evaluations"]))
            stopped = _searched(runs[k], where).state == "stopped"
        seconds[k] = time.monotonic() - begun
        if stopped:
            break
    if not documents and not stopped:
        _share(list(runs.values()))
    documents |= {k: run.finish(seconds[k], stopped) for k, run in runs.items()}
    told_in_order = sorted(documents)
    return SweepSummary(path, tuple(labels[k] for k in told_in_order), tuple(documents[k] for k in told_in_order))


def _folder(path: Path, variant: Variant) -> RunFolder:
    """A new run folder, or the one that a stopped sweep left."""
    if (path / "run.json").exists():
        return opened(path)
    return started(path, variant.problem)


def _state(folder: RunFolder, variant: Variant, earlier: Sequence[_Run], whole: int) -> tuple[ProblemEvaluator, State]:
    """As saved, or new with what neighbours know. Fronts are as long as those of single runs of `whole` evaluations."""
    problem = variant.problem
    shut, _ = closed_families(problem)
    evaluator = ProblemEvaluator(problem, shut)
    if folder.state_file.exists():
        return evaluator, checkpoint.load(folder.state_file, folder.about(problem))
    evaluations, seed, rooms = problem.search.evaluations, problem.search.seed, len(problem.envelope)
    single = Settings.for_budget(whole, seed, rooms)
    shown = {"front": single.front, "verifications": single.verifications}
    settings = Settings.for_budget(evaluations, seed, rooms, **shown)
    state = begin(evaluator, running.goals_of(problem), settings)
    for run in earlier:
        if not _neighbours(run.variant, variant):
            continue
        moved = _moved(run.variant, variant)
        if moved is not None:
            inherit(state, evaluator, run.state, moved)
        else:
            put_forward(state, evaluator, run.state, max(problem.search.evaluations // 2, 1))
    return evaluator, state


def _neighbours(a: Variant, b: Variant) -> bool:
    """Whether one axis alone differs, by one step."""
    places = [(x.values.index(p), x.values.index(q)) for x, p, q in zip(a.limits, a.values, b.values, strict=True)]
    return sum(abs(i - j) for i, j in places) == 1


def _moved(a: Variant, b: Variant) -> Moved | None:
    """How margins change from one variant to another; None where a figure of the candidates themselves changes."""
    unlike = [x for x, p, q in zip(a.limits, a.values, b.values, strict=True) if p != q]
    before, after = requirements(a.problem), requirements(b.problem)
    if not all(x.judged for x in unlike) or [r.name for r in before] != [r.name for r in after]:
        return None
    return Moved.between([r.limit for r in before], [r.limit for r in after], [r.direction for r in after])


def _searched(run: _Run, where: Where) -> Outcome:
    about = run.folder.about(run.variant.problem)
    with (
        pool_for(run.variant.problem, where.workers, where.ray) as pool,
        Display(pool) as display,
        running._asked_to_stop() as stop,
    ):
        return search(
            run.state,
            run.evaluator,
            pool,
            save=lambda s: checkpoint.save(run.folder.state_file, s, about),
            save_every_s=running.SAVE_EVERY_S,
            watch=display.show,
            keep=lambda candidate, cell, extra: run.folder.keep(candidate.id, extra),
            stop=stop,
        )


def _share(runs: Sequence[_Run]) -> None:
    """Offers every verdict to every run whose limits only judge it anew, and makes each front meet those of tighter
    runs. Saved before any run is finished, so that a sweep killed in between ends the same."""
    for b in runs:
        for a in runs:
            moved = _moved(a.variant, b.variant)
            if a is not b and moved is not None:
                inherit(b.state, b.evaluator, a.state, moved)
    for k, b in enumerate(runs):
        for a in runs[:k]:
            moved = _moved(a.variant, b.variant)
            if moved is not None and _neighbours(a.variant, b.variant):
                for e, front in enumerate(fronts(a.state)):
                    met = [moved.candidate(c, 0, b.state.cells[0].correction) for c in front]
                    b.state.owed.setdefault(e, []).extend(c for c in met if c is not None and c.feasible(e))
        _lend_records(b, [a for a in runs if a is not b])
        checkpoint.save(b.folder.state_file, b.state, b.folder.about(b.variant.problem))


def _lend_records(run: _Run, others: Sequence[_Run]) -> None:
    """Records of designs that another run verified, with this run's limits."""
    shown = {row.design for front in outcome(run.state, stopped=False).fronts for row in front}
    for design in sorted(shown):
        if run.folder._drafts(design) is None:
            lent = next((d for d in (o.folder._drafts(design) for o in others) if d is not None), None)
            if lent is not None:
                run.folder.keep(design, packed(relabelled(lent, run.variant.problem)))
