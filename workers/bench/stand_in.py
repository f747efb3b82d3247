"""Work that only takes time: a module of its own, since workers find a work function by its module."""

import time

import numpy as np

from synth.search.types import Scores, Task


def sleeping(problem: float, task: Task) -> Scores:
    """Takes `problem` seconds a row; answers as of three envelopes, three objectives and twelve requirements."""
    rows = len(task.X)
    time.sleep(problem * rows)
    objectives, violation = np.zeros((rows, 3, 3)), np.zeros((rows, 3))
    return Scores(objectives, violation, np.full(rows, "", dtype=object), np.zeros((rows, 3, 12)))
