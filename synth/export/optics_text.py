"""The optics of a record as text."""

from collections.abc import Mapping
from typing import Any

from synth.export.engineering import table


def optics_text(record: Mapping[str, Any]) -> str:
    """Wavefront, Strehl, blur in the field, where the light goes; empty for records that do not tell."""
    o = record.get("optics")
    if o is None:
        return "Optics\nnot told"
    waves = f", {o['wavefront_waves']:.3g} wavelengths" if "wavefront_waves" in o else ""
    rows = [
        ["wavefront rms", f"{1e9 * o['wavefront_rms_m']:.1f} nm{waves}"],
        ["Strehl", "does not apply (see below)" if o["strehl"] is None else f"{o['strehl']:.3f}"],
        ["blur that deployment adds, full angle", f"{1e6 * o['blur_rad']:.1f} urad"],
        [
            "  of it by slopes, by shifts in the plane",
            f"{1e6 * o['blur_slope_rad']:.1f}, {1e6 * o['blur_in_plane_rad']:.1f} urad",
        ],
        ["diffraction, first dark ring to ring", f"{1e6 * o['diffraction_rad']:.1f} urad"],
    ]
    if "field_used" in o:
        rows.append(["both over the field of view", f"{100 * o['field_used']:.0f} %"])
    for name, title in (("surface_m", "out of plane"), ("in_plane_m", "in plane")):
        need = o.get("lambda_over_14_needs", {}).get(name)
        if need is not None:
            rows.append([f"lambda/14 of wavefront by itself needs, {title}", f"{1e9 * need:.0f} nm"])
    if "bandwidth_m" in o:
        rows.append(["change of wavelength that fills the field", f"{1e9 * o['bandwidth_m']:.3g} nm"])
    light = o["light"]
    names = {
        "collected_m2": "collected",
        "hardware_shadow_m2": "behind hardware",
        "frames_m2": "on frames",
        "gaps_and_uncovered_m2": "in gaps or not covered",
    }
    for key, title in names.items():
        rows.append([f"light of the circle: {title}", f"{100 * light[key] / light['circle_m2']:.1f} %"])
    return "Optics\n" + table(["what", "found"], rows, left=2) + "".join(f"\n{note}" for note in o["notes"])
