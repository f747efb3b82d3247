"""How a search spends its budget. Everything here follows from the problem, never from the machine."""

from dataclasses import dataclass, replace

import numpy as np


@dataclass(frozen=True)
class Settings:
    """evaluations: for each envelope. batch: rows of a task. tasks: evaluation tasks of a round (a round is formed
    before any of it is told, so this is also the parallelism that can be used). first: most rows of a cell's first
    batch. population: of each (envelope, cell). archive: members kept in each envelope while searching; front: of
    these, the most that are verified and shown in the end. verifications: for each envelope, over the run;
    early_share of them may be spent in the `passes` passes before the end. live: cells alive at once.
    patience: batches without gain after which a cell that holds no front member dies. stall_gain,
    stall_window: an envelope gets no more candidates where its last so many raised the hypervolume by no more (0: never
    so). time_limit_s: of search and final verification together (0: none).
    """

    evaluations: int
    seed: int
    batch: int
    tasks: int
    live: int
    population: int = 24
    archive: int = 300
    front: int = 64
    verifications: int = 160
    early_share: float = 0.3
    passes: int = 6
    patience: int = 6
    explore: float = 0.1
    first: int = 8
    failures: int = 6
    stall_gain: float = 0.0
    stall_window: int = 0
    time_limit_s: float = 0.0

    @staticmethod
    def for_budget(evaluations: int, seed: int, envelopes: int, **other: int | float) -> "Settings":
        """Numbers that suit a budget: about 100 rounds, batches of 4 to 40 rows, a verification for twelve evaluations,
        beyond sixty one for thirty (160 at most: one costs as much as a hundred and more evaluations)."""
        total = max(evaluations * envelopes, 1)
        # where there is plenty, larger batches: they cost less a row, for evaluation and driver alike
        batch = int(np.clip(total // 150, 4, np.clip(total // 750, 24, 40)))
        tasks = int(np.clip(round(total / (100.0 * batch)), 6, 64))
        live = int(np.clip(total // 25, 4, 64))
        # a small budget is not spent on verifying near twins
        verifications = int(np.clip(min(evaluations // 12, max(60, evaluations // 30)), 24, 160))
        values: dict[str, int | float] = {
            "batch": batch,
            "tasks": tasks,
            "live": live,
            # there are many cells: a small budget tries more of them by fewer rows
            "first": int(np.clip(evaluations // 80, 4, 8)),
            "verifications": verifications,
            "front": max(verifications * 3 // 4, 1),
            **other,
        }
        return Settings(evaluations=evaluations, seed=seed, **values)  # type: ignore[arg-type]

    def stopping(self, stall_gain: float, stall_window: int, time_limit_s: float) -> "Settings":
        """The same, and when to stop before the budget is spent; zeros for never."""
        return replace(self, stall_gain=stall_gain, stall_window=stall_window, time_limit_s=time_limit_s)
