"""Memory of a long run: python -m workers.bench.memory PROBLEM --evaluations N [--every N].

Runs the search of a problem in this process and prints evaluations spent and resident memory as it goes.
"""

import argparse
import time
from pathlib import Path

from synth.app.checking import closed_families, read_problem
from synth.app.running import goals_of
from synth.search.evaluator import ProblemEvaluator, work
from synth.search.pool import InProcess
from synth.search.run import advance
from synth.search.settings import Settings
from synth.search.state import begin


def resident_mb() -> float:
    """Resident memory of this process."""
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    return pages * 4096 / 1e6


def main() -> None:
    """Prints a line every so many evaluations."""
    reader = argparse.ArgumentParser(description=__doc__)
    reader.add_argument("problem", type=Path)
    reader.add_argument("--evaluations", type=int, default=200_000, help="of all envelopes together")
    reader.add_argument("--every", type=int, default=10_000)
    reader.add_argument("--seconds", type=float, default=1e9, help="stop after so long")
    asked = reader.parse_args()
    problem = read_problem(asked.problem)
    shut, _ = closed_families(problem)
    evaluator, goals = ProblemEvaluator(problem, shut), goals_of(problem)
    each = asked.evaluations // max(int(goals.open.sum()), 1)
    state = begin(evaluator, goals, Settings.for_budget(each, 1, len(problem.envelope)))
    begun, due = time.monotonic(), asked.every
    print("evaluations  resident MB  seconds")
    with InProcess(work, problem) as pool:
        while not state.searched and time.monotonic() - begun < asked.seconds:
            advance(state, evaluator, pool)
            spent = int(state.spent.sum())
            if spent >= due:
                print(f"{spent:11d}  {resident_mb():11.0f}  {time.monotonic() - begun:7.0f}", flush=True)
                due += asked.every


if __name__ == "__main__":
    main()
