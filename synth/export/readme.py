"""The README of a package: what lies where, frames, units, how to use the models, cautions."""

from collections.abc import Mapping

from synth.export.cautions import DEFERS, cautions
from synth.export.linkage import freedoms
from synth.export.parts import Record
from synth.export.stops_text import told as stops_told


def readme(
    record: Record, titles: Mapping[str, str], files: Mapping[str, list[str]], left_out: Mapping[str, str]
) -> str:
    """Markdown. titles: format to what it is; files: format to its files; left_out: format to the reason."""
    counts = ", ".join(f"{len(record[k])} {k}" for k in ("panels", "hinges", "latches", "fittings"))
    lines = [
        f"# {record['id']}",
        "",
        f"Family {record['family']}, envelope {record['envelope']}: {counts}. {_verdict(record)}",
        f"Problem {record['problem_digest']} (SHA-256 of its file).",
        "",
        DEFERS,
        "",
        "## Contents",
        "",
        "| format | what | files |",
        "| --- | --- | --- |",
    ]
    for name, title in titles.items():
        if name in files:
            lines.append(f"| {name} | {title} | {_listed(files[name])} |")
    if left_out:
        lines += ["", "Left out, because this candidate does not allow it:", ""]
        lines += [f"- {name}: {reason}" for name, reason in left_out.items()]
    lines += ["", "## Frames and units", "", *_frames(record), "", "## Motion", "", *_motion(record)]
    told = _models(record, files)
    if told:
        lines += ["", "## Models", "", *told]
    lines += ["", "## Cautions", "", *(f"- **{hazard}.** {words}" for hazard, words in cautions(record)), ""]
    return "\n".join(lines)


def _verdict(record: Record) -> str:
    if not record["verification"]["verified"]:
        return "NOT VERIFIED: it may not be built on."
    missed = [r["name"] for r in record["requirements"] if not r["ok"]]
    return f"Verified; misses {', '.join(missed)}." if missed else "Verified; meets every requirement of its problem."


def _listed(names: list[str]) -> str:
    if len(names) <= 4:
        return ", ".join(f"`{n}`" for n in names)
    return f"`{names[0]}` to `{names[-1]}` ({len(names)} files)"


def _frames(record: Record) -> list[str]:
    rotation = "; ".join(" ".join(f"{v:.6f}" for v in row) for row in record["stowed"]["rotation"])
    size = " x ".join(f"{v:.6f}" for v in record["stowed"]["size_m"])
    return [
        "- Root frame: right-handed; z along the optical axis, out of the receiving faces, which lie in z = 0 when "
        "deployed; the origin is the centre of the clear aperture. Panel 0 is the root: it never moves.",
        f"- Envelope frame: root frame turned by the rows [{rotation}]; stowed size there {size} m.",
        "- Hinge angle: of panel j relative to panel i, right-handed about the axis from its first point to its "
        "second; 0 is deployed. Valley: stowing lifts panel j towards +z; mountain: towards -z.",
        "- SI in JSON, CSV, MJCF and glTF, the unit in each name. Millimetres in STEP, DXF, STL, 3MF, PDF and SVG.",
        "- glTF is y up: its root node turns the root frame's z to y. MJCF: z up, qpos 0 deployed, no gravity.",
        "- Masses are basic masses; growth stands apart. Panels are uniform prisms, joints sit at their feet in equal "
        "shares, drives and restraints at the centroid of their panel.",
    ]


def _motion(record: Record) -> list[str]:
    stages = record["path"]["stages"]
    middle = freedoms(record, len(record["path"]["s"]) // 2)
    count = f"{len(stages)} stage{'s' * (len(stages) > 1)}"
    free = "slack joints hold it." if middle is None else f"{middle} degrees of freedom half way."
    lines = [f"- {count} along s from 0 (stowed) to 1 (deployed), {len(record['path']['s'])} stations; {free}"]
    for k, stage in enumerate(stages):
        pairs = ", ".join(f"{h} ({'-'.join(str(p) for p in record['hinges'][h]['panels'])})" for h in stage["hinges"])
        lines.append(f"- Stage {k}, s {stage['s'][0]:.3f} to {stage['s'][1]:.3f}: hinges (panels) {pairs}.")
    if len(stages) > 1 and stops_told(record):
        lines.append(
            "- What can still move with a stage stopped half-way: the table in the review sheet; in full in the "
            "record, `stopped_half_way` of every entry of `path.stages` (SI; `share` of a stage's own "
            "turn, `s` of the path)."
        )
    told = record.get("drive")
    lines.append(
        "- Torque margins are not stated: the record tells no springs, friction or harness. joints.csv gives the "
        "torque that inertia alone takes."
        if told is None
        else "- Torque margins of every hinge, in two standard forms, stand in joints.csv: the worse of cold and hot, "
        f"over all angles, a stage in {told['stage_seconds']:g} s. They are estimates: the standards ask for a test."
    )
    return lines


def _models(record: Record, files: Mapping[str, list[str]]) -> list[str]:
    told = []
    if "paper" in files:
        told.append(
            "- Paper: print at 100 %, measure the 100 mm bar, join pages at their crosses, score folds, cut solid "
            "lines. Gaps without a hinge are slots; thickness is not in the paper."
        )
    if "stl" in files or "3mf" in files:
        told.append(
            "- Printed: every panel lies with its back down, a framed one face down (its sheet first). Pin hinges take "
            "a 1.75 mm filament as pin unless asked otherwise; barrels, webs and notches leave the stated clearance. "
            "Notches for other panels' hinges are cut at the rest states between stages, not along the whole way: ease "
            "corners with a file where they touch."
        )
    if any(p.get("sheet_thickness_m") is not None for p in record["panels"]):
        told.append(
            "- Framed panels: a thin sheet over the whole outline, flush with the front, bonded to a frame of bars "
            "behind it. STEP has both as parts, DXF the opening on layer window; the printed sheet is thick enough "
            "to print (print.least_sheet); the metal model is cut from the frames alone."
        )
    if "metal" in files:
        told.append(
            "- Metal: the drawn line on layer cut is the tool's middle. Bars are sized for torsion by linear theory at "
            "the stowed angle; half a turn bends them hard, so try one hinge first. Sharp edges; strips spring back."
        )
    return told
