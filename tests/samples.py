"""Problems and cells that the tests of the whole pipeline share."""

from functools import cache
from typing import Any

import numpy as np

from synth.cell import Cell, first_cells, space, vocabulary
from synth.core.arrays import Floats
from synth.evaluate import evaluate, lay_out
from synth.families import families
from synth.problem import Problem, loads
from synth.problem.toml_text import toml_text
from synth.search.evaluator import work
from synth.search.types import Scores, Task

ROOMY: dict[str, Any] = {
    "schema": "problem/1",
    "title": "Room, mass and error to spare, so that nothing is screened out",
    "aperture": {
        "clear_diameter": "850 mm",
        "min_collecting_area": "0.05 m^2",
        "wavelength": "1064 nm",
        "focal_ratio": 2.4,
        "field_of_view": "400 urad",
        "min_panel_width": "5 mm",
        "max_panel_length": "3 m",
    },
    "envelope": [
        {"name": "box", "size": ["2 m", "1.6 m", "1.2 m"], "clearance": "5 mm"},
        {"name": "can", "diameter": "2.2 m", "height": "1.4 m"},
    ],
    "mass": {"limit": "900 kg"},
    "accuracy": {
        "surface_rms_limit": "5 mm",
        "in_plane_rms_limit": "5 mm",
        "blur_limit": "50 mrad",
        "refocus": True,
    },
    "environment": {
        "bulk_temperature_change": "20 K",
        "through_thickness_difference": "1 K",
        "gravity_offload": 0.98,
    },
    "structure": {
        "deployed_first_mode_min": "0.01 Hz",
        "stowed_first_mode_min": "0.1 Hz",
        "launch_load_g": 1.0,
        "panel_gap": "0.5 mm",
        "edge_gap": "1 mm",
    },
    "choices": {"max_panels": 61},
    "search": {"objectives": ["stowed_volume", "mass", "surface_rms"], "evaluations": 300, "seed": 1},
}
"""A mapping of the problem file's fields; sections of it are changed by `problem`."""

TIGHT: dict[str, dict[str, Any]] = {
    "aperture": {"min_collecting_area": "0.40 m^2", "min_panel_width": "45 mm", "max_panel_length": "900 mm"},
    "mass": {"limit": "12 kg"},
    "accuracy": {"surface_rms_limit": "20 um", "in_plane_rms_limit": "60 um", "blur_limit": "200 urad"},
    "structure": {"deployed_first_mode_min": "2 Hz", "stowed_first_mode_min": "80 Hz", "launch_load_g": 15.0},
}
"""What turns the roomy problem into one whose requirements bind."""
TIGHT_ENVELOPES = [
    {"name": "bay", "size": ["226 mm", "226 mm", "366 mm"], "clearance": "5 mm"},
    {"name": "locker", "size": ["620 mm", "460 mm", "300 mm"], "clearance": "5 mm"},
    {"name": "can", "diameter": "500 mm", "height": "320 mm"},
]


def text(**sections: Any) -> str:
    """The roomy problem as a file; a mapping changes fields of a section, anything else replaces it."""
    data = dict(ROOMY)
    for name, fields in sections.items():
        data[name] = {**data.get(name, {}), **fields} if isinstance(fields, dict) else fields
    return toml_text(data)


def problem(**sections: Any) -> Problem:
    return loads(text(**sections).encode(), "sample.toml", vocabulary())


def tight() -> Problem:
    return problem(**TIGHT, envelope=TIGHT_ENVELOPES)


def cells(asked: Problem, family: str, count: int, most_panels: int) -> list[Cell]:
    """About so many first cells of a family, evenly picked among those with no more panels than that.

    A family that has none so small gives its smallest.
    """
    kind = families()[family]
    every = first_cells(asked, family)
    most_panels = max(most_panels, min((kind.panel_count(dict(c.fixed)) for c in every), default=0))
    found = [c for c in every if kind.panel_count(dict(c.fixed)) <= most_panels]
    return found[:: max(1, -(-len(found) // count))]


def rows(asked: Problem, cell: Cell, count: int, seed: int = 5) -> Floats:
    """Points of the cell's unit cube: its two extreme corners first, then random ones.

    Every second one is a panel that a shop can build: thick and solid, with a gap of middling width.
    """
    names = [axis.name for axis in space(asked, cell).axes]
    X = np.random.default_rng(seed).random((count, len(names)))
    for name, low, high in SOUND:
        k = names.index(name)
        X[::2, k] = low + (high - low) * X[::2, k]
    X[:1], X[1:2] = 0.0, 1.0
    return X


def sound_cell(asked: Problem, family: str, most_panels: int, count: int) -> Cell:
    """The one of a few small cells most of whose `rows` of that count are designs."""

    def designs(cell: Cell) -> int:
        found = lay_out(asked, cell, space(asked, cell).columns(rows(asked, cell, count)))[0]
        return int(found.status.ok.sum())

    return max(cells(asked, family, 6, most_panels), key=designs)


SOUND = (("build.thickness", 0.3, 1.0), ("build.section", 0.0, 0.1), ("build.edge_gap", 0.2, 0.6))


@cache
def family_names() -> tuple[str, ...]:
    return tuple(families())


@cache
def verified(family: str) -> tuple[Cell, Floats, Scores]:
    """A verified candidate of a family in the roomy problem: its cell, its row [1, D], its scores with the records.

    The first that verification passes among a few random rows of small cells, so that it holds for new families too.
    """
    asked = problem()
    for cell in cells(asked, family, 5, 9):
        X = rows(asked, cell, 30)
        standing = np.flatnonzero(~evaluate(asked, cell, space(asked, cell).columns(X)).screened_out)
        for k in standing[:6]:
            scores = work(asked, Task(cell, X[k : k + 1], "verify"))
            if scores.verified is not None and scores.verified[0]:
                return cell, X[k : k + 1], scores
    raise AssertionError(f"{family}: none of the sampled candidates passes verification")
