"""This search beside those of other libraries: hypervolume against evaluations, one evaluator for all.

Run: python -m tests.bench.search [--fields ...] [--seeds N] [--tables DIR] [--plot FILE.svg]. Prints a table a field:
the two problems whose designs are all listed (tests/references/truths.py; the tables are made in DIR where they are
missing, some minutes) and the shipped main problem. Verification is left out for all: the figures are the cheap ones.
"""

import argparse
import hashlib
import os
import platform
import time
from collections.abc import Sequence
from importlib.util import find_spec
from pathlib import Path

import numpy as np
from threadpoolctl import threadpool_limits

import problems
from synth.app.running import closed_families, goals_of
from synth.cell import Cell, vocabulary
from synth.core.arrays import Floats, Ints
from synth.fronts.indicators import hypervolume_share
from synth.problem import Problem, loads
from synth.search.evaluator import ProblemEvaluator
from synth.search.pool import InProcess
from synth.search.run import search
from synth.search.settings import Settings
from synth.search.state import begin
from synth.search.types import Scores, Task
from tests.bench.contest import Counter, Field, Spent, curve, interleaved
from tests.bench.peers import NEEDS, PEERS
from tests.bench.plot import drawn
from tests.references.grid import Snapping, cheap
from tests.references.truths import GRIDS, listed, loaded

OURS = "this search"
MAIN = "river_ice"
EVALUATIONS = {"three_families": 3_000, "one_family": 1_000, MAIN: 1_500}
"""Over all envelopes: where designs are listed a small part of them, so that the searches are told apart."""
CHUNK = 256


def listed_field(name: str, tables: Path) -> Field:
    """A grid, its figures looked up in the table of all designs."""
    grid = GRIDS[name]()
    file = tables / f"{name}.npz"
    if not file.exists():
        tables.mkdir(parents=True, exist_ok=True)
        listed(grid).save(file)
    full, goals = loaded(grid, file), goals_of(grid.problem)
    best = [full.objectives[full.best(e), e] for e in range(goals.count)]
    box = list(zip(best, goals.ideal, goals.reference, strict=True))
    truth = np.array([hypervolume_share(points, low, high) for points, low, high in box])

    def figures(cell: Cell, X: Floats) -> tuple[Floats, Floats, Floats]:
        numbers = full.numbers(cell, X)
        return full.objectives[numbers], full.violation[numbers], full.margins[numbers]

    levels = dict(grid.levels)
    return Field(name, grid.problem, goals, Snapping(grid), figures, full.cells, levels, True, truth)


def main_field() -> Field:
    """The shipped main problem with all its envelopes; peers choose among the cells that this search starts from."""
    file = Path(problems.__file__).with_name(f"{MAIN}.toml")
    asked = loads(file.read_bytes(), file.name, vocabulary())
    shut, _ = closed_families(asked)
    evaluator = ProblemEvaluator(asked, shut)

    def figures(cell: Cell, X: Floats) -> tuple[Floats, Floats, Floats]:
        parts = [cheap(asked, Task(cell, X[k : k + CHUNK])) for k in range(0, len(X), CHUNK)]
        told = [(p.objectives, p.violation, p.margins) for p in parts if p.margins is not None]
        objectives, violation, margins = (np.concatenate(figure) for figure in zip(*told, strict=True))
        return objectives, violation, margins

    return Field(MAIN, asked, goals_of(asked), evaluator, figures, list(evaluator.cells()))


def ours(contest: Field, evaluations: int, seed: int) -> Counter:
    """One run of this search with so many evaluations over all envelopes; verdicts are the cheap figures."""
    count = contest.goals.count
    counter = Counter(contest, evaluations)
    looked = Counter(contest, 10**9)

    def work(asked: Problem, task: Task) -> Scores:
        kept = counter if task.level == "evaluate" else looked
        F, violation, margins = kept.told([(task.cell, x) for x in task.X])
        verified = violation.min(axis=1) <= 0.0 if task.level == "verify" else None
        return Scores(F, violation, np.full(len(F), "", dtype=object), margins, verified)

    state = begin(contest.evaluator, contest.goals, Settings.for_budget(evaluations // count, seed, count))
    with InProcess(work, contest.problem) as pool:
        search(state, contest.evaluator, pool)
    return counter


def ran(contest: Field, name: str, evaluations: int, seed: int, marks: Ints) -> Floats:
    """The curve of one search with one seed."""
    if name == OURS:
        counters = [ours(contest, evaluations, seed)]
    else:
        count = contest.goals.count
        counters = [Counter(contest, evaluations // count) for _ in range(count)]
        for e, counter in enumerate(counters):
            try:
                PEERS[name](counter, e, 1000 * seed + e)
            except Spent:
                continue
    F, violation = interleaved(counters)
    return curve(contest, F, violation, np.minimum(marks, len(F)))


def reached(marks: Ints, values: Floats, goal: float) -> float:
    """Evaluations at which a curve first meets a goal; infinite where it never does."""
    there = np.flatnonzero(values >= goal)
    return float(marks[there[0]]) if len(there) else np.inf


def fingerprint(contest: Field) -> str:
    """Tells the figures of some designs, so that curves kept from earlier models are not taken for those of today's."""
    designs = contest.decode(np.random.default_rng(5).random((16, len(contest.variables))))
    told = hashlib.sha256()
    for cell, x in designs:
        for figures in contest.figures(cell, x[None])[:2]:
            told.update(np.char.mod("%.7e", figures).tobytes())
    return told.hexdigest()[:10]


def kept(
    contest: Field, name: str, evaluations: int, seed: int, marks: Ints, file: Path | None
) -> tuple[Floats, float]:
    """The curve of one search with one seed and its seconds; a peer's is read from the file if an earlier run wrote it.
    This search is always run."""
    if file is not None and file.exists() and name != OURS:
        with np.load(file) as known:
            return known["curve"], float(known["seconds"])
    begun = time.process_time()
    found = ran(contest, name, evaluations, seed, marks)
    seconds = time.process_time() - begun
    if file is not None and name != OURS:
        file.parent.mkdir(parents=True, exist_ok=True)
        np.savez(file, curve=found, seconds=seconds)
    return found, seconds


def contested(
    contest: Field, evaluations: int, seeds: int, names: Sequence[str], slow: int, curves_in: Path | None
) -> dict[str, Floats]:
    """Runs every search; prints the table; returns curves [seeds, marks] by name. slow: seeds of Optuna."""
    marks = marks_of(evaluations)
    print(
        f"\n{contest.name}: {evaluations} evaluations over {contest.goals.count} envelope(s), {seeds} seeds", flush=True
    )
    curves: dict[str, Floats] = {}
    cost: dict[str, float] = {}
    mark = fingerprint(contest) if curves_in is not None else ""
    for name in names:
        here = min(seeds, slow) if name.startswith("Optuna") else seeds
        files = [
            None
            if curves_in is None
            else curves_in / f"{contest.name}_{evaluations}_{mark}_{name.replace(' ', '_')}_{s}.npz"
            for s in range(1, here + 1)
        ]
        runs = [kept(contest, name, evaluations, s, marks, file) for s, file in enumerate(files, 1)]
        curves[name] = np.stack([curve for curve, _ in runs])
        cost[name] = float(np.mean([seconds for _, seconds in runs]))
        print(f"  {name}: {np.median(curves[name][:, -1]):.5f} after {cost[name]:.1f} s a seed", flush=True)
    table(marks, curves, cost)
    return curves


def marks_of(evaluations: int) -> Ints:
    return np.unique(np.geomspace(50, evaluations, 60).astype(np.int64))


def table(marks: Ints, curves: dict[str, Floats], cost: dict[str, float]) -> None:
    """Hypervolumes at shares of the budget, and how soon this search met each one's final figure."""
    shares = (0.05, 0.1, 0.25, 0.5, 1.0)
    at = [int(np.abs(marks - s * marks[-1]).argmin()) for s in shares]
    heads = [*(f"at {marks[k]}" for k in at), "worst seed", "seeds", "this search is there at", "s a seed"]
    print("\n| search | " + " | ".join(heads) + " |")
    print("| --- |" + " --- |" * len(heads))
    mine = np.median(curves[OURS], axis=0)
    for name, found in sorted(curves.items(), key=lambda item: -np.median(item[1][:, -1])):
        middle = np.median(found, axis=0)
        soon = reached(marks, mine, float(middle[-1]))
        told = f"{soon:.0f} ({soon / marks[-1]:.0%})" if np.isfinite(soon) else "never"
        told = told if name != OURS else ""
        cells = [f"{middle[k]:.4f}" for k in at] + [f"{found[:, -1].min():.4f}", str(len(found)), told]
        print(f"| {name} | " + " | ".join(cells) + f" | {cost[name]:.1f} |")


def machine() -> str:
    with Path("/proc/cpuinfo").open() as lines:
        model = next((line.split(":")[1].strip() for line in lines if line.startswith("model name")), "unknown")
    return f"{os.cpu_count()} cores ({model}), Python {platform.python_version()}, numpy {np.__version__}"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    fields = [*GRIDS, MAIN]
    parser.add_argument("--fields", nargs="+", choices=fields, default=fields)
    parser.add_argument("--seeds", type=int, default=11, help="of the listed problems")
    parser.add_argument(
        "--main-seeds", type=int, default=3, help="of the main problem, whose designs are worked out anew"
    )
    parser.add_argument("--optuna-seeds", type=int, default=11)
    parser.add_argument("--only", nargs="+", choices=[OURS, *PEERS], help="searches to run")
    parser.add_argument("--tables", type=Path, default=Path(".work/tables"))
    parser.add_argument("--curves", type=Path, help="folder where peers' curves are kept, so that a rerun takes them")
    parser.add_argument("--plot", type=Path, help="SVG file")
    parser.add_argument("--main-evaluations", type=int, default=EVALUATIONS[MAIN], help="over all envelopes")
    options = parser.parse_args()
    print(machine())
    names = [OURS] + [n for n in PEERS if n in (options.only or PEERS)]
    for name in [n for n in names if n in NEEDS and find_spec(NEEDS[n]) is None]:
        print(f"{name} is left out: {NEEDS[name]} is not installed (extra `peers`)")
        names.remove(name)
    panels = []
    with threadpool_limits(1):
        for name in options.fields:
            contest = main_field() if name == MAIN else listed_field(name, options.tables)
            seeds = options.main_seeds if name == MAIN else options.seeds
            evaluations = options.main_evaluations if name == MAIN else EVALUATIONS[name]
            curves = contested(contest, evaluations, seeds, names, options.optuna_seeds, options.curves)
            panels.append((name, marks_of(evaluations), {n: np.median(c, axis=0) for n, c in curves.items()}))
            if options.plot is not None:
                options.plot.write_text(drawn(panels, [OURS, *PEERS]))


if __name__ == "__main__":
    main()
