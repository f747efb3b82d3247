"""The optics of a record: wavefront, Strehl, blur in the field of view, where the light goes, cautions."""

import math
from typing import Any

from synth.core.arrays import Floats
from synth.core.design import Design
from synth.core.polygon import area, circle_overlap
from synth.optics.report import MARECHAL, allowed, report
from synth.problem.problem import Problem
from synth.record.file import tidy
from synth.structure.network import Deployed


def optics_record(problem: Problem, design: Design, deployed: Deployed, collected: float) -> dict[str, Any]:
    """Plain values for a batch of one; collected: m^2 after all losses."""
    found, aperture = report(problem, deployed), problem.aperture
    out: dict[str, Any] = {
        "optic": aperture.optic,
        "wavefront_rms_m": tidy(found.wavefront),
        "blur_rad": tidy(found.blur),
        "blur_slope_rad": tidy(found.blur_slope),
        "blur_in_plane_rad": tidy(found.blur_in_plane),
        "diffraction_rad": tidy(found.diffraction),
        "strehl": None if found.strehl is None else tidy(found.strehl),
    }
    if aperture.wavelength is not None:
        out["wavefront_waves"] = tidy(found.wavefront / aperture.wavelength)
        out["lambda_over_14_needs"] = {name: tidy(v) for name, v in allowed(problem).items()}
    if found.field_used is not None:
        out["field_used"] = tidy(found.field_used)
    if found.bandwidth is not None:
        out["bandwidth_m"] = tidy(found.bandwidth)
    return {**out, "light": _light(design, aperture.clear_diameter, collected), "notes": _notes(problem, found.strehl)}


def _light(design: Design, diameter: float, collected: float) -> dict[str, float]:
    """Where the light of the clear circle goes, m^2: the parts add up to the circle."""
    receiving = design.topology.receiving

    def inside(outline: Floats) -> float:
        return float(circle_overlap(outline[0, receiving], diameter / 2.0).sum())

    circle = math.pi / 4.0 * diameter**2
    faces, windows = inside(design.geometry.cut), inside(design.windows)
    parts = {
        "collected_m2": collected,
        "hardware_shadow_m2": windows - collected,
        "frames_m2": faces - windows,
        "gaps_and_uncovered_m2": circle - faces,
    }
    beyond = float(area(design.geometry.cut[0, receiving]).sum()) - faces
    return {"circle_m2": tidy(circle), **{k: tidy(v) for k, v in parts.items()}, "beyond_circle_m2": tidy(beyond)}


def _notes(problem: Problem, strehl: float | None) -> list[str]:
    """What the figures do not say."""
    notes = ["collected light is area: no reflectance, transmission or diffraction efficiency"]
    if problem.aperture.wavelength is None:
        notes.append("no wavelength given: no diffraction, no Strehl")
    elif strehl is None:
        notes.append(
            f"no Strehl: the wavefront rms is beyond {MARECHAL:g} wavelengths, where exp(-(2 pi w)^2) does not hold; "
            "as a light bucket the receiver is judged by blur inside its field"
        )
    if problem.transmissive:
        notes.append("a diffractive optic is narrow-band: its focal length goes as one over the wavelength")
        if problem.aperture.focal_ratio is None:
            notes.append("no focal ratio given: nothing is asked that depends on the focus")
    return notes
