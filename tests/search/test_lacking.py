import numpy as np
import pytest

from synth import evaluate as pipeline
from synth.cell import first_cells, space
from synth.evaluate import evaluate
from synth.ledger import NO_DESIGN, UNSCREENED, judge
from synth.problem.objective import OBJECTIVES
from synth.search.evaluator import ProblemEvaluator
from tests.near import near
from tests.samples import TIGHT, problem


def test_rows_that_the_screen_stops_lack_what_they_are_said_to_lack_and_nothing_else(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """With the screen taken away the same rows have the same figures but for those, all of which change."""
    asked = problem(
        **TIGHT, search={"objectives": ["stowed_volume", "mass", "surface_rms", "collecting_area", "first_mode"]}
    )
    cell = first_cells(asked, "wing")[0]
    axes = space(asked, cell)
    columns = axes.columns(np.random.default_rng(3).random((400, len(axes.axes))))
    told = judge(asked, evaluate(asked, cell, columns))
    for name, value in (("SCREEN_FIT", np.inf), ("SCREEN_MASS", np.inf), ("SCREEN_LIGHT", 0.0)):
        monkeypatch.setattr(pipeline, name, value)
    full = judge(asked, evaluate(asked, cell, columns))
    rows = (
        (told.violation[:, 0] >= UNSCREENED) & (told.violation[:, 0] < NO_DESIGN) & (full.violation[:, 0] < NO_DESIGN)
    )
    assert rows.sum() > 20
    lacking = ProblemEvaluator(asked, {}).lacking()
    before = np.concatenate([told.objectives, told.margins], axis=-1)[rows]
    after = np.concatenate([full.objectives, full.margins], axis=-1)[rows]
    assert len(lacking) == before.shape[-1] and 0 < lacking.sum() < len(lacking)
    near(before[..., ~lacking], after[..., ~lacking], rel=1e-12)
    assert (before[..., lacking] != after[..., lacking]).any(axis=(0, 1)).all()
    assert lacking[: len(asked.search.objectives)].tolist() == [
        OBJECTIVES[name].metric in {"surface_rms_m", "first_mode_hz"} for name in asked.search.objectives
    ]
