"""Hazards and cautions of a candidate, in words, from its materials, joints, mass and size."""

from synth.export.parts import Record

DEFERS = (
    "This package is a start for detailed design, not a design release. Local law, codes and site rules come first, "
    "and the responsible engineers decide: structures, mechanisms, materials, optics, product assurance and safety."
)
LIFT = 10.0
"""kg: from here on lifting is planned (a choice of this program; site rules may ask for less)."""


def cautions(record: Record) -> list[tuple[str, str]]:
    """(hazard, what to heed) in order of weight for whoever handles hardware or models."""
    words = " ".join(
        [str(p["material"]) for p in record["panels"]]
        + [str(j["kind"]) for name in ("hinges", "latches") for j in record[name]]
    ).lower()
    mass = float(record["metrics"]["mass_kg"])
    span = max(max(abs(c) for xy in p["outline"] for c in xy) for p in record["panels"]) * 2.0
    found = [
        ("Stored energy", "Hinge springs and drives hold energy while stowed: panels can unfold at once when a latch "
         f"or restraint lets go{_stored(record)}. Stow against a held restraint, keep out of the swept space, release "
         "by tether."),
        ("Pinch", "Folding panels close gaps to under a millimetre. Keep hands off edges and hinge lines while "
         "anything moves; two people, one in charge."),
    ]  # fmt: skip
    if any(w in words for w in ("becu", "beryll", "be_o30", "albemet")):
        found.append(
            ("Beryllium", "Beryllium metal and beryllium copper: do not grind, sand, file, saw, weld or laser-cut "
             "outside a shop equipped for it. The dust and fume cause lasting lung disease.")
        )  # fmt: skip
    if any(w in words for w in ("cfrp", "carbon", "m55", "fibre", "fiber")):
        found.append(
            ("Fibre dust", "Cut and drill carbon composite with extraction and gloves; its dust also conducts.")
        )
    if any(w in words for w in ("glass", "silica", "zerodur", "ule", "sic", "silicon", "quartz")):
        found.append(("Brittle panels", "Glass and ceramic edges chip and cut; a dropped panel shatters. Edge guards, "
                      "eye protection, gloves; proof tests behind a screen."))  # fmt: skip
    found.append(
        ("Light", "A deployed collector gathers sunlight and laser light onto a small spot that burns skin, eyes and "
         "hardware. Cover it outdoors; a laser safety officer clears every lit test.")
    )  # fmt: skip
    heavy = f"{mass:.1f} kg with growth, {1e3 * span:.0f} mm across deployed."
    if mass >= LIFT:
        found.append(("Lifting", f"{heavy} Lift by planned points with a checked fixture, never by panel edges."))
    else:
        found.append(("Lifting", f"{heavy} Carry by the root panel's mount, never by panel edges or hinges; large "
                      "light panels catch draughts."))  # fmt: skip
    if "magnet" in words:
        found.append(("Magnets", "Latch magnets snap shut and disturb pacemakers, cards and magnetometers."))
    found.append(("Ground test", "Panels and hinges are sized for little weight: deploy only with the gravity offload "
                  "that the problem states. Deployment without it can overload hinges."))  # fmt: skip
    if not record["verification"]["verified"]:
        found.insert(0, ("NOT VERIFIED", "This candidate failed or lacks verification: it may not be built on."))
    return found


def _stored(record: Record) -> str:
    """Energy and the rate of a hinge that nothing slows, where the record tells them."""
    told = record.get("drive")
    if not told or not told["hinges"]:
        return ""
    total = sum(float(h["stored_energy_j"]) for h in told["hinges"])
    rate = max(float(h["free_rate_rad_s"]) for h in told["hinges"])
    return f": {total:.2f} J in all, and a hinge that no damper slows reaches {rate:.1f} rad/s"
