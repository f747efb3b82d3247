"""A full problem as a mapping, and a small vocabulary of families and variables."""

import copy
from typing import Any

from synth.problem import Allowed, Problem, Vocabulary, loads
from synth.problem.toml_text import toml_text

WORDS = Vocabulary(
    families=("accordion", "segment_stack", "wing"),
    variables={
        "accordion.strips": Allowed("count", 2, 16),
        "accordion.cover": Allowed("real", 0.85, 1.0),
        "segment_stack.rings": Allowed("count", 1, 4),
        "segment_stack.spin": Allowed("real", 0.0, 1.05, "rad"),
        "segment_stack.tree": Allowed("choice"),
        "wing.root_fold": Allowed("choice", options=("front", "back")),
        "build.thickness": Allowed("real", 1e-3, 40e-3, "m"),
        "build.face_share": Allowed("real", 0.01, 0.2),
        "build.section": Allowed("choice", options=("solid", "sandwich")),
        "build.material": Allowed("choice"),
        "build.hinge": Allowed("choice"),
    },
)

FULL: dict[str, Any] = {
    "schema": "problem/1",
    "title": "A problem with every field",
    "aperture": {
        "clear_diameter": "850 mm",
        "min_collecting_area": "0.42 m^2",
        "optic": "reflective",
        "wavelength": "532 nm",
        "focal_ratio": 4.0,
        "field_of_view": "200 urad",
        "min_panel_width": "40 mm",
        "max_panel_length": "900 mm",
    },
    "envelope": [
        {"name": "locker", "size": ["620 mm", "460 mm", "300 mm"], "clearance": "3 mm"},
        {"name": "can", "diameter": "500 mm", "height": "400 mm"},
        {"name": "bay", "preset": "cubesat_12u", "clearance": "5 mm"},
    ],
    "mass": {"limit": "14 kg", "growth_allowance": 0.25},
    "accuracy": {
        "surface_rms_limit": "5 um",
        "in_plane_rms_limit": "20 um",
        "blur_limit": "50 urad",
        "refocus": True,
    },
    "environment": {
        "bulk_temperature_change": "20 K",
        "through_thickness_difference": "1 K",
        "gravity_offload": 0.98,
    },
    "structure": {
        "deployed_first_mode_min": "1.0 Hz",
        "stowed_first_mode_min": "60 Hz",
        "launch_load_g": 15.0,
        "panel_gap": "0.5 mm",
        "edge_gap": "1.0 mm",
    },
    "choices": {
        "families": ["accordion", "segment_stack"],
        "panel_materials": ["al_6061_t6", "cfrp_qi_m55j", "fused_silica"],
        "hinge_kinds": ["pin_bearing", "tape_becu"],
        "max_panels": 37,
        "variables": {"segment_stack.rings": [1, 2], "build.thickness": ["4 mm", "12 mm"]},
    },
    "keep_out": [{"name": "bus", "min": ["-200 mm", "-200 mm", "-500 mm"], "max": ["200 mm", "200 mm", "-60 mm"]}],
    "search": {"objectives": ["stowed_volume", "mass", "surface_rms"], "evaluations": 20000, "seed": 1},
}


def full(**sections: dict[str, Any]) -> dict[str, Any]:
    """FULL with fields of sections changed."""
    data = copy.deepcopy(FULL)
    for section, fields in sections.items():
        data[section] = {**data.get(section, {}), **fields}
    return data


def read(data: dict[str, Any], name: str = "p.toml") -> Problem:
    return loads(toml_text(data).encode(), name, WORDS)
