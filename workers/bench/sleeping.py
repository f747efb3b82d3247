"""Throughput with evaluation simulated as sleep: python -m workers.bench.sleeping [--workers 1 2 ... 64].

Workers that sleep need no core, so that one machine can stand for many: what is measured is the driver and Ray.
"""

import argparse
import time

import numpy as np

from synth.search.pool import Pool
from synth.search.processes import LocalProcesses
from synth.search.types import Task
from workers.bench.stand_in import sleeping
from workers.ray_pool import RayPool

ROWS, EACH_S = 24, 0.003


def rate(pool: Pool, tasks: int, rows: int) -> float:
    """Candidates a second over `tasks` tasks, workers warm."""
    batch = [Task("cell", np.zeros((rows, 12)), cost=float(rows)) for _ in range(tasks)]
    pool.map(batch[: min(tasks, 128)])
    begun = time.perf_counter()
    pool.map(batch)
    return tasks * rows / (time.perf_counter() - begun)


def main() -> None:
    """Prints a line a number of workers: ideal and measured candidates a second, and the share reached."""
    reader = argparse.ArgumentParser(description=__doc__)
    reader.add_argument("--workers", type=int, nargs="*", default=[1, 2, 4, 8, 16, 32, 64])
    reader.add_argument("--seconds", type=float, default=EACH_S, help="sleep a row")
    reader.add_argument("--rows", type=int, default=ROWS, help="rows a task")
    reader.add_argument("--local", action="store_true", help="local processes instead of Ray")
    asked = reader.parse_args()
    print("workers  ideal/s  measured/s  share")
    for count in asked.workers:
        pool: Pool
        if asked.local:
            pool = LocalProcesses(sleeping, asked.seconds, count)
        else:
            pool = RayPool(sleeping, asked.seconds, count)
        try:
            found = rate(pool, max(24 * count, 128), asked.rows)
        finally:
            pool.close()
        ideal = count / max(asked.seconds, 1e-9)
        print(f"{count:7d}  {ideal:7.0f}  {found:10.0f}  {found / ideal:5.2f}", flush=True)


if __name__ == "__main__":
    main()
