"""How many designs, picked at random, have a path whose proof holds: python -m tests.bench.shares [DESIGNS] [FILE].

For each family: rows spread evenly over its starting cells, all variables at random within their ranges; those whose
layout is refused are not asked. Of the rest the first DESIGNS
(default 24) are proven, with all hardware. Prints a table.
"""

import sys
from collections import Counter
from pathlib import Path

import numpy as np

from synth.cell import Cell, first_cells, space, vocabulary
from synth.evaluate import family_of, lay_out
from synth.families import families
from synth.fold.interference import Clearance, prove
from synth.fold.route import course_of, motion_of
from synth.problem import Problem, loads
from synth.verify import less, room_for_films

FILE = Path(__file__).parents[2] / "problems" / "river_ice.toml"
ROWS = 200


def found_at(problem: Problem, cell: Cell, row: np.ndarray) -> Clearance:
    """The verdict of the proof on one row, as verification tells it."""
    columns = space(problem, cell).columns(row)
    laid, _, build = lay_out(problem, cell, columns)
    design = laid.one(0)
    motion = motion_of(family_of(cell, columns), build, design)
    found = less(prove(design, course=course_of(design, motion)), motion.between)
    return room_for_films(found, problem.film.film_thickness) if motion.slack else found


def sampled(problem: Problem, family: str, count: int) -> tuple[int, int, Counter[str]]:
    """Designs proven, of how many, and what meets in the others."""
    rng, cells = np.random.default_rng(1), first_cells(problem, family)
    asked, clear, reasons = 0, 0, Counter[str]()
    for k, cell in enumerate(cells):
        share = count * (k + 1) // len(cells) - count * k // len(cells)
        rows = rng.random((ROWS, space(problem, cell).size))
        with np.errstate(all="ignore"):
            fine = np.flatnonzero(lay_out(problem, cell, space(problem, cell).columns(rows))[0].status.ok)[:share]
            for row in fine:
                found = found_at(problem, cell, rows[row : row + 1])
                asked, clear = asked + 1, clear + found.clear
                if not found.clear:
                    reasons[" ".join(w for w in found.reason.split(" at s")[0].split() if not w[0].isdigit())] += 1
    return clear, asked, reasons


def main(count: int = 24, file: str = str(FILE)) -> None:
    problem = loads(Path(file).read_bytes(), Path(file).name, vocabulary())
    print(f"| family | proven | of | what meets in the others ({Path(file).stem}) |\n| --- | --- | --- | --- |")
    for family in sorted(families()):
        clear, asked, reasons = sampled(problem, family, int(count))
        print(f"| {family} | {clear} | {asked} | {'; '.join(r for r, _ in reasons.most_common(2))} |", flush=True)


if __name__ == "__main__":
    main(*sys.argv[1:3])  # type: ignore[arg-type]
