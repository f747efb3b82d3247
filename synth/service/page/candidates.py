"""One candidate in words and numbers: requirements with margins, budgets, stages, what it is made of."""

from collections import Counter
from collections.abc import Mapping
from typing import Any

from synth.cell import vocabulary
from synth.export.show import mass_budget
from synth.service.page.accuracy import accuracy_view
from synth.service.page.words import metric, requirement, told

Record = Mapping[str, Any]


def candidate_view(record: Record) -> dict[str, Any]:
    """Everything about a candidate but its geometry."""
    size = [told(float(v), "m") for v in record["stowed"]["size_m"]]
    return {
        "id": record["id"],
        "family": record["family"],
        "envelope": record["envelope"],
        "verified": bool(record["verification"]["verified"]),
        "counts": {k: len(record[k]) for k in ("panels", "hinges", "latches", "fittings")},
        "stowed_size": " × ".join(size),
        "requirements": [requirement(r) for r in record["requirements"]],
        "metrics": [{**metric(name), "value": value} for name, value in record["metrics"].items()],
        "accuracy": accuracy_view(record),
        "mass": [{"name": name, "kg": kg} for name, kg in mass_budget(record).items() if kg],
        "stages": _stages(record),
        "made_of": _made_of(record),
        "genes": [{"name": name, "value": _gene(name, value)} for name, value in record["genes"].items()],
        "verification": _verification(record),
    }


def _stages(record: Record) -> list[dict[str, Any]]:
    return [
        {
            "s": [float(v) for v in stage["s"]],
            "hinges": list(stage["hinges"]),
            "freedoms": stage.get("freedoms"),
            "redundant": stage.get("redundant_constraints"),
        }
        for stage in record["path"]["stages"]
    ]


def _made_of(record: Record) -> list[dict[str, str]]:
    """Materials, hinge kinds and latches with their counts; the thicknesses that occur."""
    panels = record["panels"]
    found = [{"what": _many(n, "panels"), "of": name} for name, n in _counted(f"{p['material']}, {p['section']}"
                                                                        for p in panels)]  # fmt: skip
    thick = sorted({told(float(p["z_front"] - p["z_back"]), "m") for p in panels})
    found.append({"what": "panel thickness", "of": ", ".join(thick)})
    for name in ("hinges", "latches"):
        found += [{"what": _many(n, name), "of": kind} for kind, n in _counted(str(j["kind"]) for j in record[name])]
    units = sum(len(j["units"]) for j in record["hinges"])
    found.append({"what": "hinge units", "of": str(units)})
    found.append({"what": "drives, restraints", "of": f"{len(record['drives'])}, {len(record['restraints'])}"})
    return found


_ONE = {"panels": "panel", "hinges": "hinge", "latches": "latch"}


def _many(count: int, name: str) -> str:
    return f"{count} {_ONE[name] if count == 1 else name}"


def _counted(names: Any) -> list[tuple[str, int]]:
    return Counter(names).most_common()


def _gene(name: str, value: Any) -> str:
    if isinstance(value, float):
        known = vocabulary().variables.get(name)
        return told(value, getattr(known, "unit", "1") or "1")
    return str(value)


def _verification(record: Record) -> list[dict[str, str]]:
    v = record["verification"]
    rows = [
        ("Least clearance on the way", f"{1e3 * float(v['least_clearance_m']):.3f} mm"),
        ("Hinges part by at most", f"{float(v['closure_residual_m']):.1e} m"),
        ("Fits the envelope", "yes" if v["fits"] else "no"),
        ("Degree of the plate polynomials", str(v["plate_degree"])),
    ]
    rows += [(f"Change of {name.replace('_', ' ')} with two more degrees", f"{100 * float(x):.2f} %")
             for name, x in v.get("order_sensitivity", {}).items()]  # fmt: skip
    swept = record.get("swept")
    if swept:
        rows.append(("Cylinder swept about the optical axis", f"radius {told(swept['cylinder_radius_m'], 'm')}"))
    return [{"what": what, "found": found} for what, found in rows] + [
        {"what": "How clearance was found", "found": str(v["clearance_method"])}
    ]
