"""Two problems whose every design was worked out once, and what came of it, stored beside this file.

Run: python -m tests.references.truths NAME [--table FILE]. Works all designs of a problem out (some minutes), writes
truth_NAME.json, and with --table every figure of every design for the benchmark of the search. To be run again
whenever a model changes what the search sees; test_truths.py tells.

The figures are the cheap ones that steer a search (no path proof), for listing and search alike.
"""

import argparse
import json
import platform
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

import numpy as np
import scipy

from synth.app.running import goals_of
from synth.cell import Cell
from synth.core.arrays import Bools, Floats, Ints
from synth.fronts.indicators import hypervolume_share, nondominated
from synth.search.types import Task
from tests.references.grid import Grid, cheap
from tests.samples import problem

CHUNK = 1024
SAMPLES = 48
"""Designs stored beside the front, to be checked one by one."""


def three_families() -> Grid:
    """Accordions, a double corrugation and wings of at most four panels in two nested boxes."""
    asked = problem(
        aperture={"clear_diameter": "600 mm", "min_collecting_area": "0.17 m^2", "max_panel_length": "620 mm"},
        envelope=[
            {"name": "slot", "size": ["560 mm", "240 mm", "60 mm"]},
            {"name": "crate", "size": ["600 mm", "320 mm", "80 mm"]},
        ],
        mass={"limit": "3 kg"},
        accuracy={"surface_rms_limit": "60 um", "in_plane_rms_limit": "200 um", "blur_limit": "800 urad"},
        structure={"deployed_first_mode_min": "2 Hz", "stowed_first_mode_min": "40 Hz", "launch_load_g": 10.0},
        search={"objectives": ["stowed_volume", "surface_rms", "collecting_area"]},
        choices={
            "families": ["accordion", "miura", "wing"],
            "max_panels": 4,
            "panel_materials": ["al_6061_t6", "cfrp_qi_m55j"],
            "hinge_kinds": ["pin_bearing", "tape_becu"],
            "variables": {
                "build.thickness": ["3 mm", "16 mm"],
                "build.edge_gap": ["4 mm", "12 mm"],
                "build.face_share": 0.1,
                "build.latches": "none",
                "build.pairs": 1,
                "build.passing": "gap",
            },
        },
    )
    two = {"accordion.cover": 4, "accordion.reach": 4}
    three = dict.fromkeys(("miura.sector", "miura.cover", "miura.reach", "wing.strip", "wing.cover", "wing.reach"), 5)
    return Grid(asked, {"build.thickness": 10, "build.edge_gap": 2, **two, **three})


def one_family() -> Grid:
    """Wings of three sandwich panels folded in three ways, on a fine grid of six real variables, in one box."""
    asked = problem(
        aperture={"clear_diameter": "700 mm", "min_collecting_area": "0.2 m^2", "max_panel_length": "700 mm"},
        envelope=[{"name": "tray", "size": ["660 mm", "320 mm", "90 mm"]}],
        mass={"limit": "4 kg"},
        accuracy={"surface_rms_limit": "40 um", "in_plane_rms_limit": "200 um", "blur_limit": "800 urad"},
        structure={"deployed_first_mode_min": "2 Hz", "stowed_first_mode_min": "60 Hz", "launch_load_g": 12.0},
        search={"objectives": ["stowed_volume", "mass", "surface_rms"]},
        choices={
            "families": ["wing"],
            "max_panels": 3,
            "panel_materials": ["al_6061_t6", "cfrp_qi_m55j"],
            "hinge_kinds": ["pin_bearing"],
            "variables": {
                "build.thickness": ["4 mm", "24 mm"],
                "build.edge_gap": ["3 mm", "16 mm"],
                "build.face_share": [0.02, 0.12],
                "build.section": "sandwich",
                "build.latches": "none",
                "build.pairs": 1,
                "build.passing": "gap",
            },
        },
    )
    levels = {"wing.strip": 5, "wing.cover": 4, "wing.reach": 4, "build.edge_gap": 3, "build.face_share": 4}
    return Grid(asked, {"build.thickness": 10, **levels})


GRIDS: dict[str, Callable[[], Grid]] = {"three_families": three_families, "one_family": one_family}


@dataclass(frozen=True, eq=False)
class Listed:
    """Figures of every design of a grid: cells in order, objectives [N, E, M], violation [N, E], margins
    [N, E, R]; first [n]: the number of a cell's first design."""

    grid: Grid
    cells: list[Cell]
    objectives: Floats
    violation: Floats
    margins: Floats

    @cached_property
    def first(self) -> Ints:
        sizes = [int(np.prod(self.grid.counts(c))) for c in self.cells]
        return np.concatenate([[0], np.cumsum(sizes)])[:-1].astype(np.int64)

    @cached_property
    def order(self) -> dict[Cell, int]:
        return {c: k for k, c in enumerate(self.cells)}

    def numbers(self, cell: Cell, X: Floats) -> Ints:
        """[n] numbers of the designs that rows of a cell stand for."""
        place = self.grid.places(cell, X).astype(np.int64)
        within = np.ravel_multi_index(tuple(place.T), self.grid.counts(cell))
        return np.asarray(self.first[self.order[cell]] + within)

    def save(self, table: Path) -> None:
        """Writes every figure of every design."""
        np.savez_compressed(table, objectives=self.objectives, violation=self.violation, margins=self.margins)

    def best(self, envelope: int) -> Ints:
        """Numbers of the feasible designs that nothing dominates, one of each that are equal."""
        feasible = np.flatnonzero(self.violation[:, envelope] <= 0.0)
        found: Bools = np.asarray(nondominated(self.objectives[feasible, envelope]))
        return feasible[found]


def listed(grid: Grid, told: Callable[[str], None] = lambda _: None) -> Listed:
    """Works out every design."""
    objectives, violation, margins, cells = [], [], [], grid.cells()
    for cell in cells:
        X = grid.rows(cell)
        for start in range(0, len(X), CHUNK):
            scores = cheap(grid.problem, Task(cell, X[start : start + CHUNK], "evaluate"))
            objectives.append(scores.objectives)
            violation.append(scores.violation)
            assert scores.margins is not None
            margins.append(scores.margins)
        told(f"{cell.label}: {len(X)}")
    return Listed(grid, cells, *(np.concatenate(parts) for parts in (objectives, violation, margins)))


def loaded(grid: Grid, table: Path) -> Listed:
    """What `--table` wrote."""
    with np.load(table) as kept:
        return Listed(grid, grid.cells(), kept["objectives"], kept["violation"], kept["margins"])


def truth_of(full: Listed) -> dict[str, Any]:
    """What is kept of a listing: the fronts with their hypervolumes, and some designs picked at random."""
    goals = goals_of(full.grid.problem)
    fronts = []
    for e, name in enumerate(goals.names):
        rows = full.best(e)
        share = hypervolume_share(full.objectives[rows, e], goals.ideal[e], goals.reference[e])
        points = full.objectives[rows, e].tolist()
        feasible = int((full.violation[:, e] <= 0.0).sum())
        fronts.append(
            {"envelope": name, "feasible": feasible, "hypervolume": share, "designs": rows.tolist(), "points": points}
        )
    picked = np.sort(np.random.default_rng(20).choice(len(full.objectives), SAMPLES, replace=False))
    return {
        "made_by": "python -m tests.references.truths",
        "figures": "the cheap ones that steer a search, no path proof",
        "with": {"python": platform.python_version(), "numpy": np.__version__, "scipy": scipy.__version__},
        "cells": len(full.cells),
        "designs": len(full.objectives),
        "fronts": fronts,
        "samples": {
            "designs": picked.tolist(),
            "objectives": full.objectives[picked].tolist(),
            "violation": full.violation[picked].tolist(),
        },
    }


def path(name: str) -> Path:
    return Path(__file__).with_name(f"truth_{name}.json")


def stored(name: str) -> dict[str, Any]:
    found: dict[str, Any] = json.loads(path(name).read_text())
    return found


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("name", choices=sorted(GRIDS))
    parser.add_argument("--table", type=Path, help="file for the figures of all designs (.npz)")
    options = parser.parse_args()
    full = listed(GRIDS[options.name](), lambda line: print(line, flush=True))
    path(options.name).write_text(json.dumps(truth_of(full), indent=1) + "\n")
    if options.table is not None:
        full.save(options.table)
    print(f"{len(full.objectives)} designs; hypervolumes {[f['hypervolume'] for f in truth_of(full)['fronts']]}")


if __name__ == "__main__":
    main()
