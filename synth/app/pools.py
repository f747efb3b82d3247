"""Where a run's tasks are worked: this process, local processes, a private Ray cluster or an existing one."""

import os
from collections.abc import Iterator
from contextlib import contextmanager

from synth.problem.problem import Problem
from synth.search.evaluator import work
from synth.search.pool import InProcess, Pool
from synth.search.processes import LocalProcesses

PRIVATE = "local"
"""Value of --ray for a private cluster on this machine."""
EITHER = "auto"
"""Value of --ray without an address: the cluster of RAY_ADDRESS, or a private one where that is not set."""


def cluster(workers: int | None, ray: str | None) -> str | None:
    """Which Ray: an address, PRIVATE, or None for no Ray at all.

    RAY_ADDRESS alone asks for its cluster too, unless a number of local workers is given.
    """
    known = os.environ.get("RAY_ADDRESS") or None
    if ray is None:
        return known if workers is None else None
    return (known or PRIVATE) if ray == EITHER else ray


@contextmanager
def pool_for(problem: Problem, workers: int | None, ray: str | None = None) -> Iterator[Pool]:
    """A pool for a run; workers: how many at once (by default one a core, or all that a cluster has), 0: this process.

    Raises PoolFailed where a cluster cannot be used, InputError where its address or authentication is wrong.
    """
    where, cores = cluster(workers, ray), len(os.sched_getaffinity(0))
    pool: Pool
    if where is not None:
        from workers.ray_pool import RayPool  # Ray takes seconds to start: only where it is asked for

        private = where == PRIVATE
        pool = RayPool(work, problem, workers or (cores if private else None), None if private else where)
    elif workers == 0:
        pool = InProcess(work, problem)
    else:
        pool = LocalProcesses(work, problem, workers or cores)
    try:
        yield pool
    finally:
        pool.close()
