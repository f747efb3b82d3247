"""How long a thing takes."""

import time
from collections.abc import Callable


def seconds(run: Callable[[], object], repeats: int) -> float:
    """Least processor time of several runs, so that a busy machine counts little."""
    taken = []
    for _ in range(repeats):
        start = time.process_time()
        run()
        taken.append(time.process_time() - start)
    return min(taken)
