"""Two workers against one on a real problem: python -m workers.bench.speedup PROBLEM [--rounds N].

Works the tasks of the same search rounds (evaluations and verifications) in each pool, workers warm, several times in
turn, and compares the best times. The last column does not depend on who else uses the machine: the work's processor
time w (in process) and the driver's own d give 2 w / (w + d), what two cores can reach.
"""

import argparse
import os
import time
from pathlib import Path

from synth.app.checking import closed_families, read_problem
from synth.app.running import goals_of
from synth.search import rounds
from synth.search.evaluator import ProblemEvaluator, work
from synth.search.pool import InProcess, Pool
from synth.search.processes import LocalProcesses
from synth.search.run import worked
from synth.search.settings import Settings
from synth.search.state import begin
from synth.search.types import Task
from workers.ray_pool import RayPool


def recorded(file: Path, evaluations: int, most: int) -> list[list[Task]]:
    """Tasks of the first rounds of a search, by round."""
    problem = read_problem(file).with_search(evaluations, None)
    shut, _ = closed_families(problem)
    evaluator = ProblemEvaluator(problem, shut)
    state = begin(evaluator, goals_of(problem), Settings.for_budget(evaluations, 1, len(problem.envelope)))
    found: list[list[Task]] = []
    with InProcess(work, problem) as pool:
        for _ in range(most):
            sent = rounds.form(state, evaluator)
            found.append([s.task for s in sent])
            rounds.tell(state, sent, worked(state, pool, found[-1]))
    return found


def timed(pool: Pool, work_: list[list[Task]]) -> tuple[float, float]:
    """Seconds for all rounds, and processor seconds of this process meanwhile."""
    begun, spent = time.perf_counter(), time.process_time()
    for tasks in work_:
        pool.map(tasks)
    return time.perf_counter() - begun, time.process_time() - spent


def main() -> None:
    """Prints seconds and speedup for one and two local processes and for Ray with two workers."""
    reader = argparse.ArgumentParser(description=__doc__)
    reader.add_argument("problem", type=Path)
    reader.add_argument("--evaluations", type=int, default=20000)
    reader.add_argument("--rounds", type=int, default=6)
    reader.add_argument("--times", type=int, default=3)
    asked = reader.parse_args()
    tasks = recorded(asked.problem, asked.evaluations, asked.rounds)
    problem = read_problem(asked.problem)
    rows = sum(len(t.X) for r in tasks for t in r)
    print(f"{rows} rows in {sum(map(len, tasks))} tasks of {len(tasks)} rounds; load {os.getloadavg()[0]:.1f}")
    pools: dict[str, Pool] = {
        "in process": InProcess(work, problem),
        "1 local process": LocalProcesses(work, problem, 1),
        "2 local processes": LocalProcesses(work, problem, 2),
        "Ray, 2 workers": RayPool(work, problem, 2),
    }
    best: dict[str, float] = {}
    own: dict[str, float] = {}
    try:
        for pool in pools.values():
            timed(pool, tasks[:2])  # warm
        for _ in range(asked.times):
            for name, pool in pools.items():
                seconds, spent = timed(pool, tasks)
                best[name], own[name] = min(best.get(name, 1e9), seconds), min(own.get(name, 1e9), spent)
    finally:
        for pool in pools.values():
            pool.close()
    for name, seconds in best.items():
        gain = best["1 local process"] / seconds
        most = 2.0 * own["in process"] / (own["in process"] + own[name])
        told = f"driver {own[name]:6.2f} s, two cores can reach {most:4.2f}"
        print(f"{name:18s} {seconds:7.2f} s  {rows / seconds:6.0f} candidates/s  {gain:5.2f} times one process  {told}")
    print(f"load {os.getloadavg()[0]:.1f} on {os.cpu_count()} cores")


if __name__ == "__main__":
    main()
