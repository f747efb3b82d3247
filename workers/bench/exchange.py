"""Two drivers and one exchange of archives: python -m workers.bench.exchange PROBLEM --evaluations N.

How one would go beyond one driver: searches with seeds of their own, each with workers of its own, that hand each other
what they know. Here two processes of half the budget each exchange once, half way, through files; against two that
never speak, and one search with the whole budget.
"""

import argparse
import pickle
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from synth.app.checking import closed_families, read_problem
from synth.app.running import goals_of
from synth.fronts.store import replace_file
from synth.problem.requirement import requirements
from synth.search.archive import share
from synth.search.evaluator import ProblemEvaluator, work
from synth.search.inherit import Moved, inherit
from synth.search.outcome import fronts
from synth.search.pool import InProcess, Pool
from synth.search.run import advance, search
from synth.search.settings import Settings
from synth.search.state import State, begin


def until(state: State, evaluator: ProblemEvaluator, pool: Pool, part: float) -> None:
    """Goes on until a part of the budget is spent."""
    whole = state.settings.evaluations * int(state.goals.open.sum())
    while not state.searched and state.spent.sum() < part * whole:
        advance(state, evaluator, pool)


def received(file: Path) -> State:
    """The other driver's state, once it is there."""
    while not file.exists():
        time.sleep(0.05)
    state: State = pickle.loads(file.read_bytes())
    return state


def drive(problem_file: Path, folder: Path, name: str, other: str, evaluations: int, seed: int) -> None:
    """One driver: half its budget, an exchange where there is another, the rest, its fronts verified; its last state
    lies in the folder."""
    problem = read_problem(problem_file)
    shut, _ = closed_families(problem)
    evaluator = ProblemEvaluator(problem, shut)
    settings = Settings.for_budget(evaluations, seed, len(problem.envelope))
    state = begin(evaluator, goals_of(problem), settings)
    with InProcess(work, problem) as pool:
        until(state, evaluator, pool, 0.5)
        if other:
            replace_file(folder / f"{name}.half", pickle.dumps(state))
            count = len(requirements(problem))
            begun = time.perf_counter()
            inherit(state, evaluator, received(folder / f"{other}.half"), Moved(np.ones(count), np.zeros(count)))
            size = (folder / f"{name}.half").stat().st_size
            print(f"  {name}: sent {size / 1e6:.1f} MB, waited and took over in {time.perf_counter() - begun:.1f} s")
        search(state, evaluator, pool)
    replace_file(folder / f"{name}.whole", pickle.dumps(state))


def volumes(states: list[State]) -> list[float]:
    """Share of each envelope's box that the verified fronts of all drivers together dominate."""
    goals, found = states[0].goals, []
    shown = [fronts(s) for s in states]
    for e in range(goals.count):
        points = [goals.normalised(e, c.objectives[e]) for rows in shown for c in rows[e]]
        found.append(share(np.stack(points)) if points else 0.0)
    return found


def measured(file: Path, names: list[tuple[str, str, int, int]]) -> tuple[list[float], float]:
    """Volumes and seconds of drivers (name, the one to exchange with, evaluations, seed) that run side by side."""
    with tempfile.TemporaryDirectory() as folder:
        begun = time.perf_counter()
        command = [sys.executable, "-m", "workers.bench.exchange", str(file), "--drive", folder]
        started = [subprocess.Popen([*command, *map(str, n)]) for n in names]
        if any(p.wait() for p in started):
            raise SystemExit("a driver failed")
        took = time.perf_counter() - begun
        return volumes([pickle.loads((Path(folder) / f"{n[0]}.whole").read_bytes()) for n in names]), took


def main() -> None:
    """Prints the share dominated in each envelope and the time, for each way."""
    reader = argparse.ArgumentParser(description=__doc__)
    reader.add_argument("problem", type=Path)
    reader.add_argument("--evaluations", type=int, default=2000, help="for each envelope, of both drivers together")
    reader.add_argument("--drive", nargs=5, help=argparse.SUPPRESS)
    asked = reader.parse_args()
    if asked.drive:
        folder, name, other, evaluations, seed = asked.drive
        drive(asked.problem, Path(folder), name, other, int(evaluations), int(seed))
        return
    half = asked.evaluations // 2
    for title, names in {
        "two drivers, one exchange": [("a", "b", half, 1), ("b", "a", half, 2)],
        "two drivers, none": [("a", "", half, 1), ("b", "", half, 2)],
        "one driver, whole budget": [("a", "", asked.evaluations, 1)],
        "one driver, half of it": [("a", "", half, 1)],
    }.items():
        found, took = measured(asked.problem, names)
        print(f"{title:28s} {took:6.1f} s  " + "  ".join(f"{v:.4f}" for v in found), flush=True)


if __name__ == "__main__":
    main()
