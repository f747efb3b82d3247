"""Rows to put forward next in a cell: children of its population, steps around what the archive holds, rows from
anywhere; of many such those that the rows already known foretell most of."""

import numpy as np

from synth.core.arrays import Floats
from synth.search.outlook import Outlook, promising
from synth.search.spread import spread, step
from synth.search.state import FRESH, OPERATORS, CellState, State
from synth.search.types import Evaluator

FLOOR = 0.1
"""Least share of the rows for an operator that can be used."""
MANY, WIDE, WIDER = 6, 4, 20
"""Rows that the operators make, and rows drawn anywhere, for each that is put forward; the latter in a bold batch."""
BOLD = 40
"""A batch is bold with a chance of so many over the rows that the cell has got: what is least known may lie far off."""
ATTEMPTS = 3
ANYWHERE = 1024
"""Random rows tried before a cell counts as exhausted."""
Donor = tuple[tuple[str, ...], Floats]
"""Column names of another cell and a row of it."""


def differ(elites: Floats, others: Floats, rows: int, rng: np.random.Generator) -> Floats:
    """Elites moved by a share of the difference of two others in most columns (differential evolution); walls hold."""
    base = elites[rng.integers(len(elites), size=rows)]
    first = rng.integers(len(others), size=rows)
    second = (first + 1 + rng.integers(max(len(others) - 1, 1), size=rows)) % len(others)
    a, b = others[first], others[second]
    moved = rng.random(base.shape) < 0.7
    return np.asarray(np.clip(base + moved * rng.uniform(0.3, 0.9, (rows, 1)) * (a - b), 0.0, 1.0))


def graft(base: Floats, names: tuple[str, ...], donors: list[Donor], rng: np.random.Generator) -> Floats:
    """Rows of this cell with the columns of donors of other cells put in where the names match (most of them)."""
    grafted = base.copy()
    place = {name: k for k, name in enumerate(names)}
    chosen, taken = rng.integers(len(donors), size=len(base)), rng.random(base.shape) < 0.8
    for number in np.unique(chosen):
        donor_names, x = donors[int(number)]
        here = [k for k, name in enumerate(donor_names) if name in place]
        there = [place[donor_names[k]] for k in here]
        rows = np.flatnonzero(chosen == number)[:, None]
        grafted[rows, there] = np.where(taken[rows, there], x[here], grafted[rows, there])
    jitter = (rng.random(grafted.shape) < 0.3) * 0.02 * rng.standard_normal(grafted.shape)
    return np.asarray(np.clip(grafted + jitter, 0.0, 1.0))


def members_of(state: State, envelope: int, cell: CellState) -> Floats:
    """[k, D] rows of archive members of the cell: of this envelope, and of the others where it has fewer than three."""
    rows = [c.x for c in state.archives[envelope].members if c.cell == cell.number]
    if len(rows) < 3:
        rows += [c.x for a in state.archives if a.envelope != envelope for c in a.members if c.cell == cell.number]
    return np.stack(rows) if rows else np.zeros((0, len(cell.names)))


def donors_for(state: State, envelope: int, cell: CellState) -> list[Donor]:
    """Members of other cells of the family that share columns with this one; of any family where there are none."""

    def donors(same: bool) -> list[Donor]:
        found = []
        for c in state.archives[envelope].members:
            other = state.cells[c.cell]
            if other is not cell and (other.family == cell.family) == same and set(other.names) & set(cell.names):
                found.append((other.names, c.x))
        return found

    return donors(True) or donors(False)


def first_batch(state: State, evaluator: Evaluator, cell: CellState, rows: int) -> tuple[Floats, list[str]]:
    """The first rows of a cell: a spread over its box, half of it grafted with its parent's (or others') members."""
    rng = state.rng
    X = spread(rows, len(cell.names), rng)
    donors: list[Donor] = []
    if cell.parent >= 0:
        parent = state.cells[cell.parent]
        held = [c for a in state.archives for c in a.members if c.cell == parent.number]
        donors = [(parent.names, c.x) for c in held]
    if not donors:
        donors = [d for a in state.archives for d in donors_for(state, a.envelope, cell)]
    if donors:
        half = rows // 2
        X[:half] = graft(X[:half], cell.names, donors, rng)
    X = evaluator.snap(cell.cell, X)
    X = X[cell.seen.fresh(X)]
    return X, [FRESH] * len(X)


def waiting_rows(evaluator: Evaluator, cell: CellState, rows: int) -> tuple[Floats, list[str]]:
    """Up to `rows` of the rows that wait in a cell."""
    X = evaluator.snap(cell.cell, cell.waiting[:rows])
    cell.waiting = cell.waiting[rows:]
    X = X[cell.seen.fresh(X)]
    return X, [FRESH] * len(X)


def propose(
    outlook: Outlook, evaluator: Evaluator, envelope: int, cell: CellState, rows: int
) -> tuple[Floats, list[str]]:
    """Up to `rows` new rows for a started cell and the operator that made each; none where nothing new was found."""
    state, rng = outlook.state, outlook.state.rng
    elites = members_of(state, envelope, cell)
    breeding = cell.breeding[envelope]
    breeding.settle()
    donors = donors_for(state, envelope, cell)
    if not len(elites):
        elites = breeding.X[breeding.violation <= 0.0]
    usable = ["breed"] + (["step", "differ"] if len(elites) else []) + (["graft"] if donors else [])
    found, origins = np.zeros((0, len(cell.names))), list[str]()
    bold = float(rng.random()) * cell.spent < BOLD
    for _ in range(ATTEMPTS):
        missing = rows - len(found)
        if missing <= 0:
            return found, origins
        made, names = [], list[str]()
        for name, count in _shares(state, usable, missing * MANY).items():
            if name == "breed":
                X = breeding.ask(-(-count // 3), rng)  # the costliest to make
            elif name == "step":
                X = step(elites, count, rng)
            elif name == "differ":
                X = differ(elites, np.concatenate([elites, breeding.X]), count, rng)
            else:
                X = graft(breeding.X[rng.integers(len(breeding.X), size=count)], cell.names, donors, rng)
            made.append(X)
            names += [name] * len(X)
        made.append(rng.random(((WIDER if bold else WIDE) * missing, len(cell.names))))
        names += [FRESH] * len(made[-1])
        X = evaluator.snap(cell.cell, np.concatenate(made))
        X, names = promising(outlook, evaluator, envelope, cell, X, names, missing, bold)
        new = cell.seen.fresh(X, missing)
        found, origins = np.concatenate([found, X[new]]), origins + [names[int(k)] for k in new]
    # what surrounds the known good is used up: look anywhere
    X = evaluator.snap(cell.cell, rng.random((ANYWHERE, len(cell.names))))
    new = cell.seen.fresh(X, rows - len(found))
    return np.concatenate([found, X[new]]), origins + [FRESH] * len(new)


def _shares(state: State, usable: list[str], rows: int) -> dict[str, int]:
    """Rows by operator: in proportion to what each lately earned, none below the floor; whole numbers, exact sum."""
    rates = np.array([state.earned[k][0] / state.earned[k][1] for k in usable])
    shares = np.maximum(rates / rates.sum(), FLOOR)
    exact = rows * shares / shares.sum()
    counts = np.floor(exact).astype(int)
    for k in np.argsort(-(exact - counts), kind="stable")[: rows - int(counts.sum())]:
        counts[k] += 1
    return {name: int(n) for name, n in zip(usable, counts, strict=True) if n}


def credit(state: State, origins: list[str], entered: list[bool]) -> None:
    """Notes which operators' rows entered an archive; older notes fade by half in about 70 batches."""
    for name in OPERATORS:
        rows = origins.count(name)
        if rows:
            won = sum(e for o, e in zip(origins, entered, strict=True) if o == name)
            kept = state.earned[name]
            state.earned[name] = [0.99 * kept[0] + won + 0.01, 0.99 * kept[1] + rows]
