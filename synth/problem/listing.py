"""Catalogues as listed: every value with its flag and source, for people and for other programs."""

from dataclasses import asdict, dataclass
from typing import Any

import numpy as np

from synth.hinges import all_kinds
from synth.hinges.kind import JointKind
from synth.problem.catalogue import FLAGS, MEASURED, Catalogue, Row, rows, shipped


@dataclass(frozen=True)
class Value:
    """One catalogue value as listed: the key says the unit; flag is a key of FLAGS."""

    key: str
    value: Any
    flag: str
    source: str


@dataclass(frozen=True)
class Entry:
    """One catalogue entry as listed: what it may be used for, its values, a note."""

    id: str
    name: str
    use: str
    values: tuple[Value, ...]
    note: str


LISTS = ("materials", "envelopes", "hinges", "latches")
"""What catalogue_text and catalogue_json know; the cores are listed with the materials, the mounts with the latches."""

NOTES = {"temperature_range_k": "temperature range, K", "outgassing": "outgassing"}
"""Told where an entry gives them, and told to be missing where it does not."""
_WORDS = frozenset(
    {
        "id",
        "name",
        "family",
        "use",
        "kind",
        "source",
        "sources",
        "checked",
        "where",
        "note",
        "strength_kind",
        "like",
        *NOTES,
    }
)
_USES = {
    "panel": "for panels",
    "prototype": "for panels where a problem names it",
    "spring": "stock for hinges",
    "box": "preset, box",
    "cylinder": "preset, round",
    "plate": "data only: an interface without a volume",
    "linear_sum": "data only: a limit on length + width + height",
}


def entries(kind: str, catalogue: Catalogue | None = None) -> tuple[Entry, ...]:
    """Entries of one of LISTS in file order, every value with flag and source; those of a problem's own are marked."""
    listed = catalogue or shipped()
    if kind in ("hinges", "latches"):
        hinges = {row["id"] for row in listed.joint_rows if listed.joints[row["id"]].role in ("hinge", "membrane")}
        return tuple(
            _joint_entry(row, listed) for row in listed.joint_rows if (row["id"] in hinges) == (kind == "hinges")
        )
    if kind == "envelopes":
        return tuple(_entry(row, "") for row in rows(kind))
    made = [_entry(row, listed.own.get(f"material {row['id']}", "")) for row in listed.material_rows]
    return tuple(made + [_entry(row, "") for row in rows("cores")])


def _mark(own: str) -> str:
    return {"": "", "added": "; OWN ENTRY of the problem"}.get(own, "; OVERRIDES the catalogue's")


def _about(row: Row) -> str:
    """The note of an entry with what it says of temperature and outgassing."""
    given = [f"{words} {_number(row[key])}" for key, words in NOTES.items() if key in row]
    missing = [words.split(",")[0] for key, words in NOTES.items() if key not in row]
    told = [row.get("note", ""), *given, f"not given: {', '.join(missing)}" if missing else ""]
    return "; ".join(text.rstrip(". ") for text in told if text)


def _entry(row: Row, own: str) -> Entry:
    source = "; ".join(text for text in (row["source"], row.get("where", "")) if text)
    values = tuple(
        Value(key, value, _flag(row, key), row.get("sources", {}).get(key, source))
        for key, value in row.items()
        if key not in _WORDS and not key.endswith("_keys")
    )
    use = _USES.get(str(row.get("use", row.get("kind"))), "sandwich core")
    note = row.get("note", "") if use.startswith(("preset", "data")) else _about(row)
    return Entry(row["id"], row["name"], use + _mark(own), values, note)


def _flag(row: Row, key: str) -> str:
    """The flag of one value: by the key lists where the entry has them, else the entry's own."""
    for flag in FLAGS:
        if key in row.get(f"{flag}_keys", ()):
            return flag
    return str(row["checked"])


def _joint_entry(row: Row, catalogue: Catalogue) -> Entry:
    joint = catalogue.joints[row["id"]]
    kind = all_kinds()[row["kind"]]
    values = [Value(key, v["value"], v["flag"], v["source"]) for key, v in row["values"].items()]
    formula, measured = f"formulas of {row['kind']}", row.get("measured", {})
    made: dict[str, Any] = {
        "stiffness_n_m": joint.stiffness[:3],
        "stiffness_n_m_rad": joint.stiffness[3:],
        "misfit_m": joint.sigma[:3],
        "misfit_rad": joint.sigma[3:],
        "unit_mass_kg": joint.mass,
        "cte_per_k": joint.cte,
        "least_gap_needed_m": joint.least_gap,
        "free_play_m": tuple(float(v) for v in joint.numbers.free_play[:3]),
        "free_play_rad": tuple(float(v) for v in joint.numbers.free_play[3:]),
        **(_turning(joint) if joint.role == "hinge" else {}),
        **(_holding(joint) if joint.role == "latch" else {}),
    }
    for key, value in made.items():
        plain = list(value) if isinstance(value, tuple) else value
        told = measured.get(key) if key in MEASURED else None
        values.append(
            Value(key, told["value"], told["flag"], told["source"]) if told else Value(key, plain, "derived", formula)
        )
    offered = " (listed, not offered)" if kind.moving_axis else ""
    use = f"{joint.role}, {row['kind']}{offered}{_mark(catalogue.own.get(f'joint {joint.name}', ''))}"
    note = f"{kind.title_of_kind()} Life: {kind.life}. {_about(row)}"
    return Entry(row["id"], row["title"], use, tuple(values), note)


def _turning(joint: JointKind) -> dict[str, Any]:
    """What a hinge does as it turns, at a half turn or as far as it goes."""
    n, far = joint.numbers, np.array(min(np.pi, joint.largest_angle))
    out = {
        "turns_up_to_rad": joint.largest_angle,
        "torque_half_turn_n_m": float(n.turn.spring(far) + n.turn.restoring(far)),
        "torque_deployed_n_m": float(n.turn.spring(np.array(0.0)) + n.turn.restoring(np.array(0.0))),
        "friction_n_m": float(n.turn.friction),
        "energy_half_turn_j": float(n.turn.energy(far)),
    }
    if float(n.turn.peak_moment) > 0.0:
        out["peak_moment_n_m"] = float(n.turn.peak_moment)
    if joint.flexes:
        out["stress_ratio_half_turn"] = float(n.stress_ratio(far))
    if float(n.fold_radius) > 0.0:
        out["fold_radius_m"] = float(n.fold_radius)
    return out


def _holding(joint: JointKind) -> dict[str, Any]:
    n = joint.numbers
    return {
        "captures_m": float(n.capture), "holds_n": float(n.hold_force), "opens_with_j": float(n.hold_energy),
    }  # fmt: skip


def catalogue_json(kind: str, catalogue: Catalogue | None = None) -> dict[str, Any]:
    """The entries of one of LISTS as plain data for JSON."""
    listed = [asdict(entry) for entry in entries(kind, catalogue)]
    return {"schema": "catalogue/1", "kind": kind, "flags": FLAGS, "entries": listed}


def catalogue_text(kind: str, catalogue: Catalogue | None = None) -> str:
    """The entries of one of LISTS as text: a line a value with its flag; a source once where it stays the same."""
    lines: list[str] = []
    for entry in entries(kind, catalogue):
        lines += ["", f"{entry.id}: {entry.name} ({entry.use})"]
        last = ""
        for v in entry.values:
            source = v.source if v.source != last else ""
            last = v.source
            lines.append(f"    {v.key:<30} {_number(v.value):<34} {v.flag:<8} {source}".rstrip())
        if entry.note:
            lines.append(f"    note: {entry.note}")
    flags = "; ".join(f"{flag}: {meaning}" for flag, meaning in FLAGS.items())
    return "\n".join([f"{kind}, SI, typical values and no design allowables. {flags}.", *lines])


def _number(value: Any) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, list):
        return ", ".join(_number(v) for v in value)
    return f"{value:.5g}" if isinstance(value, float) else str(value)
