"""Blur and in-plane error as objectives and limits, all the way: search, run folder, record, recheck."""

import json
from pathlib import Path

from synth.app.looking import recheck_run
from synth.app.running import run_problem
from tests.samples import text

SECTIONS = {
    "aperture": {"optic": "transmissive", "focal_ratio": 2.0, "wavelength": "532 nm", "field_of_view": "500 urad"},
    "accuracy": {"in_plane_rms_limit": "200 um", "blur_limit": "300 urad"},
    "envelope": [{"name": "box", "size": ["2 m", "1.6 m", "1.2 m"]}],
    "choices": {"families": ["map_fold"], "panel_materials": ["fused_silica"], "max_panels": 4},
    "search": {"objectives": ["mass", "blur", "in_plane_rms"], "evaluations": 40, "seed": 3},
}


def test_a_transmissive_search_ends_in_records_that_recheck(tmp_path: Path) -> None:
    file = tmp_path / "sheet.toml"
    file.write_text(text(**SECTIONS))
    summary = run_problem(file, tmp_path / "run", None, None, 1)
    assert summary.any_feasible
    for path in (tmp_path / "run" / "candidates").glob("*.json"):
        record = json.loads(path.read_text())
        held = {r["name"]: r for r in record["requirements"]}
        assert held["accuracy.blur_limit"]["value"] == held["aperture.field_of_view"]["value"]
        assert held["accuracy.blur_limit"]["value"] == record["metrics"]["blur_rad"]
        assert held["accuracy.in_plane_rms_limit"]["ok"] and record["optics"]["optic"] == "transmissive"
    report = recheck_run(tmp_path / "run")
    assert report.ok, [str(f) for f in report.findings]
