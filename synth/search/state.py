"""Everything a search knows between two rounds: what a checkpoint holds and a resumed run starts from."""

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from synth.core.arrays import Bools, Floats, Ints
from synth.search.archive import Archive
from synth.search.breeding import Breeding
from synth.search.candidate import Candidate
from synth.search.correction import Correction
from synth.search.foresight import Foretold, Known
from synth.search.seen import Seen
from synth.search.settings import Settings
from synth.search.types import Evaluator, Goals

OPERATORS = ("breed", "step", "differ", "graft")
FRESH = "fresh"
"""Origin of rows of a first batch; not an operator that earns a share."""


@dataclass(eq=False)
class CellState:
    """One cell. open [E]: where it has a chance. breeding: a population for each such envelope.

    spent: rows put forward. gain, weight [E]: discounted hypervolume gain and rows behind it. idle: batches told
    since the last gain. told_rows: its latest rows; hopes: for each envelope, what is foretold of rows
    that were not put forward; traits, nominal: see Evaluator. best [E]: least predicted violation seen. passed,
    failed: verdicts. started, told: its first batch was formed, and answered. waiting [n, D]: rows known from elsewhere
    that are put forward before all else.
    """

    number: int
    cell: Any
    family: str
    names: tuple[str, ...]
    open: Bools
    parent: int
    cost: float
    breeding: dict[int, Breeding]
    gain: Floats
    weight: Floats
    best: Floats
    seen: Seen = field(default_factory=Seen)
    correction: Correction = field(default_factory=Correction)
    told_rows: Known = field(default_factory=Known)
    hopes: dict[int, Foretold] = field(default_factory=dict)
    traits: Floats = field(default_factory=lambda: np.zeros(0))
    nominal: Bools = field(default_factory=lambda: np.zeros(0, dtype=bool))
    spent: int = 0
    started: bool = False
    told: bool = False
    idle: int = 0
    passed: int = 0
    failed: int = 0
    exhausted: bool = False
    alive: bool = True
    cause: str = ""
    waiting: Floats = field(default_factory=lambda: np.zeros((0, 0)))

    def end(self, cause: str) -> None:
        """Takes the cell out of the search and lets go of what only a living one needs."""
        self.alive, self.cause = False, cause
        self.breeding, self.seen, self.told_rows = {}, Seen(), Known()
        self.hopes = {}


@dataclass(eq=False)
class State:
    """The whole search between two rounds.

    cells: every cell ever born, by number; known: their reprs; queue: starting cells not yet born, families in
    turn. archives, least: for each envelope, members and least violators. spent [E]: candidates put forward for
    each envelope. counts: (envelope, family) -> [evaluations, feasible]. verdicts: candidates that verification
    was tried on, by id; tried [E]: how many on behalf of each envelope. earned: operator -> [entrants, rows].
    history: (envelope, family or "all", evaluations, hypervolume). aside: (id, cell, row, reason) of candidates
    that crash whatever evaluates them. owed: for each envelope, verified candidates whose points the front shown
    must meet (the front of a tighter problem). stalled [E]: gets no more candidates. elapsed_s: spent so far, by this
    process and those before it; late: the time limit ended the search. nearest: (envelope, family) -> least violation
    by the cheap order, number of the requirement that fails most (-1: none told) and its margin, reason.
    lore: latest rows of each family. lacking [M + R]: see Evaluator.
    """

    settings: Settings
    goals: Goals
    rng: np.random.Generator
    queue: list[Any]
    archives: list[Archive]
    spent: Ints
    tried: Ints
    least: list[list[Candidate]]
    families: tuple[str, ...]
    cells: list[CellState] = field(default_factory=list)
    known: set[str] = field(default_factory=set)
    counts: dict[tuple[int, str], list[int]] = field(default_factory=dict)
    verdicts: dict[str, Candidate] = field(default_factory=dict)
    earned: dict[str, list[float]] = field(default_factory=dict)
    history: list[tuple[int, str, int, float]] = field(default_factory=list)
    aside: list[tuple[str, str, tuple[float, ...], str]] = field(default_factory=list)
    owed: dict[int, list[Candidate]] = field(default_factory=dict)
    stalled: Bools = field(default_factory=lambda: np.zeros(0, dtype=bool))
    elapsed_s: float = 0.0
    late: bool = False
    nearest: dict[tuple[int, str], tuple[float, int, float, str]] = field(default_factory=dict)
    lore: dict[str, Known] = field(default_factory=dict)
    lacking: Bools = field(default_factory=lambda: np.zeros(0, dtype=bool))
    rounds: int = 0
    passes: int = 0
    searched: bool = False
    done: bool = False

    @property
    def living(self) -> list[CellState]:
        return [c for c in self.cells if c.alive]

    def left(self) -> Ints:
        """[E] candidates that may still be put forward."""
        return np.where(self.goals.open & ~self.stalled, self.settings.evaluations - self.spent, 0)

    def holders(self, envelope: int) -> dict[int, int]:
        """Number of archive members by cell number."""
        found: dict[int, int] = {}
        for c in self.archives[envelope].members:
            found[c.cell] = found.get(c.cell, 0) + 1
        return found


def begin(evaluator: Evaluator, goals: Goals, settings: Settings) -> State:
    """The state before the first round."""
    cells = _in_turn(list(evaluator.cells()))
    count = goals.count
    state = State(
        settings=settings,
        goals=goals,
        rng=np.random.default_rng(np.random.SeedSequence([settings.seed, 0x5F])),
        queue=cells,
        archives=[Archive(e, settings.archive, goals.normalised) for e in range(count)],
        spent=np.zeros(count, dtype=np.int64),
        tried=np.zeros(count, dtype=np.int64),
        least=[[] for _ in range(count)],
        stalled=np.zeros(count, dtype=bool),
        families=tuple(sorted({c.family for c in cells})),
        earned={name: [1.0, 1.0] for name in OPERATORS},
        lacking=np.asarray(evaluator.lacking(), dtype=bool),
    )
    for archive in state.archives:
        archive.points = np.zeros((0, goals.ideal.shape[1]))
    return state


def _in_turn(cells: list[Any]) -> list[Any]:
    """Cells reordered so that families take turns, each in its own order; repeats dropped."""
    by_family: dict[str, list[Any]] = {}
    told: set[str] = set()
    for cell in cells:
        if repr(cell) not in told:
            told.add(repr(cell))
            by_family.setdefault(cell.family, []).append(cell)
    ordered: list[Any] = []
    depth = max((len(v) for v in by_family.values()), default=0)
    for k in range(depth):
        ordered += [by_family[f][k] for f in sorted(by_family) if k < len(by_family[f])]
    return ordered
