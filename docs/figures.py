"""Draws the figures of the documentation with the program itself, and writes the table of their figures.

    python docs/figures.py                  family pages: docs/families/figures/*.png and docs/families/examples.md
    python docs/figures.py segment_stack    one family only (the table is left as it is)
    python docs/figures.py --run DIR        the README's pictures, docs/pictures/*.png, from a run folder

Every example is worked out and verified as `stowfront try` does it; one that is not verified ends the script.
Equal code and equal catalogues give equal bytes.
"""

import argparse
import re
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from matplotlib.figure import Figure
from PIL import Image

from synth.app import folder as folders
from synth.app.library import attempt, read_candidate
from synth.export.deployed_plan import deployed_plan
from synth.export.front_svg import front_figure
from synth.export.motion_steps import motion_steps
from synth.export.sheet import drawing, save
from synth.export.show import knee_id
from synth.export.stowed_views import stowed_views
from synth.problem.problem import Problem

DOCS = Path(__file__).resolve().parent
FIGURES = DOCS / "families" / "figures"
PROBLEM = DOCS.parent / "problems" / "river_ice.toml"
ENVELOPE = "locker"
MOST_BYTES = 120_000
DPI, COLOURS = 120, 256
Values = dict[str, float | int | str]

BUILD: Values = {
    "build.material": "cfrp_qi_m55j",
    "build.section": "sandwich",
    "build.thickness": 0.008,
    "build.face_share": 0.06,
    "build.edge_gap": 0.008,
    "build.hinge": "pin_plain",
}
"""One build for all examples, so that they differ by the way of folding alone."""
SLIM: Values = {"build.thickness": 0.006, "build.edge_gap": 0.006}
LATCHED: Values = {"build.latches": "all"}
TRUE: Values = {"build.hinge": "pin_bearing"}
"""Plain pins repeat so badly that the latches of seven tiles would not pull the misfit out."""


@dataclass(frozen=True)
class Example:
    """key: name of its files; views: which of deployed, stowed, motion are drawn; most_panels: if not the problem's."""

    key: str
    family: str
    values: Values
    views: tuple[str, ...] = ()
    most_panels: int | None = None


ALL = ("deployed", "stowed", "motion")
STRIPS: Values = {"strips": 5, "cover": 0.95, "reach": 0.7}
WINGS: Values = {"strips": 2, "strip": 0.9, "cover": 0.95, "reach": 0.65}
SECTORS: Values = {"sectors": 8, "reach": 1.0, "hole": 0.2}
GRID: Values = {"columns": 3, "rows": 3, "cover": 0.9, "reach": 0.9}
SHEET: Values = {"columns": 3, "rows": 3, "order": "columns", "cover": 0.9, "reach": 0.9}
LEAVES: Values = {"leaves": 6, "hub": 0.45, "reach": 1.0, "taper": 0.9, "lean": 0.0}
SEVEN: Values = {"tiling": "hexagon", "rings": 1, "corners": "all", "cover": 1.0}
BLUNT: Values = {"tips": "blunt", "blunt": 0.05}
DRUM: Values = {"rings": 2, "reach": 1.1, "lead": 0.5, "grip": 0.9}
LOW: Values = {"rings": 3, "rows": 1, "reach": 1.0, "build.thickness": 0.006, "build.edge_gap": 0.007}
SLATS: Values = {"cover": 0.9, "reach": 0.6, **SLIM}

EXAMPLES = (
    Example("accordion-end", "accordion", {**STRIPS, "root": "end", "deploy": "together"}, ("deployed", "motion")),
    Example("accordion-middle", "accordion", {**STRIPS, "root": "middle", "deploy": "together"}, ("stowed",)),
    Example("accordion-in-turn", "accordion", {**STRIPS, "root": "end", "deploy": "in_turn"}, ("motion",)),
    Example("fan-end", "fan", {**SECTORS, "root": "end", "deploy": "together"}),
    Example("fan-middle", "fan", {**SECTORS, "root": "middle", "deploy": "together"}, ALL),
    Example("fan-middle-latched", "fan", {**SECTORS, "root": "middle", "deploy": "together", **LATCHED}),
    Example("fan-in-turn", "fan", {**SECTORS, "root": "end", "deploy": "in_turn"}, ("motion",)),
    Example("map_fold-comb", "map_fold", {**GRID, "tree": "comb"}),
    Example("map_fold-comb-middle", "map_fold", {**GRID, "tree": "comb_middle"}, ALL),
    Example("map_fold-comb-middle-latched", "map_fold", {**GRID, "tree": "comb_middle", **LATCHED}),
    Example("map_fold-serpentine", "map_fold", {**GRID, "tree": "serpentine"}, ("deployed", "motion")),
    Example("miura-skew", "miura", {**SHEET, "sector": 1.3}, ALL),
    Example("miura-upright", "miura", {**SHEET, "sector": 1.4}),
    Example("petal-narrow-up", "petal", {**LEAVES, "form": "narrow", "fold": "up"}, ALL),
    Example("petal-narrow-both", "petal", {**LEAVES, "form": "narrow", "fold": "both", "lean": 0.1}, ("deployed",)),
    Example("petal-full-staged", "petal", {**LEAVES, "form": "full_staged", "fold": "both", "hub": 0.4},
            ("deployed", "motion")),
    Example("petal-full-staged-notched", "petal", {**LEAVES, "form": "full_staged", "fold": "both", "hub": 0.4,
            "build.passing": "notch", "build.hinge": "pin_bearing", "build.edge_gap": 0.007}, ("deployed",)),
    Example("petal-two-part", "petal", {**LEAVES, "form": "two_part", "fold": "up", "hub": 0.4, "split": 0.6},
            ("motion",)),
    Example("segment_stack-star", "segment_stack", {**SEVEN, "tree": "star"}, ALL),
    Example("segment_stack-star-notched", "segment_stack", {**SEVEN, "tree": "star", "build.passing": "notch",
            "build.hinge": "pin_bearing"},
            ("deployed",)),
    Example("segment_stack-star-latched", "segment_stack", {**SEVEN, "tree": "star", **LATCHED, **TRUE}),
    Example("segment_stack-spiral", "segment_stack", {**SEVEN, **BLUNT, "tree": "spiral"}, ("deployed", "motion")),
    Example("segment_stack-spiral-latched", "segment_stack", {**SEVEN, **BLUNT, "tree": "spiral", **LATCHED, **TRUE}),
    Example("segment_stack-squares", "segment_stack", {"tiling": "square", "rings": 1, "corners": "all",
            "cover": 1.0, "tree": "comb0"}),
    Example("slat_roll-five", "slat_roll", {**SLATS, "slats": 8, "sides": 5, "roll": "front", "deploy": "in_turn"},
            ALL),
    Example("slat_roll-one-turn", "slat_roll", {**SLATS, "slats": 8, "sides": 8, "roll": "back",
            "deploy": "together"}, ("motion",)),
    Example("wing-front-back", "wing", {**WINGS, "root_fold": "front_back"}, ("deployed", "stowed")),
    Example("wing-front", "wing", {**WINGS, "root_fold": "front"}, ("motion",)),
    Example("wing-quarter-turn", "wing", {**WINGS, "root_fold": "quarter_turn"}, ("stowed", "motion")),
    Example("wrapped_hub-five", "wrapped_hub", {**DRUM, "sides": 5}, ("deployed",)),
    Example("wrapped_hub-six", "wrapped_hub", {**DRUM, "sides": 6}, ALL),
    Example("wrapped_hub-six-row", "wrapped_hub", {**DRUM, "sides": 6, "rows": 1}, ALL),
    Example("wrapped_hub-six-two-rows", "wrapped_hub", {**DRUM, "sides": 6, "rings": 3, "rows": 2, "reach": 1.0},
            ALL, 61),
    Example("wrapped_hub-six-three-one", "wrapped_hub", {**DRUM, **LOW, "sides": 6}, ("motion", "stowed"), 85),
)  # fmt: skip


def pictures(record: Mapping[str, Any], problem: Problem, stem: str, views: tuple[str, ...]) -> None:
    """Writes STEM + VIEW.png for each view of a candidate."""
    envelope = next(e for e in problem.envelope if e.name == record["envelope"])
    with drawing():
        for view in views:
            figure = {
                "deployed": lambda: deployed_plan(record, problem.aperture.clear_diameter),
                "stowed": lambda: stowed_views(record, envelope),
                "motion": lambda: motion_steps(record),
            }[view]()
            small_png(figure, Path(f"{stem}{view}"))


def small_png(figure: Figure, stem: Path) -> None:
    """Writes STEM.png in few colours, for pages that are read on a screen."""
    figure.set_dpi(DPI)
    (made,) = save(figure, stem, kinds=("png",))
    with Image.open(made) as full:
        few = full.convert("RGB").quantize(COLOURS, dither=Image.Dither.NONE)
    few.save(made, optimize=True)
    if made.stat().st_size > MOST_BYTES:
        raise SystemExit(f"{made}: {made.stat().st_size} bytes, more than {MOST_BYTES}")


def worked(example: Example, scratch: Path) -> tuple[dict[str, Any], Problem]:
    """The record of an example, and its problem."""
    out, file = scratch / example.key, PROBLEM
    if example.most_panels is not None:
        text = PROBLEM.read_text(encoding="utf-8")
        file = scratch / f"{example.key}.toml"
        file.write_text(re.sub(r"(?m)^max_panels = .*$", f"max_panels = {example.most_panels}", text), encoding="utf-8")
    attempt(file, example.family, {**BUILD, **example.values}, envelope=ENVELOPE, out=out)
    (name,) = (path.stem for path in (out / "candidates").glob("*.json"))
    record = read_candidate(out, name)
    if not record["verification"]["verified"]:
        raise SystemExit(f"{example.key}: is not verified")
    return {**record, "id": example.key}, folders.problem_of(out)


HEAD = """# The examples of the family pages

Written by `python docs/figures.py`; every row is worked out and verified as `stowfront try` does it, for the aperture
and the environment of [`problems/river_ice.toml`](../../problems/river_ice.toml) (850 mm clear diameter) in its
envelope `locker`. One build for all: sandwich with faces of quasi-isotropic carbon composite, 8 mm thick, faces 6 % of
that each, 8 mm edge gaps, hinge `pin_plain`, one pair of units an edge; `slat_roll` with 6 mm and 6 mm, the notched
star with `pin_bearing`, the notched petal with that and 7 mm edge gaps, the hub of 85 panels with 6 mm and 7 mm; for 61
panels and 85 `max_panels` is raised. None of them was optimised, and not every one fits the locker or meets that
problem's limits: they show what the way of folding does, not what a family can reach. Mass is with 20 % growth.

| example | panels | parts | collects m^2 | stowed mm | volume l | mass kg | surface rms um | first mode Hz | stages |
| --- | --- | --- | --- | --- | --- | --- | --- | --- | --- |
"""


def row(example: Example, record: Mapping[str, Any]) -> str:
    """One line of the table."""
    m = record["metrics"]
    size = " x ".join(f"{1e3 * s:.0f}" for s in record["stowed"]["size_m"])
    cells = [
        f"[`{example.key}`]({example.family}.md)",
        f"{m['panel_count']:.0f}",
        f"{m['part_count']:.0f}",
        f"{m['collecting_area_m2']:.3f}",
        size,
        f"{1e3 * m['stowed_volume_m3']:.1f}",
        f"{m['mass_kg']:.2f}",
        f"{1e6 * m['surface_rms_m']:.1f}",
        f"{m['first_mode_hz']:.1f}",
        str(len(record["path"]["stages"])),
    ]
    return "| " + " | ".join(cells) + " |\n"


def family_pages(wanted: list[str]) -> None:
    """Figures of the families wanted; of all, and the table, where none is named."""
    lines = []
    with tempfile.TemporaryDirectory() as scratch:
        for example in EXAMPLES:
            if not wanted or example.family in wanted:
                record, problem = worked(example, Path(scratch))
                pictures(record, problem, f"{FIGURES / example.key}-", example.views)
                lines.append(row(example, record))
    if not wanted:
        (DOCS / "families" / "examples.md").write_text(HEAD + "".join(lines), encoding="utf-8")


def readme_pictures(run: Path) -> None:
    """The front of a run, and the knee of its last envelope that has one."""
    document, front = folders.run_document(run)
    goals = folders.sought(document)
    with drawing():
        names = [e["name"] for e in document["envelopes"]]
        small_png(front_figure(front, goals, names), DOCS / "pictures" / "front")
    knees = [knee_id(front.of(name).rows, goals) for name in names]
    best = [k for k in knees if k is not None]
    if not best:
        raise SystemExit(f"{run}: no envelope has three feasible candidates")
    pictures(read_candidate(run, best[-1]), folders.problem_of(run), f"{DOCS / 'pictures'}/", ALL)


def main() -> None:
    """Reads the arguments."""
    asked = argparse.ArgumentParser(description="Draws the figures of the documentation.")
    asked.add_argument("family", nargs="*", help="families to draw (default: all)")
    asked.add_argument("--run", type=Path, metavar="DIR", help="draw the README's pictures from this run folder")
    given = asked.parse_args()
    if given.run is not None:
        readme_pictures(given.run)
    else:
        family_pages(given.family)


if __name__ == "__main__":
    main()
