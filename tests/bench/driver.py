"""Cost of the driver: seconds of ask, tell, archive and history for each candidate, evaluation excluded.

Run: python -m tests.bench.driver. Prints a row a number of objectives, and the speed-up of local workers at a given
time an evaluated candidate.
"""

import argparse
import time

import numpy as np

from synth.search.pool import InProcess
from synth.search.processes import pool_of
from synth.search.run import search
from synth.search.settings import Settings
from synth.search.state import begin
from synth.search.types import Scores, Task
from tests.search.bowl import COLUMNS, Bowl, BowlEvaluator, work
from tests.search.toys import ToyCell


def driver_cost(objectives: int, evaluations: int) -> float:
    """CPU seconds of the driver for each candidate put forward."""
    bowl, inside = Bowl(objectives), [0.0]

    def timed(problem: Bowl, task: Task) -> Scores:
        begun = time.process_time()
        scores = work(problem, task)
        inside[0] += time.process_time() - begun
        return scores

    state = begin(BowlEvaluator(objectives), bowl.goals, Settings.for_budget(evaluations, 1, 3))
    with InProcess(timed, bowl) as pool:
        begun = time.process_time()
        search(state, BowlEvaluator(objectives), pool)
        spent = time.process_time() - begun
    return (spent - inside[0]) / int(state.spent.sum())


def speed(workers: int, evaluations: int, delay_s: float) -> float:
    """Wall seconds of a run whose candidates take delay_s each."""
    bowl = Bowl(3, delay_s)
    state = begin(BowlEvaluator(3), bowl.goals, Settings.for_budget(evaluations, 1, 3, verifications=1))
    pool = pool_of(workers, work, bowl)
    try:
        pool.map([Task(ToyCell("fan", 2), np.full((1, COLUMNS), 0.5))] * 8)
        begun = time.perf_counter()
        search(state, BowlEvaluator(3), pool)
        return time.perf_counter() - begun
    finally:
        pool.close()


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--evaluations", type=int, default=4000, help="for each of three envelopes")
    parser.add_argument("--milliseconds", type=float, default=3.0, help="time an evaluated candidate takes")
    options = parser.parse_args()
    print(f"driver, {options.evaluations} evaluations for each of 3 envelopes, {COLUMNS} columns")
    print("objectives   ms a candidate   share of a run at", options.milliseconds, "ms")
    for objectives in (1, 2, 3, 4, 5):
        cost = 1e3 * driver_cost(objectives, options.evaluations)
        print(f"{objectives:10d}   {cost:14.3f}   {cost / (cost + options.milliseconds):.1%}")
    times = {n: speed(n, options.evaluations // 4, 1e-3 * options.milliseconds) for n in (0, 1, 2, 4)}
    print("workers      seconds   speed-up (candidates that sleep, so that cores do not limit)")
    for n, seconds in times.items():
        print(f"{n:7d}   {seconds:10.2f}   {times[0] / seconds:.2f}")


if __name__ == "__main__":
    main()
