"""Faults that lie between fields: each field is right by itself, together they cannot be."""

from collections.abc import Mapping
from typing import Any

from synth.problem.catalogue import Catalogue
from synth.problem.faults import Fault
from synth.problem.vocabulary import Pins


def crossing(sections: Mapping[str, Any], pins: Pins, shelf: Catalogue) -> list[Fault]:
    """Faults between the sections that could be read; those that could not are told already."""
    found: list[Fault] = []
    found += _keep_outs(sections)
    found += _optic(sections, pins, shelf)
    found += _build(sections, pins, shelf)
    found += _heat(sections)
    found += _growth(sections)
    found += _launch(sections)
    found += _wanted(sections)
    return found


def _wanted(sections: Mapping[str, Any]) -> list[Fault]:
    """Goals are for objectives of this search."""
    asked = sections.get("search")
    if asked is None:
        return []
    words = f"is not among this search's objectives: {', '.join(asked.objectives)}"
    return [Fault(f"search.goals.{name}", words) for name in asked.goals if name not in asked.objectives]


def _launch(sections: Mapping[str, Any]) -> list[Fault]:
    """Contact under a load that is not given would never be found."""
    asked = sections.get("structure")
    if asked is None or asked.launch_contact_limit is None or asked.launch_load_g is not None:
        return []
    words = "is missing and must be given where structure.launch_contact_limit is"
    return [Fault("structure.launch_load_g", words)]


def _heat(sections: Mapping[str, Any]) -> list[Fault]:
    """A heat flux is given instead of temperatures, not beside them."""
    e = sections.get("environment")
    found: list[Fault] = []
    if e is None:
        return found
    if e.heat_flux and e.through_thickness_difference:
        words = f"stands for through_thickness_difference: give one; given {e.through_thickness_difference} K too"
        found.append(Fault("environment.heat_flux", words))
    if e.heat_loss is not None and e.bulk_temperature_change:
        words = f"stands for bulk_temperature_change: give one of them; given {e.bulk_temperature_change} K too"
        found.append(Fault("environment.heat_loss", words))
    if e.heat_loss is not None and not e.heat_flux:
        found.append(Fault("environment.heat_loss", "needs environment.heat_flux, which is missing"))
    return found


def _keep_outs(sections: Mapping[str, Any]) -> list[Fault]:
    found = []
    for i, box in enumerate(sections.get("keep_out", ())):
        for axis, low, high in zip("xyz", box.min, box.max, strict=True):
            if low >= high:
                words = f"must lie below max along {axis}; given min {low} m and max {high} m"
                found.append(Fault(f"keep_out[{i}].min", words))
    return found


def _optic(sections: Mapping[str, Any], pins: Pins, shelf: Catalogue) -> list[Fault]:
    aperture = sections.get("aperture")
    if aperture is None:
        return []
    found = []
    accuracy, search, choices = sections.get("accuracy"), sections.get("search"), sections.get("choices")
    if aperture.focal_ratio is None:
        needed = "is missing and must be given where"
        if accuracy is not None and accuracy.blur_limit is not None:
            found.append(Fault("aperture.focal_ratio", f"{needed} accuracy.blur_limit is"))
        if search is not None and "blur" in search.objectives:
            found.append(Fault("aperture.focal_ratio", f"{needed} blur is an objective"))
    low, high = aperture.min_panel_width, aperture.max_panel_length
    if low is not None and high is not None and low > high:
        words = f"must not exceed aperture.max_panel_length ({high} m); given {low} m"
        found.append(Fault("aperture.min_panel_width", words))
    if aperture.optic != "transmissive":
        return found
    known = shelf.materials
    clear = [i for i in shelf.named_materials if known[i].transmits]
    only = f"a transmissive optic needs a material that transmits: {', '.join(clear)}"
    if choices is not None and choices.panel_materials is not None and not set(choices.panel_materials) & set(clear):
        found.append(Fault("choices.panel_materials", f"names none that transmits; {only}"))
    material, section = pins.get("build.material"), pins.get("build.section")
    if material is not None and not set(material.options) & set(clear):
        found.append(Fault("choices.variables.build.material", f"names none that transmits; {only}"))
    if section is not None and not {"solid", "framed"} & set(section.options):
        words = "must leave solid or framed: a transmissive optic is built of solid or framed sheets"
        found.append(Fault("choices.variables.build.section", words))
    return found


def _growth(sections: Mapping[str, Any]) -> list[Fault]:
    mass = sections.get("mass")
    if mass is None or mass.maturity is None or "growth_allowance" not in mass.model_fields_set:
        return []
    words = f"must not be given beside mass.growth_allowance: one or the other; given {mass.maturity}"
    return [Fault("mass.maturity", words)]


def _build(sections: Mapping[str, Any], pins: Pins, shelf: Catalogue) -> list[Fault]:
    """A list of names and a pinned variable of the same thing must leave something."""
    choices, aperture = sections.get("choices"), sections.get("aperture")
    clear = aperture is not None and aperture.optic == "transmissive"
    known, found = shelf.materials, []
    for field, variable in (("panel_materials", "build.material"), ("hinge_kinds", "build.hinge")):
        names, pinned = getattr(choices, field, None), pins.get(variable)
        if names is None or pinned is None:
            continue
        left = set(names) & set(pinned.options)
        if clear and field == "panel_materials":
            left = {name for name in left if name in known and known[name].transmits}
        if not left:
            words = f"leaves nothing together with choices.{field}: {', '.join(names)}"
            found.append(Fault(f"choices.variables.{variable}", words))
    return found
