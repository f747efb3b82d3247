"""Pictures of one candidate, from its record alone."""

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from synth.export.deployed_plan import deployed_plan
from synth.export.mode_views import mode_views
from synth.export.motion_steps import motion_steps
from synth.export.sheet import drawing, save
from synth.export.stowed_views import stowed_views
from synth.problem.envelope import Envelope
from synth.problem.sections import KeepOut


def candidate_pictures(
    record: Mapping[str, Any],
    envelope: Envelope,
    folder: Path,
    diameter: float | None = None,
    keep_out: Sequence[KeepOut] = (),
) -> list[Path]:
    """Writes ID-deployed, ID-stowed, ID-motion and (where told) ID-modes, each as .svg and .png, into the folder.

    Returns the paths. diameter: of the clear aperture (m), keep_out: boxes of the problem, drawn where given. The same
    record gives the same bytes.
    """
    written = []
    with drawing():
        for name, figure in (
            ("deployed", deployed_plan(record, diameter, keep_out)),
            ("stowed", stowed_views(record, envelope, keep_out)),
            ("motion", motion_steps(record, keep_out)),
            *([("modes", mode_views(record))] if record.get("modes") else []),
        ):
            written += save(figure, folder / f"{record['id']}-{name}")
    return written
