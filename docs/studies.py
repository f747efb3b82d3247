"""The numbers of docs/studies.md: `python docs/studies.py` prints them (about two minutes on one core).

Three questions, each answered by verified candidates given by hand, so that only what is asked about changes.
"""

import json
from collections.abc import Mapping
from typing import Any

from synth.cell import cell_from, vocabulary
from synth.export.engineering import table
from synth.export.needs import needs
from synth.problem import Problem, loads
from synth.problem.alone import only
from synth.record.draft import unpacked
from synth.search.evaluator import work
from synth.search.types import Task

FILE = """
schema = "problem/1"
title = "Study"
[aperture]
clear_diameter = "850 mm"
optic = "{optic}"
wavelength = "1064 nm"
focal_ratio = 2.0
[[envelope]]
name = "room"
size = ["2 m", "2 m", "1 m"]
[mass]
limit = "100 kg"
[accuracy]
surface_rms_limit = "{limit}"
refocus = true
[environment]
bulk_temperature_change = "20 K"
through_thickness_difference = "1 K"
gravity_offload = 0.98
[search]
objectives = ["mass", "surface_rms"]
"""
COMB = {
    "columns": 3, "rows": 2, "thickness": "8 mm", "edge_gap": "8 mm", "section": "solid", "hinge": "pin_bearing",
    "material": "fused_silica",
}  # fmt: skip


def problem(optic: str = "reflective", limit: str = "50 um") -> Problem:
    return loads(FILE.format(optic=optic, limit=limit).encode(), "study.toml", vocabulary())


def candidate(asked: Problem, family: str, **values: Any) -> dict[str, Any]:
    """The record of one candidate in full."""
    cell, row = cell_from(asked, family, values)
    found = work(asked, Task(cell, row, "verify"))
    if found.extra is None:
        raise SystemExit(f"{family} {values}: {found.reason[0]}")
    record = json.loads(json.dumps(unpacked(found.extra)[0]))
    if not record["verification"]["verified"]:
        raise SystemExit(f"{family} {values}: not verified")
    return {**record, "id": family}


def um(square: float) -> str:
    return f"{1e6 * square**0.5:.2f}"


def source(record: Mapping[str, Any], name: str, measure: str = "surface_m2") -> str:
    return um(next(s[measure] for s in record["budget"]["sources"] if s["source"] == name))


def latches() -> str:
    """Six panels in a comb, free edges open or latched."""
    rows = []
    for choice in ("none", "all"):
        for pairs in (1, 2):
            r = candidate(problem(), "map_fold", **COMB, latches=choice, pairs=pairs)
            m, locked = r["metrics"], r["budget"]["locked_in"]
            rows.append([
                "latched" if choice == "all" else "open",
                str(2 * pairs), f"{m['mass_kg']:.2f}", f"{m['part_count']:.0f}",
                source(r, "joint misfits"), source(r, "gravity release"), um(m["surface_rms_m"] ** 2),
                um(m["in_plane_rms_m"] ** 2), f"{m['first_mode_hz']:.1f}", f"{1e6 * locked['energy_j']:.1f}",
                f"{locked['peak_force_n']:.0f}",
            ])  # fmt: skip
    heads = ["free edges", "hinge units\nan edge", "mass\n[kg]", "parts", "joints\n[um]", "gravity\n[um]",
             "surface\n[um]", "in plane\n[um]", "first mode\n[Hz]", "locked in\n[uJ]", "peak force\n[N]"]  # fmt: skip
    return table(heads, rows)


def optics() -> str:
    """The same six silica panels as a mirror and as a diffractive sheet, with and without the bulk change."""
    rows = []
    for optic in ("reflective", "transmissive"):
        for warm in (True, False):
            whole = problem(optic)
            asked = whole if warm else only(whole, "thermal bow", "gravity release")
            r = candidate(asked, "map_fold", **COMB, latches="all", pairs=1)
            o, m = r["optics"], r["metrics"]
            rows.append([
                "mirror" if optic == "reflective" else "transmissive", "20 K" if warm else "none",
                um(m["surface_rms_m"] ** 2), um(m["in_plane_rms_m"] ** 2), um(o["wavefront_rms_m"] ** 2),
                f"{1e6 * o['blur_slope_rad']:.1f}", f"{1e6 * o['blur_in_plane_rad']:.1f}",
                f"{1e6 * o['blur_rad']:.1f}",
            ])  # fmt: skip
    heads = ["optic at f/2", "bulk\nchange", "surface\n[um]", "in plane\n[um]", "wavefront\n[um]",
             "blur by\nslopes [urad]", "blur by\nshifts [urad]", "blur\n[urad]"]  # fmt: skip
    return table(heads, rows, 2)


def sub_micron() -> str:
    """What blocks 0.3 um, with every steady source taken out for good measure."""
    asked = problem(limit="300 nm")
    records = [
        {**candidate(asked, "map_fold", **COMB, latches="all", pairs=2), "id": "six panels, all latched"},
        {**candidate(only(asked), "map_fold", **COMB, latches="all", pairs=2), "id": "the same, nothing but misfits"},
    ]
    rows = [[r["id"], source(r, "joint misfits"), source(r, "gravity release"), source(r, "thermal growth"),
             source(r, "panel figure"), um(r["metrics"]["surface_rms_m"] ** 2)] for r in records]  # fmt: skip
    text = table(["candidate", "joints\n[um]", "gravity\n[um]", "growth\n[um]", "figure\n[um]", "surface\n[um]"], rows)
    return text + "\n\n" + "\n".join(n["told"] for r in records for n in needs([r]))


if __name__ == "__main__":
    for title, made in (("Latches", latches), ("Mirror or transmissive", optics), ("Sub-micron", sub_micron)):
        print(f"{title}\n\n{made()}\n")
