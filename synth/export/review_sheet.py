"""The review sheet of one candidate as text: what a preliminary design review asks for, from its record alone."""

import textwrap
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from synth.export.budget_text import budget_text
from synth.export.cautions import DEFERS, cautions
from synth.export.drive_text import drive_text
from synth.export.engineering import shown, table
from synth.export.optics_text import optics_text
from synth.export.show import mass_text, stages_text, swept_text, verdict, verification_text
from synth.export.stops_text import settled, stops_text
from synth.export.structure_text import modes_text, stowed_text

WIDTH = 118
METHODS: dict[str, tuple[str, str]] = {
    "envelope.fit": ("analysis: exact solids in the best of all spun orientations", "inspection, fit gauge"),
    "mass.limit": ("analysis: sum of parts with growth", "weighing"),
    "accuracy.surface_rms_limit": (
        "analysis: network, exact covariance",
        "flatness after repeated deployments, offloaded",
    ),
    "accuracy.in_plane_rms_limit": ("analysis: network, exact covariance", "photogrammetry after repeated deployments"),
    "accuracy.blur_limit": ("analysis: geometric ray errors", "spot at the focus, deployed"),
    "aperture.field_of_view": ("analysis: blur of the deployed aperture", "spot at the focus over the field"),
    "aperture.min_collecting_area": ("analysis: exact areas and shadows", "inspection"),
    "aperture.min_panel_width": ("analysis", "inspection of drawings"),
    "aperture.max_panel_length": ("analysis", "inspection of drawings"),
    "structure.deployed_first_mode_min": ("analysis: plates and springs, settled", "modal tap test, offloaded"),
    "structure.stowed_first_mode_min": ("analysis: bound from below, rigid spacecraft", "low-level sine, stowed"),
    "structure.launch_stress": ("analysis: quasi-static, factor of safety", "static or sine-burst test"),
    "structure.launch_contact_limit": ("analysis: deflection over the gap", "vibration, witness marks"),
    "structure.hinge_stress": ("analysis: stress of what flexes, stowed", "life test at the stowed angle"),
    "structure.torque_ratio_min": ("analysis: both standard forms", "torque at angles, hot and cold, in vacuum"),
    "structure.panel_gap": ("analysis: exact solids", "inspection, feelers"),
    "structure.edge_gap": ("analysis: exact outlines", "inspection"),
}
"""How each requirement is verified here, and how it is to be verified later (ordinary practice)."""
OPEN = (
    "Not in these figures: random vibration, acoustics and shock (large thin panels are often sized by acoustics); "
    "the spacecraft's own modes and motion; rocking of the stack, insert and core failure, hinge loads at launch; "
    "temperatures that vary over the aperture; size tolerances, which must come out of the gaps and clearances; "
    "latch-up shock; outgassing, corrosion and life. Catalogue values flagged memory, practice or chosen are to be "
    "replaced by measured ones.",
    "To be stated for the review: commands and telemetry of each stage, latched and unlatched indication of every "
    "latch, {partial}on a second try, inhibits and arming of the release devices, single failures and their effects.",
)
PARTIAL = "what happens on partial deployment (stowfront show DIR ID --stopped all)"


def review_sheet(record: Mapping[str, Any]) -> str:
    """The sheet as Markdown. Equal records give equal text."""
    counts = ", ".join(f"{len(record[k])} {k}" for k in ("panels", "hinges", "latches"))
    size = " x ".join(f"{1e3 * v:.1f}" for v in record["stowed"]["size_m"])
    parts = int(record["metrics"].get("distinct_parts", 0))
    head = [
        f"# Review sheet of {record['id']}",
        f"Family {record['family']}, envelope {record['envelope']}, problem {record['problem_digest'][:12]}. {counts};"
        f" {int(record['metrics']['part_count'])} parts, {parts} different panel outlines. Stowed {size} mm.",
        f"**{verdict(record)}**",
        "For preliminary design. " + DEFERS,
    ]
    sections = [
        ("Requirements, margins, verification", _requirements(record)),
        ("Deployment sequence and degrees of freedom", stages_text(record)),
        ("A stage stopped half-way", stops_text(record)),
        ("Room swept", swept_text(record)),
        ("Torque margins, energy and speed at latch-up", drive_text(record)),
        ("Deployed structure", modes_text(record)),
        ("Stowed structure", stowed_text(record)),
        ("Tolerance budget", budget_text(record)),
        ("Optics", optics_text(record)),
        ("Mass with growth", mass_text(record)),
        ("How far this was verified", verification_text(record)),
    ]
    filled = [f"## {title}\n\n```text\n{text}\n```" for title, text in sections if text]
    hazards = "\n".join(textwrap.fill(f"- **{name}.** {words}", WIDTH, subsequent_indent="  ")
                        for name, words in cautions(record))  # fmt: skip
    partial = "what happens " if settled(record) else f"{PARTIAL} and "
    left = "\n\n".join(textwrap.fill(words.format(partial=partial), WIDTH) for words in OPEN)
    head = [textwrap.fill(h, WIDTH) for h in head]
    return "\n\n".join([*head, *filled, f"## Hazards and cautions\n\n{hazards}", f"## Open\n\n{left}"]) + "\n"


def write_review_sheet(record: Mapping[str, Any], folder: Path) -> list[Path]:
    """review.md; returns the file."""
    path = folder / "review.md"
    path.write_text(review_sheet(record), encoding="utf-8")
    return [path]


def _requirements(record: Mapping[str, Any]) -> str:
    rows = []
    for r in record["requirements"]:
        how, sign = shown(r["name"], r["unit"]), "<=" if r["direction"] == "max" else ">="
        now, later = METHODS.get(r["name"], ("analysis", "test or inspection"))
        rows.append([r["name"], now, later, how.number(r["value"]), sign, how.number(r["limit"]), how.unit,
                     f"{100 * r['margin']:+.1f} %", "ok" if r["ok"] else "MISSED"])  # fmt: skip
    heads = ["requirement", "verified here by", "later by", "value", "", "limit", "unit", "margin", ""]
    return table(heads, rows, left=3)
